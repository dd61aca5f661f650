"""The one error that a person's input can cause: what happened, what was expected, what to do next."""

from __future__ import annotations


class InputError(Exception):
    """Wrong input by a person; the command line prints it and exits with code 2.

    what:      what happened, with the offending value.
    expected:  what would have been accepted (range, unit, form).
    remedy:    what to do next.
    """

    def __init__(self, what: str, *, expected: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.expected = expected
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.what}\n  Expected: {self.expected}\n  Next:     {self.remedy}"
