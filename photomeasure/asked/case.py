"""Which rig it was, which case, who measured where: typed by a person, kept as it was typed, no part of any figure."""

from __future__ import annotations

from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import said

LONGEST = 200  # characters of one answer
LONGEST_NOTE = 2000
MOST_COLUMNS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """None: not said.

    rig: its name or registration; case: a number or name of the case; by: who measured; place: where; more: further
    columns of a list, name and text, carried through.
    """

    rig: str | None = None
    case: str | None = None
    by: str | None = None
    place: str | None = None
    note: str | None = None
    more: tuple[tuple[str, str], ...] = ()

    @property
    def said(self) -> bool:
        return self != Particulars()


def case_text(typed: str | None, name: str) -> str | None:
    """A text as it is kept: spaces at its ends off, None for nothing. name: of the field, as the person knows it.

    Raises InputError for one that is too long, or holds signs that nobody can see.
    """
    text = (typed or "").strip()
    if not text:
        return None
    longest = LONGEST_NOTE if name.lower().endswith("note") else LONGEST
    if len(text) > longest:
        raise InputError(
            said("{name} is {signs} characters long.", name=name, signs=len(text)),
            expected=said("at most {longest} characters", longest=longest),
            remedy=said("shorten it; a note may be longer than the other fields"),
        )
    if not all(sign.isprintable() for sign in text):
        raise InputError(
            said("{name} holds a line break, a tab or another sign that cannot be seen.", name=name),
            expected=said("one line of text"),
            remedy=said("take that sign out"),
        )
    return text
