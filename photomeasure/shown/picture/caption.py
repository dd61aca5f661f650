"""The strips above and below the photograph: the verdict at a glance, what to do, and that a tape decides.

They stand outside the photograph, so that nothing of it is hidden. A verdict is told by words and by the shape of its
symbol; colour only repeats it. Sizes are shares of the picture's width, as it is the width that a phone's screen fixes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image

from photomeasure.record.schema import Record, RulePart, VerdictWord
from photomeasure.shown import words
from photomeasure.shown.picture.ink import BAND, WHITE, Array, Colour, Ink, font, text_size, wrapped

BACKGROUND = (15, 23, 31)
_DARK: Colour = (20, 20, 20, 255)
_QUIET: Colour = (176, 188, 198, 255)
_AMBER: Colour = (255, 205, 64, 255)

# badge: its colour, its text's colour
_BADGES: dict[VerdictWord, tuple[Colour, Colour]] = {
    "within": ((24, 128, 74, 255), WHITE),
    "above": ((200, 62, 18, 255), WHITE),
    "below": ((200, 62, 18, 255), WHITE),
    "undecided": ((255, 196, 0, 255), _DARK),
    "no-band": ((96, 110, 122, 255), WHITE),
    "refused": ((233, 236, 239, 255), _DARK),
}
# symbols in a unit square, y down
_CROSS = [(0.08, 0.24), (0.24, 0.08), (0.5, 0.34), (0.76, 0.08), (0.92, 0.24), (0.66, 0.5), (0.92, 0.76), (0.76, 0.92),
          (0.5, 0.66), (0.24, 0.92), (0.08, 0.76), (0.34, 0.5)]  # fmt: skip
_UP = [(0.5, 0.0), (0.98, 0.56), (0.66, 0.56), (0.66, 1.0), (0.34, 1.0), (0.34, 0.56), (0.02, 0.56)]
_SYMBOLS: dict[VerdictWord, list[tuple[float, float]]] = {
    "within": [(0.0, 0.56), (0.14, 0.42), (0.37, 0.65), (0.86, 0.1), (1.0, 0.24), (0.37, 0.94)],
    "above": _UP,
    "below": [(x, 1.0 - y) for x, y in _UP],
    "undecided": [],  # a question mark
    "no-band": [(0.02, 0.4), (0.98, 0.4), (0.98, 0.6), (0.02, 0.6)],
    "refused": _CROSS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of text: size as a share of the width."""

    text: str
    share: float
    bold: bool = False
    colour: Colour = WHITE
    swatch: Colour | None = None


def head_lines(record: Record) -> list[Line]:
    """What stands under the badge."""
    if record.refusal is not None:
        return [Line(text=record.refusal.reason, share=0.027), Line(text=record.refusal.remedy, share=0.027, bold=True)]
    lines = []
    span = words.band(record.rule)
    if span is not None and record.rule is not None:
        chance = "" if record.p_inside is None else f"; probability inside {words.percent(record.p_inside)}"
        lines.append(Line(text=f"Band {span}{chance}", share=0.026, swatch=BAND))
        lines.append(Line(text=_rule(record.rule), share=0.02, colour=_QUIET))
    elif record.rule is not None:
        lines.append(Line(text=record.sentence, share=0.024))
    if record.adjustment is not None and record.verdict != "within":
        lines.append(Line(text=record.adjustment.sentence, share=0.026, bold=True))
    if record.indicative:
        lines += [Line(text=f"Indicative only: {why}", share=0.024, colour=_AMBER) for why in record.indicative_why[:1]]
    return lines


def _rule(rule: RulePart) -> str:
    return f"Rule: {rule.title}, edition {rule.edition} (confidence: {rule.confidence})"


def foot_lines(record: Record, file: str, number: int, count: int) -> list[Line]:
    """The prompt to confirm, and small: which photograph, which day."""
    which = f"photograph {number} of {count}, one measurement from all" if count > 1 else ""
    name = file.encode("latin-1", "replace").decode("latin-1")
    small = " \N{MIDDLE DOT} ".join(part for part in (name, which, record.computed[:10]) if part)
    prompt = words.NOT_A_CERTIFICATE if record.refusal is None else words.NO_FIGURE
    return [Line(text=prompt, share=0.027, bold=True), Line(text=small, share=0.018, colour=_QUIET)]


