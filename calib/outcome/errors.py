"""The one error that a person's input can cause: what happened, what was expected, what to do next."""

from __future__ import annotations

from calib.outcome.plain_text import plain_sentence
from calib.words.said import say

MOST_SIGNS = 4000  # a list of rigs may be wrong in many places


class InputError(Exception):
    """Wrong input by a person; the command line prints it and exits with code 2.

    what:      what happened, with the offending value.
    expected:  what would have been accepted (range, unit, form).
    remedy:    what to do next.

    Each may be a sentence that can be told in another language (`told`); the exception's own text is English.
    Signs in them that would steer a terminal are written out, and what is very long is cut: names and values are others'.
    """

    def __init__(self, what: str, *, expected: str, remedy: str) -> None:
        self.what = plain_sentence(what, MOST_SIGNS)
        self.expected, self.remedy = plain_sentence(expected), plain_sentence(remedy)
        super().__init__(self.what)

    def told(self) -> str:
        """All three in the chosen language, a line each."""
        return say(
            "{what}\n  Expected: {expected}\n  Next:     {remedy}",
            what=self.what,
            expected=self.expected,
            remedy=self.remedy,
        )

    def __str__(self) -> str:
        return f"{self.what}\n  Expected: {self.expected}\n  Next:     {self.remedy}"


class NoRoomError(InputError):
    """The disk that is to be written to is full: what comes next would not fit either."""
