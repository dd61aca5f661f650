"""What each column of a list of rigs may hold: a rig's name, a photograph with its centre, and the questions of the table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.case import LONGEST, case_text
from photomeasure.asked.fields import CASE, open_at
from photomeasure.asked.question import Question
from photomeasure.batch.addresses import EXPECTED as ADDRESSES
from photomeasure.batch.addresses import address, is_address
from photomeasure.batch.names import EXPECTED, names_a_file


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """parse: the value, or ValueError; expected: in words."""

    parse: Callable[[str], Any]
    expected: str


def _pixels(text: str) -> float:
    value = float(text.replace(",", "."))
    if not -0.5 <= value <= 100_000.0:
        raise ValueError(text)
    return value


def _rig(text: str) -> str:
    if not names_a_file(text):
        raise ValueError(text)
    return text


def _photo(text: str) -> str:
    return address(text) if is_address(text) else text


def _asked(question: Question) -> Column:
    """A cell is read as the same answer is at every other door."""

    def parse(text: str) -> Any:
        try:
            return question.parse(text, question.name)
        except InputError as error:
            raise ValueError(text) from error

    return Column(parse=parse, expected=question.expected)


def _further(text: str) -> str | None:
    try:
        return case_text(text, said("further column"))
    except InputError as error:
        raise ValueError(text) from error


_PIXELS = Column(parse=_pixels, expected=said("a number from -0.5 to 100000 (pixels of the upright picture)"))
_ASKED = [question for question in open_at("list") if question.name != "rig"]
COLUMNS: Mapping[str, Column] = {
    "rig": Column(parse=_rig, expected=EXPECTED),  # a record is named after it
    "photo": Column(
        parse=_photo,
        expected=said("the path of a photograph, beside the list or absolute, or {addresses}", addresses=ADDRESSES),
    ),
    "centre_x": _PIXELS,
    "centre_y": _PIXELS,
    **{question.name: _asked(question) for question in _ASKED},
}
NEEDED = ("rig", "photo")
OF_THE_CASE = tuple(question.name for question in _ASKED if question.panel == CASE)
PATHS = tuple(question.name for question in _ASKED if question.kind == "file")  # of files that must be there
# of a list's own, carried through to record and table
FURTHER = Column(parse=_further, expected=said("one line of at most {longest} characters", longest=LONGEST))
OF_A_PHOTO = frozenset({"rig", "photo", "centre_x", "centre_y"})  # the others are of a rig
