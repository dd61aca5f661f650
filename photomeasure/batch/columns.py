"""What each column of a list of rigs may hold, and what a common option may be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from calib.outcome.errors import InputError
from photomeasure.asked.case import LONGEST, LONGEST_NOTE, case_text
from photomeasure.asked.limits import (
    BALL_DIAMETER_MM,
    BALL_LOAD_KG,
    BAR_MM,
    FLAT_MM,
    LOAD_DROP_MM,
    PICK_U_PX,
    SLOPE_MM_PER_M,
    STAND_DROP_MM,
    STAND_MASS_KG,
    TAPE_MM,
    Limit,
)
from photomeasure.asked.state import COUPLINGS
from photomeasure.asked.tape_said import TapeClass, TapeTo, tape_class_from, tape_to_from
from photomeasure.asked.typed import number_typed
from photomeasure.batch.names import EXPECTED, names_a_file
from photomeasure.rules.decision import DECISION_FORMS, parse_decision

_YES, _NO = frozenset({"yes", "y", "true", "1"}), frozenset({"no", "n", "false", "0"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """parse: the value, or ValueError; expected: in words."""

    parse: Callable[[str], Any]
    expected: str


def _number(low: float, high: float, unit: str) -> Column:
    def parse(text: str) -> float:
        value = float(text.replace(",", "."))
        if not low <= value <= high:
            raise ValueError(text)
        return value

    return Column(parse=parse, expected=f"a number from {low:g} to {high:g} ({unit})")


def _within(limit: Limit, unit: str) -> Column:
    """A number as it may be typed at every other door too: decimal comma, unit, inches of a length."""

    def parse(text: str) -> float:
        try:
            return number_typed(text, "column", limit)
        except InputError as error:
            raise ValueError(text) from error

    return Column(parse=parse, expected=f"a number from {limit.low:g} to {limit.high:g} ({unit})")


def _yes_no(text: str) -> bool:
    word = text.lower()
    if word not in _YES | _NO:
        raise ValueError(text)
    return word in _YES


def _rig(text: str) -> str:
    if not names_a_file(text):
        raise ValueError(text)
    return text


def _coupling(text: str) -> str:
    if text not in COUPLINGS:
        raise ValueError(text)
    return text


def _tape_class(text: str) -> TapeClass:
    try:
        return tape_class_from(text, "column")
    except InputError as error:
        raise ValueError(text) from error


def _tape_to(text: str) -> TapeTo:
    try:
        return tape_to_from(text, "column")
    except InputError as error:
        raise ValueError(text) from error


def _decision(text: str) -> str:
    """The text as it stands, once it is seen to be a decision rule."""
    try:
        parse_decision(text)
    except InputError as error:
        raise ValueError(text) from error
    return text


def _text(name: str) -> Column:
    def parse(text: str) -> str | None:
        try:
            return case_text(text, name)
        except InputError as error:
            raise ValueError(text) from error

    longest = LONGEST_NOTE if name == "note" else LONGEST
    return Column(parse=parse, expected=f"one line of at most {longest} characters")


_TRUTH = Column(parse=_yes_no, expected="yes or no, or nothing where it is not known")
COLUMNS: Mapping[str, Column] = {
    "rig": Column(parse=_rig, expected=EXPECTED),
    "photo": Column(parse=str, expected="the path of a photograph, beside the list or absolute"),
    "bar_x_mm": _within(BAR_MM, "mm read on the check bar"),
    "bar_y_mm": _within(BAR_MM, "mm read on the check bar"),
    "centre_x": _number(-0.5, 100_000.0, "pixels of the upright picture"),
    "centre_y": _number(-0.5, 100_000.0, "pixels of the upright picture"),
    "pick_u_px": _within(PICK_U_PX, "pixels, standard uncertainty of the centre picked in this rig's photographs"),
    "ball_diameter_mm": _within(BALL_DIAMETER_MM, "mm"),
    "coupled": _TRUTH,
    "laden": _TRUTH,
    "level_ground": _TRUTH,
    "level_control": _TRUTH,
    "ball_load_kg": _within(BALL_LOAD_KG, "kg on the ball with the trailer level"),
    "stand_mass_kg": _within(STAND_MASS_KG, "kg that stood on the bar"),
    "stand_drop_mm": _within(STAND_DROP_MM, "mm by which the ball went down under it"),
    "load_drop_mm": _within(LOAD_DROP_MM, "mm by which the vehicle's own load lowers the ball"),
    "level_within_mm_per_m": _within(
        SLOPE_MM_PER_M, "mm per metre that a level showed at most, laid at every place from sheet to coupling"
    ),
    "coupling": Column(parse=_coupling, expected=" or ".join(COUPLINGS)),
    "rule": Column(parse=str, expected="a rule's name, or the path of a rule file, beside the list or absolute"),
    "decision": Column(parse=_decision, expected=", ".join(DECISION_FORMS)),
    "tape_mm": _within(TAPE_MM, "mm from the ground up to what tape_to says"),
    "tape_class": Column(parse=_tape_class, expected="I, II or III, or nothing for class II"),
    "tape_to": Column(parse=_tape_to, expected="middle, top or tag, or nothing for the coupling's middle"),
    "tape_flat_mm": _within(FLAT_MM, "mm, width of the flat on the ball's top"),
    "camera": Column(parse=str, expected="the path of a camera profile, beside the list or absolute"),
    "bay": Column(parse=str, expected="the path of a bay file, beside the list or absolute"),
    "case": _text("case"),
    "by": _text("by"),
    "place": _text("place"),
    "note": _text("note"),
}
NEEDED = ("rig", "photo")
OF_THE_CASE = ("case", "by", "place", "note")
PATHS = ("camera", "bay")  # of files that must be there
FURTHER = _text("further column")  # of a list's own, carried through to record and table
OF_A_PHOTO = frozenset({"rig", "photo", "centre_x", "centre_y"})  # the others are of a rig