def head(record: Record, width: int) -> Image.Image:
    """The strip above the photograph."""
    em = width / 100
    laid = _Strip(width, top=2.0 * em + 8.0 * em + 1.2 * em)
    for line in head_lines(record):
        laid.add(line)
    strip = Image.new("RGB", (width, laid.height), BACKGROUND)
    ink = Ink((width, laid.height))
    end = _badge(ink, record, (2.0 * em, 2.0 * em), em)
    if record.indicative:
        _tag(ink, "indicative", (end + 1.6 * em, 3.2 * em), em)
    laid.draw(ink)
    return ink.onto(strip)


def foot(record: Record, file: str, number: int, count: int, width: int) -> Image.Image:
    """The strip below the photograph."""
    laid = _Strip(width, top=1.2 * width / 100)
    for line in foot_lines(record, file, number, count):
        laid.add(line)
    ink = Ink((width, laid.height))
    laid.draw(ink)
    return ink.onto(Image.new("RGB", (width, laid.height), BACKGROUND))


class _Strip:
    """Lines under one another, wrapped to the width."""

    def __init__(self, width: int, *, top: float) -> None:
        self._width, self._y = width, top
        self._rows: list[tuple[float, str, Line, bool]] = []

    def add(self, line: Line) -> None:
        em = self._width / 100
        indent = 2.0 * em + (2.8 * em if line.swatch else 0.0)
        face = font(line.share * self._width, bold=line.bold)
        step = 1.32 * line.share * self._width
        for i, text in enumerate(wrapped(line.text, face, self._width - indent - 2.0 * em)):
            self._rows.append((self._y + step / 2, text, line, i == 0))
            self._y += step
        self._y += 0.5 * em

    @property
    def height(self) -> int:
        return int(np.ceil(self._y + 1.0 * self._width / 100))

    def draw(self, ink: Ink) -> None:
        em = self._width / 100
        for y, text, line, first in self._rows:
            x = 2.0 * em
            if line.swatch is not None:
                if first:
                    ink.plate((x, y - 0.9 * em, x + 1.8 * em, y + 0.9 * em), line.swatch, radius=0.2 * em)
                x += 2.8 * em
            ink.text((x, y), text, font(line.share * self._width, bold=line.bold), line.colour)


def _badge(ink: Ink, record: Record, at: tuple[float, float], em: float) -> float:
    """The verdict's badge with its upper left corner at `at`; returns its right edge."""
    ground, colour = _BADGES[record.verdict]
    title, face = words.TITLES[record.verdict], font(4.8 * em, bold=True)
    wide, _ = text_size(title, face)
    left, top, high, symbol = at[0], at[1], 8.0 * em, 4.6 * em
    right = left + 2.0 * em + symbol + 1.6 * em + wide + 2.2 * em
    ink.plate((left, top, right, top + high), ground, radius=1.2 * em)
    corner = np.array([left + 2.0 * em, top + (high - symbol) / 2])
    shape = _SYMBOLS[record.verdict]
    if shape:
        ink.shape(corner + symbol * np.array(shape), colour)
    else:
        _question(ink, corner + symbol / 2, symbol, colour, ground)
    ink.text((left + 3.6 * em + symbol, top + high / 2), title, face, colour)
    return right


def _question(ink: Ink, middle: Array, size: float, colour: Colour, ground: Colour) -> None:
    """A question mark in a diamond."""
    diamond = np.array([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])
    ink.shape(middle + 0.62 * size * diamond, colour)
    ink.text((float(middle[0]), float(middle[1])), "?", font(0.8 * size, bold=True), ground, anchor="mm")


def _tag(ink: Ink, text: str, at: tuple[float, float], em: float) -> None:
    """An outlined word beside the badge."""
    face = font(3.2 * em, bold=True)
    wide, _ = text_size(text, face)
    ink.plate(
        (at[0], at[1], at[0] + wide + 2.4 * em, at[1] + 5.6 * em), (*BACKGROUND, 255), outline=_AMBER, radius=0.8 * em
    )
    ink.text((at[0] + 1.2 * em, at[1] + 2.8 * em), text, face, _AMBER)
