"""What is printed around the pattern of a sheet: check bars, the line to cut along, and a few words.

Nothing is nearer than `PRINTER_MARGIN_MM` to the paper's edge, but the line to cut along, and nothing is
inside a quiet zone. Coordinates are page millimetres, x right, y up.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from calib.drawing.colours import INK, MID, WHITE, Point
from calib.drawing.pen import Pen, scissors
from calib.kit.kit import Code, Kit, Role, Sheet
from calib.kit.page_boxes import draw_boxes, draw_strip
from calib.kit.paper import PAPER_WORDS

PRINTER_MARGIN_MM = 5.0  # common practice, no source: office printers leave 3-5 mm blank
PAGES = 6
FINE_MM = 0.2
TICK_MM = 4.4
CUT_LINE_MM = 0.2
CUT_CLEARANCE_MM = 4.0  # from a tag's quiet zone to the line it is cut out along
CAP_HEIGHT = 0.72  # of the letter size, Helvetica

ROLE_WORDS: dict[Role, str] = {
    "upright": "upright sheet",
    "ground": "ground sheet",
    "centre-tag": "centre tags",
    "bar-tag": "bar tags",
}
# Large on the page and in the strip that is cut off, so that no two sheets are mixed up.
_NAMES: dict[Role, str] = {"upright": "UPRIGHT", "ground": "GROUND"}
_EDGE_WORDS: dict[Role, str] = {
    "upright": "the sheet ABOVE the line stands on the ground, on this edge",
    "ground": "the sheet ABOVE the line lies on the ground, this edge against the foot of the upright sheet",
}
_TOP_WORDS: dict[Role, str] = {
    "upright": "stands: this way up, facing the camera",
    "ground": "lies flat on the ground, never on the upright sheet's board; this edge towards the camera",
}
_TAG_TITLES: dict[Role, str] = {
    "centre-tag": "Centre tags: only where the coupling hides its ball, or for a pin coupling",
    "bar-tag": "Bar tags: for a photograph before and one after the trailer is connected",
}
_TAG_SENTENCES: dict[Role, tuple[str, ...]] = {
    "centre-tag": (
        "Cut out one tag and stick it flat on the coupling's side, its middle at the height of the ball's centre; for a pin",
        "coupling at the middle of the bush. The fine marks on its four sides point at its middle. Where that height is",
        "under a closed head: page 6, with a gauge that carries it over. Print at 100 %, as the other pages.",
    ),
    "bar-tag": (
        "Stick one flat on the side of the tow bar, near the bare ball, where no chain or cable will hang before it; a second one",
        "beside it watches the first. Photograph ball and tags. Leave them, connect the trailer, photograph again: where the tag",
        "went, the ball went. Place them before the trailer is near, engine off, brakes on; never reach between the two.",
    ),
}
_TAG_LETTERS: dict[Role, str] = {"centre-tag": "T", "bar-tag": "B"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBar:
    """A printed length for a rule: start_mm to stop_mm, between the middles of its two end ticks, page mm."""

    axis: Literal["x", "y"]
    start_mm: Point
    stop_mm: Point


def keep_clear_mm(sheet: Sheet) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of everything that the sheet is measured by, quiet zones included; page mm."""
    reach = [code.size_mm / 2 + code.quiet_mm for code in sheet.codes]
    lows = [np.subtract(code.centre_mm, half) for code, half in zip(sheet.codes, reach, strict=True)]
    highs = [np.add(code.centre_mm, half) for code, half in zip(sheet.codes, reach, strict=True)]
    left, bottom = np.min([*lows, *sheet.dark_mm[:, :2]], axis=0)
    right, top = np.max([*highs, *sheet.dark_mm[:, 2:]], axis=0)
    return float(left), float(bottom), float(right), float(top)


def cut_line_mm(sheet: Sheet) -> float | None:
    """Page height of the line to cut along: foot line, or the ground sheet's edge against it; tags: None."""
    return None if sheet.role in _TAG_TITLES else sheet.origin_mm[1]


