"""A tape's reading as a person states it: millimetres, up to what it was taken, and by which tape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from calib.outcome.errors import InputError
from calib.words.said import said

TapeClass = Literal["I", "II", "III"]
TapeTo = Literal["middle", "top", "tag"]
USUAL_CLASS: TapeClass = "II"  # of a pocket tape, where nobody has read what stands on it (common practice, no source)
TO_WORDS: Mapping[TapeTo, str] = {
    "middle": said("the coupling's middle"),
    "top": said("the top of the ball"),
    "tag": said("the middle of the centre tag"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeSaid:
    """reading_mm: as it was read, from the ground up to `to`; flat_mm: width of the flat on the ball's top, None: not said."""

    reading_mm: float
    tape_class: TapeClass = USUAL_CLASS
    to: TapeTo = "middle"
    flat_mm: float | None = None


def tape_class_from(text: str | None, name: str) -> TapeClass:
    """A class as people type it, the usual one for None or nothing. name: of the option or field, for the InputError."""
    typed = (text or "").strip().upper().removeprefix("CLASS").strip()
    if not typed:
        return USUAL_CLASS
    for known in get_args(TapeClass):
        if typed in (known, str(len(known))):
            found: TapeClass = known
            return found
    raise InputError(
        said("{name} {text} is no class of a tape.", name=name, text=repr(text)),
        expected=said("I, II or III, as printed on the tape (directive 2014/32/EU, MI-008)"),
        remedy=said("read it off the tape, or leave it out: class {usual} is then taken", usual=USUAL_CLASS),
    )


def tape_to_from(text: str | None, name: str) -> TapeTo:
    """What a tape was taken up to, the middle for None or nothing. name: of the option or field, for the InputError."""
    typed = (text or "").strip().lower()
    if not typed:
        return "middle"
    for known in get_args(TapeTo):
        if typed == known:
            found: TapeTo = known
            return found
    raise InputError(
        said("{name} {text} is not known.", name=name, text=repr(text)),
        expected=said("middle (of the ball or of the pin's bush), top (of the ball) or tag (the centre tag's middle)"),
        remedy=said("say up to what the tape was read; the program does the subtraction"),
    )
