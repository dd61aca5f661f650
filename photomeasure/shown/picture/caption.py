"""The strips above and below the photograph: the verdict at a glance, what to do, and that a tape decides.

They stand outside the photograph, so that nothing of it is hidden. A verdict is told by words and by the shape of its
symbol; colour only repeats it. Sizes are shares of the picture's width, as it is the width that a phone's screen fixes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calib.words.said import say
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import Headline, headline
from photomeasure.shown.look import BADGES, SIGNS, strokes
from photomeasure.shown.picture.ink import BAND, WHITE, Array, Colour, Ink, font, text_size, wrapped
from photomeasure.shown.rows import tape_figure

BACKGROUND = (15, 23, 31)
_QUIET: Colour = (176, 188, 198, 255)
_AMBER: Colour = (255, 205, 64, 255)

_HATCH = 0.42  # of the badge's colour in the background: letters stay easy to read over it


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
    said, lines = headline(record), []
    if said.look == "disagree":
        lines.append(Line(text=record.sentence, share=0.026))
        lines += [Line(text=line, share=0.026, bold=True) for line in record.advice[:1]]
    span = words.band(record.rule)
    if span is not None and record.rule is not None:
        lines.append(Line(text=_band(span, record), share=0.026, swatch=BAND))
        lines.append(Line(text=say("Rule: {rule}", rule=words.rule_line(record.rule)), share=0.02, colour=_QUIET))
    elif record.rule is not None and said.look != "disagree":
        lines.append(Line(text=record.sentence, share=0.024))
    if record.adjustment is not None and record.verdict != "within" and said.sure:
        lines.append(Line(text=record.adjustment.sentence, share=0.026, bold=True))
    if record.indicative and said.look != "disagree":
        why = record.indicative_why[:1]
        lines += [
            Line(text=say("Indicative only: {reason}", reason=reason), share=0.024, colour=_AMBER) for reason in why
        ]
        lines += [Line(text=line, share=0.026, bold=True) for line in record.advice[:1]]
    return lines


def _band(span: str, record: Record) -> str:
    """The band, the photograph's probability, and that a tape was read beside it."""
    if record.p_inside is None:
        return say("Band {span}", span=span)
    chance = words.percent(record.p_inside)
    if record.tape is None:
        return say("Band {span}; probability inside {chance}", span=span, chance=chance)
    return say("Band {span}; probability inside {chance} by the photograph alone", span=span, chance=chance)


def foot_lines(record: Record, file: str, number: int, count: int) -> list[Line]:
    """The prompt to confirm or the tape's figure, and small: which photograph, when taken and when computed."""
    which = (
        say("photograph {number} of {count}, one measurement from all", number=number, count=count) if count > 1 else ""
    )
    name = file.encode("latin-1", "replace").decode("latin-1")
    when = (
        say("photographed {when}", when=words.photographed(record))
        if record.photographed
        else say("when it was photographed is not in the file"),
        say("computed {when}", when=words.day(record.computed)),
    )
    small = " \N{MIDDLE DOT} ".join(part for part in (name, which, *when) if part)
    prompt = words.NOT_A_CERTIFICATE if record.refusal is None else words.NO_FIGURE
    if record.tape is not None and record.tape.agrees:
        prompt = say(
            "Tape: {figure}; it agrees. {who}",
            figure=tape_figure(record.tape),
            who=words.DECIDED_LOCALLY,
        )
    return [Line(text=prompt, share=0.027, bold=True), Line(text=small, share=0.018, colour=_QUIET)]


def head(record: Record, width: int) -> Ink:
    """The strip above the photograph."""
    em = width / 100
    tagged = headline(record)
    tag = not tagged.sure and tagged.look != "disagree"
    laid = _Strip(width, top=2.0 * em + 8.0 * em + 1.2 * em)
    for line in head_lines(record):
        laid.add(line)
    ink = Ink((width, laid.height))
    beside = say("indicative")
    room = 96.0 * em - (1.6 * em + _tag_width(beside, em) if tag else 0.0)
    end = _badge(ink, tagged, (2.0 * em, 2.0 * em), em, room)
    if tag:
        _tag(ink, beside, (end + 1.6 * em, 3.2 * em), em)
    laid.draw(ink)
    return ink