def check_bars(sheet: Sheet) -> tuple[CheckBar, ...]:
    """The check bars of the upright sheet along x and y; none on other pages, so that nobody measures the wrong ones."""
    if sheet.role != "upright" or sheet.foot_line_mm is None or sheet.strip is None:
        return ()
    half, along, middle = sheet.bars_mm[0] / 2, sheet.bars_mm[1] / 2, sheet.width_mm / 2
    height = sheet.foot_line_mm + 1.1 * sheet.boxes[0].height_mm
    across = (PRINTER_MARGIN_MM + sheet.strip.left_mm) / 2
    centre = (sheet.foot_line_mm + 4.0 + sheet.height_mm - PRINTER_MARGIN_MM) / 2
    return (
        CheckBar(axis="x", start_mm=(middle - half, height), stop_mm=(middle + half, height)),
        CheckBar(axis="y", start_mm=(across, centre - along), stop_mm=(across, centre + along)),
    )


def _draw_check_bar(pen: Pen, bar: CheckBar) -> None:
    """A dimension line with fine end ticks, its words in a gap; filled shapes, so that no line is snapped."""
    length = math.dist(bar.start_mm, bar.stop_mm)
    named, told = pen.said("bar"), pen.said("measure me with a ruler")
    words, size = f"{named} {bar.axis.upper()}:  {length:.0f} mm \u2013 {told}", 7.5
    gap = pen.width_of(words, size=size) / 2 + 2.5
    half, fine, tick = length / 2, FINE_MM / 2, TICK_MM / 2
    boxes = [
        (-half - fine, -tick, -half + fine, tick),
        (half - fine, -tick, half + fine, tick),
        (-half + fine, -fine, -gap, fine),
        (gap, -fine, half - fine, fine),
    ]
    shapes = [[(a, c), (b, c), (b, d), (a, d)] for a, c, b, d in boxes]
    heads = [[(end * half, 0.0), (end * (half - 2.4), 0.75), (end * (half - 2.4), -0.75)] for end in (-1, 1)]
    middle = ((bar.start_mm[0] + bar.stop_mm[0]) / 2, (bar.start_mm[1] + bar.stop_mm[1]) / 2)

    def placed(point: Point) -> Point:
        along, across = point
        return (middle[0] + along, middle[1] + across) if bar.axis == "x" else (middle[0] - across, middle[1] + along)

    for polygons in (shapes, heads):  # two paths: shapes that overlap in one would leave holes
        pen.polygons([[placed(point) for point in shape] for shape in polygons], fill=(0.0, 0.0, 0.0))
    drop = CAP_HEIGHT * size * 25.4 / 72 / 2
    pen.text(placed((0.0, -drop)), words, size=size, anchor="middle", turned=bar.axis == "y")


def _draw_cut_line(pen: Pen, sheet: Sheet, cut_mm: float) -> None:
    """The fine line to cut along, from edge to edge; what lies below it named as waste and hatched, arrows from above."""
    width, name = sheet.width_mm, _NAMES[sheet.role]
    low, left, right = PRINTER_MARGIN_MM + 0.3, PRINTER_MARGIN_MM + 1.0, width - PRINTER_MARGIN_MM - 1.0
    with pen.inside(left, low, right - left, cut_mm - low - 0.6):
        for x in np.arange(left - 20, right, 2.2):
            pen.line((x, low - 1), (x + 20, low + 19), weight=0.18, colour=MID)
    words, size = "waste: cut off along the line", 9.0
    wide = pen.width_of(name, size=17.0, bold=True) + 4.0 + pen.width_of(words, size=size, bold=True)
    start, base = (width - wide) / 2, (low + cut_mm) / 2 - 0.3
    pen.box(start - 3.0, low - 0.1, wide + 6.0, cut_mm - low - 0.4, colour=None, fill=WHITE)
    pen.text((start, base - 2.1), name, size=17.0, bold=True)
    pen.text((start + wide, base - 1.1), words, size=size, bold=True, anchor="right")
    pen.canvas.setLineCap(0)
    pen.line((0.0, cut_mm), (width, cut_mm), weight=CUT_LINE_MM, colour=(0.0, 0.0, 0.0))
    scissors(pen, (left + 12.0, cut_mm), 10.0)
    edge = _EDGE_WORDS[sheet.role]
    size = pen.fitting(edge, width - 2 * left - 8.0, size=9.0, bold=True)
    half = pen.width_of(edge, size=size, bold=True) / 2 + 2.0
    for x in (width / 2 - half, width / 2 + half):
        pen.arrow((x, cut_mm + 4.4), (x, cut_mm + 0.4), weight=0.5)
    pen.text((width / 2, cut_mm + 1.5), edge, size=size, bold=True, anchor="middle")


