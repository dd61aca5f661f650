"""The verdict's badge: a sign, words and a colour that only repeats them."""

from __future__ import annotations

from calib.drawing.pen import Pen, Point
from photomeasure.record.schema import Record, VerdictWord
from photomeasure.shown import words
from photomeasure.shown.report.style import AMBER, BADGES

HEIGHT_MM = 13.0
_SIZE_PT, _SIGN_MM = 16.0, 6.4
# signs in a unit square, y up
_UP = ((0.5, 1.0), (0.98, 0.44), (0.66, 0.44), (0.66, 0.0), (0.34, 0.0), (0.34, 0.44), (0.02, 0.44))
SIGNS: dict[VerdictWord, tuple[Point, ...]] = {
    "within": ((0.0, 0.44), (0.14, 0.58), (0.37, 0.35), (0.86, 0.9), (1.0, 0.76), (0.37, 0.06)),
    "above": _UP,
    "below": tuple((x, 1.0 - y) for x, y in _UP),
    "no-band": ((0.02, 0.4), (0.98, 0.4), (0.98, 0.6), (0.02, 0.6)),
    "refused": (
        (0.08, 0.76), (0.24, 0.92), (0.5, 0.66), (0.76, 0.92), (0.92, 0.76), (0.66, 0.5),
        (0.92, 0.24), (0.76, 0.08), (0.5, 0.34), (0.24, 0.08), (0.08, 0.24), (0.34, 0.5),
    ),
}  # fmt: skip


def draw_badge(pen: Pen, record: Record, at: Point) -> float:
    """Draw the badge with its lower left corner at `at`, mm; return its right edge, the tag counted in."""
    ground, letters = BADGES[record.verdict]
    title = words.TITLES[record.verdict]
    left, bottom = at
    wide = 4.0 + _SIGN_MM + 3.0 + pen.width_of(title, size=_SIZE_PT, bold=True) + 4.5
    pen.box(left, bottom, wide, HEIGHT_MM, radius=2.0, colour=None, fill=ground)
    corner = (left + 4.0, bottom + (HEIGHT_MM - _SIGN_MM) / 2)
    sign = SIGNS.get(record.verdict)
    if sign is None:
        middle = (corner[0] + _SIGN_MM / 2, corner[1] + _SIGN_MM / 2 - 2.0)
        pen.text(middle, "?", size=_SIZE_PT, bold=True, anchor="middle", colour=letters)
    else:
        pen.area(*((corner[0] + _SIGN_MM * x, corner[1] + _SIGN_MM * y) for x, y in sign), fill=letters)
    base = bottom + HEIGHT_MM / 2 - 2.0
    pen.text((corner[0] + _SIGN_MM + 3.0, base), title, size=_SIZE_PT, bold=True, colour=letters)
    return _tag(pen, (left + wide + 2.5, bottom)) if record.indicative else left + wide


def _tag(pen: Pen, at: Point) -> float:
    """The outlined word beside the badge."""
    wide = pen.width_of("indicative", size=10, bold=True) + 5.0
    pen.box(at[0], at[1] + 2.5, wide, HEIGHT_MM - 5.0, radius=1.5, weight=0.5, colour=AMBER)
    pen.text((at[0] + 2.5, at[1] + HEIGHT_MM / 2 - 1.3), "indicative", size=10, bold=True, colour=AMBER)
    return at[0] + wide
