"""One thing that a person can say of a rig: how it is called, typed, limited and shown at every door."""

from __future__ import annotations

import keyword
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.case import LONGEST, case_text
from photomeasure.asked.limits import Limit
from photomeasure.asked.typed import number_typed

# where it can be said: options of `measure`, options of `batch` for all its rigs, a list's column, the page; and the record
Door = Literal["measure", "batch", "list", "page", "record"]
Kind = Literal["number", "yes-no", "choice", "text", "file"]
Parse = Callable[[str, str], Any]

_YES, _NO = frozenset({"yes", "y", "true", "1"}), frozenset({"no", "n", "false", "0"})
_METAVARS = {"mm": "MM", "kg": "KG", "pixels": "PX", "mm per metre": "MM_PER_M"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One row of the table.

    name: with its unit, as in `Stated` and in a list's column. kept: the field of what a record keeps, where that has another name.
    at: where it stands in a `Request`, such as state.coupled; "" where it is no part of one.
    option: as typed; opposite: for no. panel: the heading under which it stands. asks: the option's help.
    parse: from (text, name for errors) to the value, raising InputError; None where the parser of options does it.
    expected: of a list's cell, in words. page: the page's field, label: how errors name it there.
    of_one_rig: whether an answer must never become the answer to the next rig by itself.
    next_rig: whether the page fills it in for the next rig at the same place, until it is emptied.
    closed: doors at which it cannot be said, each with the reason.
    """

    name: str
    kind: Kind
    at: str
    option: str
    opposite: str = ""
    panel: str
    asks: str
    metavar: str | None = None
    limit: Limit | None = None
    choices: tuple[str, ...] = ()
    parse: Parse
    expected: str
    page: str = ""
    label: str = ""
    of_one_rig: bool = False
    next_rig: bool = False
    kept: str = ""
    closed: Mapping[Door, str] = field(default_factory=dict)

    @property
    def parameter(self) -> str:
        """The option's name in a function's signature and in a file of defaults."""
        name = self.option.removeprefix("--").replace("-", "_")
        return self.name if keyword.iskeyword(name) else name

    def open_at(self, door: Door) -> bool:
        """Whether it can be said there."""
        return door not in self.closed

    def called(self, door: Door) -> str:
        """How the person at that door knows it, for errors."""
        return {"page": self.label, "list": self.name, "record": self.name}.get(door, self.option)

    def typed(self, text: str, door: Door) -> Any:
        """The value of what was typed at a door; None for nothing. Raises InputError."""
        return self.parse(text, self.called(door)) if text.strip() else None


def number(name: str, limit: Limit, *, cell: str, **more: Any) -> Question:
    """A number within a limit; cell: what a list's column holds, in words."""

    def parse(text: str, called: str) -> float:
        return number_typed(text, called, limit)

    return Question(
        name=name,
        kind="number",
        limit=limit,
        metavar=_METAVARS[limit.unit],
        parse=parse,
        expected=said("a number from {low:g} to {high:g} ({cell})", low=limit.low, high=limit.high, cell=cell),
        **more,
    )


def yes_no(name: str, **more: Any) -> Question:
    """Yes, no, or nothing where it is not known; at the command line a pair of switches. Its `parse` raises InputError."""

    def parse(text: str, called: str) -> bool:
        word = text.strip().lower()
        if word not in _YES | _NO:
            raise InputError(
                said("{called} {text} is neither yes nor no.", called=called, text=repr(text)),
                expected=said("yes or no"),
                remedy=said("say one of them"),
            )
        return word in _YES

    return Question(
        name=name, kind="yes-no", parse=parse, expected=said("yes or no, or nothing where it is not known"), **more
    )


def choice(
    name: str, choices: tuple[str, ...], *, expected: str = "", parse: Parse | None = None, **more: Any
) -> Question:
    """One of some words; parse: where they may be written in several ways. Raises InputError for any other word."""

    def one_of(text: str, called: str) -> str:
        if text not in choices:
            raise InputError(
                said("{called} {text} is not known.", called=called, text=repr(text)),
                expected=" or ".join(choices),
                remedy=said("choose one of them"),
            )
        return text

    return Question(
        name=name,
        kind="choice",
        choices=choices,
        parse=parse or one_of,
        expected=expected or " or ".join(choices),
        **more,
    )


def text(name: str, *, longest: int = LONGEST, **more: Any) -> Question:
    """A line of text, kept as it was typed."""
    return Question(
        name=name,
        kind="text",
        parse=case_text,
        expected=said("one line of at most {longest} characters", longest=longest),
        **more,
    )


def named(name: str, *, expected: str, parse: Parse | None = None, **more: Any) -> Question:
    """A name or a text in a form of its own, kept as it was typed once it is seen to be one."""

    def as_it_stands(text: str, called: str) -> str:
        return text

    return Question(name=name, kind="text", parse=parse or as_it_stands, expected=expected, **more)


def file(name: str, *, expected: str, **more: Any) -> Question:
    """A file's path; a list names it from its own folder."""

    def as_it_stands(text: str, called: str) -> str:
        return text

    return Question(name=name, kind="file", parse=as_it_stands, expected=expected, **more)