def _draw_label(
    pen: Pen, the_kit: Kit, sheet: Sheet, baseline_mm: float, left_mm: float, right_mm: float, number: int | None
) -> None:
    words = (
        *(() if number is None else (f"{pen.said('number')} {number:06d}",)),
        the_kit.name,
        pen.said(PAPER_WORDS[the_kit.paper]),
        *(() if sheet.role in _NAMES else (pen.said(ROLE_WORDS[sheet.role]),)),
        page_words(pen, sheet.page),
    )
    label = "   ".join(words)
    pen.text((right_mm, baseline_mm), label, size=6.5, anchor="right")
    room_mm = right_mm - left_mm - pen.width_of(label, size=6.5) - 4.0
    if sheet.role in _TOP_WORDS:
        name, size = _NAMES[sheet.role], 15.0
        pen.text((left_mm, baseline_mm - 0.5), name, size=size, bold=True)
        x = left_mm + pen.width_of(name, size=size, bold=True) + 3.0
        pen.arrow((x, baseline_mm - 0.3), (x, baseline_mm + 2.9), weight=0.5)
        told = _TOP_WORDS[sheet.role]
        fits = pen.fitting(told, left_mm + room_mm - x - 2.0, size=9.0, bold=True)
        pen.text((x + 2.0, baseline_mm), told, size=fits, bold=True)


def page_words(pen: Pen, page: int) -> str:
    """Which page of how many, in the pen's language."""
    return f"{pen.said('page')} {page} {pen.said('of')} {PAGES}"


def _draw_tag_outline(pen: Pen, code: Code, name: str) -> None:
    """The dashed line that a tag is cut out along, fine marks pointing at its middle, its name."""
    x, y = code.centre_mm
    quiet = code.size_mm / 2 + code.quiet_mm
    cut = quiet + CUT_CLEARANCE_MM
    pen.box(x - cut, y - cut, 2 * cut, 2 * cut, weight=0.25, colour=MID, dash=(2.0, 1.4))
    pen.canvas.setLineCap(0)
    for along_x, along_y in ((1, 0), (0, 1), (-1, 0), (0, -1)):
        inner, outer = quiet + 0.4, cut
        pen.line((x + along_x * inner, y + along_y * inner), (x + along_x * outer, y + along_y * outer), weight=0.2)
    words = f"{name}   {code.size_mm:.0f} mm"
    pen.text((x - cut + 1.8, y - cut + 1.2), words, size=6.5, bold=True)


def draw_sheet_furniture(
    canvas: Canvas, the_kit: Kit, sheet: Sheet, number: int | None, said: Callable[[str], str] = str
) -> None:
    """Check bars on both axes, the line to cut along and a few words, clear of the pattern's quiet zones."""
    pen = Pen(canvas=canvas, said=said)
    for bar in check_bars(sheet):
        _draw_check_bar(pen, bar)
    draw_boxes(pen, sheet)
    draw_strip(pen, sheet, number)
    cut, edge = cut_line_mm(sheet), PRINTER_MARGIN_MM + 4.0
    if cut is not None:
        _draw_cut_line(pen, sheet, cut)
        _draw_label(pen, the_kit, sheet, sheet.height_mm - PRINTER_MARGIN_MM - 3.4, edge, sheet.width_mm - edge, number)
        return
    left, _, right, _ = keep_clear_mm(sheet)
    high = sheet.height_mm - PRINTER_MARGIN_MM - 7.0
    title = _TAG_TITLES[sheet.role]
    pen.text((left, high), title, size=pen.fitting(title, right - left, size=11.0, bold=True), bold=True)
    size = min(pen.fitting(words, right - left, size=8.5) for words in _TAG_SENTENCES[sheet.role])
    for row, words in enumerate(_TAG_SENTENCES[sheet.role]):
        pen.text((left, high - 7.0 - 4.6 * row), words, size=size, colour=INK)
    _draw_label(pen, the_kit, sheet, PRINTER_MARGIN_MM + 2.5, left, right, number)
    for place, code in enumerate(sheet.codes, start=1):
        _draw_tag_outline(pen, code, f"{_TAG_LETTERS[sheet.role]}{place}")