def foot(record: Record, file: str, number: int, count: int, width: int) -> Ink:
    """The strip below the photograph."""
    laid = _Strip(width, top=1.2 * width / 100)
    for line in foot_lines(record, file, number, count):
        laid.add(line)
    ink = Ink((width, laid.height))
    laid.draw(ink)
    return ink


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


def _badge(ink: Ink, said: Headline, at: tuple[float, float], em: float, room: float) -> float:
    """The headline's badge with its upper left corner at `at`, no wider than `room`; returns its right edge."""
    ground, colour = (_rgba(part) for part in BADGES[said.look])
    size = 4.8 * em
    while size > 2.4 * em and _badge_width(said, size, em) > room:
        size -= 0.2 * em
    left, top, high, symbol = at[0], at[1], 8.0 * em, 4.6 * em
    right = left + _badge_width(said, size, em)
    if said.sure:
        ink.plate((left, top, right, top + high), ground, radius=1.2 * em)
    else:
        colour = WHITE
        _hatched(ink, (left, top, right, top + high), ground, em)
    corner = np.array([left + 2.0 * em, top + (high - symbol) / 2])
    shapes = SIGNS[said.look]
    for shape in shapes:
        points = corner + symbol * np.array([(x, 1.0 - y) for x, y in shape])
        if said.sure:
            ink.shape(points, colour)
        else:
            ink.line(np.concatenate([points, points[:1]]), 0.35 * em, colour, halo=0.0)
    if not shapes:
        _question(ink, corner + symbol / 2, symbol, colour, ground if said.sure else (*BACKGROUND, 255))
    ink.text((left + 3.6 * em + symbol, top + high / 2), said.title, font(size, bold=True), colour)
    return right


def _badge_width(said: Headline, size: float, em: float) -> float:
    return 2.0 * em + 4.6 * em + 1.6 * em + text_size(said.title, font(size, bold=True))[0] + 2.2 * em


def _hatched(ink: Ink, box: tuple[float, float, float, float], ground: Colour, em: float) -> None:
    """A box of strokes with a dashed border, never filled."""
    left, top, right, bottom = box
    stroke = tuple(round(_HATCH * a + (1.0 - _HATCH) * b) for a, b in zip(ground[:3], BACKGROUND, strict=True))
    for start, stop in strokes(left, top, right - left, bottom - top, 1.7 * em):
        ink.line(np.array([start, stop]), 0.45 * em, (stroke[0], stroke[1], stroke[2], 255), halo=0.0)
    edge = np.array([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)])
    ink.dashes(edge, 0.35 * em, WHITE, 1.6 * em)


def _rgba(colour: tuple[float, float, float]) -> Colour:
    red, green, blue = (round(255 * part) for part in colour)
    return red, green, blue, 255


def _question(ink: Ink, middle: Array, size: float, colour: Colour, ground: Colour) -> None:
    """A question mark in a diamond."""
    diamond = np.array([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])
    ink.shape(middle + 0.62 * size * diamond, colour)
    ink.text((float(middle[0]), float(middle[1])), "?", font(0.8 * size, bold=True), ground, anchor="mm")


def _tag_width(text: str, em: float) -> float:
    return text_size(text, font(3.2 * em, bold=True))[0] + 2.4 * em


def _tag(ink: Ink, text: str, at: tuple[float, float], em: float) -> None:
    """An outlined word beside the badge."""
    face = font(3.2 * em, bold=True)
    right = at[0] + _tag_width(text, em)
    ink.plate((at[0], at[1], right, at[1] + 5.6 * em), (*BACKGROUND, 255), outline=_AMBER, radius=0.8 * em)
    ink.text((at[0] + 1.2 * em, at[1] + 2.8 * em), text, face, _AMBER)
