"""The headline's badge: a sign, words and a colour that only repeats them; hatched where it does not hold as it is."""

from __future__ import annotations

from calib.drawing.colours import INK, WHITE, Colour, Point
from calib.drawing.pen import Pen
from calib.words.said import say
from photomeasure.record.schema import Record
from photomeasure.shown.headline import Headline, headline
from photomeasure.shown.look import AMBER, BADGES, SIGNS, mixed, strokes

HEIGHT_MM = 13.0
_SIGN_MM = 6.4
_HATCH = 0.3  # of the verdict's colour in white: letters stay easy to read over it


def draw_badge(pen: Pen, record: Record, at: Point, room_mm: float) -> float:
    """Draw the badge with its lower left corner at `at`, mm, in letters that fit `room_mm`; return its right edge."""
    said = headline(record)
    size = 16.0
    while size > 9.0 and _wide(pen, said, size) > room_mm:
        size -= 0.5
    left, bottom = at
    wide = _wide(pen, said, size)
    letters = _ground(pen, said, left, bottom, wide)
    corner = (left + 4.0, bottom + (HEIGHT_MM - _SIGN_MM) / 2)
    _sign(pen, said, corner, letters)
    base = bottom + HEIGHT_MM / 2 - size / 8.0
    pen.text((corner[0] + _SIGN_MM + 3.0, base), said.title, size=size, bold=True, colour=letters)
    if not said.sure and said.look != "disagree":
        pen.text((left, bottom - 3.6), say("indicative only"), size=8.5, bold=True, colour=AMBER)
    return left + wide


def _wide(pen: Pen, said: Headline, size: float) -> float:
    return 4.0 + _SIGN_MM + 3.0 + pen.width_of(said.title, size=size, bold=True) + 4.5


def _ground(pen: Pen, said: Headline, left: float, bottom: float, wide: float) -> Colour:
    """The badge's box; returns the colour of what stands on it."""
    ground, letters = BADGES[said.look]
    if said.sure:
        pen.box(left, bottom, wide, HEIGHT_MM, radius=2.0, colour=None, fill=ground)
        return letters
    for start, stop in strokes(left, bottom, wide, HEIGHT_MM, 2.2):
        pen.line(start, stop, weight=0.5, colour=mixed(ground, WHITE, _HATCH))
    pen.box(left, bottom, wide, HEIGHT_MM, weight=0.6, colour=INK, dash=(2.2, 1.4))
    return INK


def _sign(pen: Pen, said: Headline, corner: Point, letters: Colour) -> None:
    shapes = SIGNS[said.look]
    if not shapes:
        middle = (corner[0] + _SIGN_MM / 2, corner[1] + _SIGN_MM / 2 - 2.0)
        pen.text(middle, "?", size=16.0, bold=True, anchor="middle", colour=letters)
    for shape in shapes:
        points = [(corner[0] + _SIGN_MM * x, corner[1] + _SIGN_MM * y) for x, y in shape]
        if said.sure:
            pen.area(*points, fill=letters)
        else:
            pen.line(*points, closed=True, weight=0.5, colour=letters, fill=WHITE)
