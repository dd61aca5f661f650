"""The drawings of the instruction page that show paper: printing, measuring, cutting, fixing, sending.

The kit is drawn in small with its codes left blank, so that a photograph of the instructions is never taken
for a sheet.
"""

from __future__ import annotations

from calib.drawing.colours import ACCENT, ACCENT_PALE, INK, MID, PALE, SOFT, WHITE, Point
from calib.drawing.pen import Pen, scissors
from calib.kit.kit import Sheet
from calib.kit.page_furniture import check_bars

RULE_MM = 22.0  # how broad a drawn ruler is, of the sheet


def sheet_shapes_mm(sheet: Sheet) -> tuple[list[list[Point]], list[list[Point]]]:
    """Dark cells, and codes as plain squares, as polygons in the sheet's own frame (foot line y = 0)."""
    x0, y0 = sheet.origin_mm
    cells = [
        [(left - x0, low - y0), (right - x0, low - y0), (right - x0, top - y0), (left - x0, top - y0)]
        for left, low, right, top in sheet.dark_mm.tolist()
    ]
    codes = [[(x - x0, y - y0) for x, y in code.corners_mm().tolist()] for code in sheet.codes]
    return cells, codes


def draw_small_sheet(pen: Pen, sheet: Sheet, *, bars: bool = False, below_mm: float = 0.0) -> None:
    """A sheet in small, unit 1 mm of the sheet, origin the middle of its foot line; below_mm left below."""
    half, top = sheet.width_mm / 2, sheet.height_mm - sheet.origin_mm[1]
    pen.box(-half, -below_mm, 2 * half, top + below_mm, weight=0.3, fill=WHITE)
    cells, codes = sheet_shapes_mm(sheet)
    pen.polygons(cells)
    pen.polygons(codes, fill=MID)
    if not bars:
        return
    for bar in check_bars(sheet):
        (ax, ay), (bx, by) = bar.start_mm, bar.stop_mm
        x0, y0 = sheet.origin_mm
        pen.arrow((ax - x0, ay - y0), (bx - x0, by - y0), weight=0.55, colour=ACCENT, head=1.7, both=True)
        tick = 4.5
        for x, y in ((ax - x0, ay - y0), (bx - x0, by - y0)):
            ends = ((x, y - tick), (x, y + tick)) if bar.axis == "x" else ((x - tick, y), (x + tick, y))
            pen.line(*ends, weight=0.55, colour=ACCENT)


def _draw_rule(pen: Pen, start: Point, length: float, *, upright: bool = False) -> None:
    """A rule with a tick each 10 units (each 50 longer), zero at `start`, its edge along the bar."""
    broad, over = RULE_MM, 8.0

    def turn(along: float, across: float) -> Point:
        return (start[0] - across, start[1] + along) if upright else (start[0] + along, start[1] - across)

    pen.area(
        turn(-over, 0),
        turn(length + over, 0),
        turn(length + over, broad),
        turn(-over, broad),
        fill=ACCENT_PALE,
        colour=INK,
    )
    for step in range(round(length / 10) + 1):
        pen.line(turn(step * 10, 0), turn(step * 10, 9.0 if step % 5 == 0 else 5.0), weight=0.22)


def draw_printing(pen: Pen, sheet: Sheet, width: float, height: float) -> None:
    """Print at 100 %; rules on both bars. Page millimetres times the zoom, in a frame of width x height."""
    tall = sheet.height_mm + 30.0
    scale = height / tall
    paper = pen.at(
        (width - scale * (sheet.width_mm / 2 + 10.0), scale * (sheet.origin_mm[1] + 30.0)),
        scale * pen.scale_mm,
    )
    draw_small_sheet(paper, sheet, bars=True, below_mm=sheet.origin_mm[1])
    x0, y0 = sheet.origin_mm
    for bar in check_bars(sheet):
        (x, y), upright = bar.start_mm, bar.axis == "y"
        offset = (-5.5, 0.0) if upright else (0.0, -5.5)
        length = sheet.bars_mm[1] if upright else sheet.bars_mm[0]
        _draw_rule(paper, (x - x0 + offset[0], y - y0 + offset[1]), length, upright=upright)
    half = sheet.width_mm / 2
    paper.text(
        (-sheet.bars_mm[0] / 2 - 14.0, -sheet.origin_mm[1] - 24.0),
        "bar X",
        size=7.5,
        bold=True,
        anchor="right",
        colour=ACCENT,
    )
    beside = check_bars(sheet)[1].start_mm[0] - x0 - 5.5 - RULE_MM - 4.0
    paper.text(
        (min(beside, -half - 16.0), sheet.height_mm * 0.82), "bar Y", size=7.5, bold=True, anchor="right", colour=ACCENT
    )
    _draw_print_choice(pen.at((3.0, height * 0.52), pen.scale_mm))
    _draw_filled_box(pen.at((3.0, height * 0.10), pen.scale_mm), f"{sheet.bars_mm[1] - 1:.0f}")


def _draw_filled_box(pen: Pen, whole: str) -> None:
    """Two boxes of a whole millimetre, one filled by a pen, 32 x 13 mm."""
    pen.text((0.0, 3.2), whole, size=10.0)
    for x, words in ((9.0, ".0"), (18.5, ".5")):
        pen.text((x + 3.0, 8.2), words, size=8.0, anchor="middle")
        pen.box(x, 1.0, 6.0, 6.0, weight=0.35)
    pen.box(18.9, 1.4, 5.2, 5.2, colour=None, fill=INK)
    tip, along = (24.0, 6.4), (0.80, 0.60)
    across = (-along[1], along[0])

    def at(far: float, aside: float) -> Point:
        return tip[0] + far * along[0] + aside * across[0], tip[1] + far * along[1] + aside * across[1]

    pen.area(tip, at(2.4, 1.1), at(10.5, 1.1), at(10.5, -1.1), at(2.4, -1.1), fill=ACCENT_PALE, colour=INK)
    pen.area(tip, at(2.4, 1.1), at(2.4, -1.1), fill=INK)


def _draw_print_choice(pen: Pen) -> None:
    """The choice to make where the program that prints asks for a scale, 32 x 17 mm."""
    pen.box(0.0, 0.0, 32.0, 17.0, radius=1.6, fill=WHITE, weight=0.4)
    for y, words, chosen in ((10.6, "100 %", True), (4.0, "fit to page", False)):
        pen.disc((4.6, y + 1.1), 1.6, weight=0.4)
        if chosen:
            pen.disc((4.6, y + 1.1), 0.9, colour=None, fill=ACCENT)
        pen.text((8.4, y), words, size=10.0, bold=chosen, colour=INK if chosen else MID)
        if not chosen:
            pen.line((7.6, y + 1.2), (9.2 + pen.width_of(words, size=10.0), y + 1.2), weight=0.5, colour=ACCENT)


def draw_cutting(pen: Pen, sheet: Sheet, width: float, height: float) -> None:
    """Left: scissors along the foot line. Right: the sheet taped on a box, its foot level with the box's."""
    cut = sheet.origin_mm[1]
    half = sheet.width_mm / 2
    scale = min(height / (sheet.height_mm + 55.0), width / (4 * half + 190.0))
    floor = (height - scale * (sheet.height_mm + 30.0)) / 2 + scale * 20.0
    paper = pen.at((scale * (half + 44.0), floor), scale * pen.scale_mm)
    draw_small_sheet(paper, sheet)
    strip = [(-half + 4, -10.0), (half - 2, -10.0 - 6), (half - 4, -10.0 - 6 - cut), (-half + 6, -10.0 - cut)]
    paper.area(*strip, fill=PALE, colour=MID)
    paper.line((-half - 16, 0), (half + 26, 0), weight=0.6, colour=ACCENT, dash=(1.6, 1.0))
    scissors(paper, (-half + 26, 0), 62.0, colour=ACCENT, weight=0.4)
    start = scale * (2 * half + 56.0)
    pen.arrow((start, height * 0.5), (start + scale * 46.0, height * 0.5), weight=0.9, head=3.0, colour=MID)
    _draw_boxed_sheet(pen.at((scale * (3 * half + 124.0), floor), scale * pen.scale_mm), sheet)


def _draw_boxed_sheet(pen: Pen, sheet: Sheet) -> None:
    """The cut sheet on the front of a box, in oblique projection; a right angle at its foot."""
    half, top = sheet.width_mm / 2, sheet.height_mm - sheet.origin_mm[1]
    wide, tall, depth = half + 8, top - 6, (50.0, 30.0)
    pen.line((-wide - 14, 0), (wide + depth[0], 0), weight=0.5, colour=MID)
    side = [(wide, 0), (wide + depth[0], depth[1]), (wide + depth[0], tall + depth[1]), (wide, tall)]
    pen.area(*side, fill=SOFT, colour=INK)
    pen.area((-wide, tall), (wide, tall), side[2], (-wide + depth[0], tall + depth[1]), fill=PALE, colour=INK)
    pen.box(-wide, 0, 2 * wide, tall, fill=PALE)
    draw_small_sheet(pen, sheet)
    for x, y in ((-half, top - 22), (half, top - 22), (-half, 40), (half, 40)):
        pen.box(x - 15, y - 8, 30, 16, weight=0.2, fill=ACCENT_PALE, colour=ACCENT)
    corner = 24.0
    pen.line((wide + corner, 0), (wide + corner, corner), (wide, corner), weight=0.35, colour=ACCENT)


def draw_sending(pen: Pen, width: float, height: float, kept_mm: float) -> None:
    """Main camera, no zoom; the original file, not a copy from a chat, left above `kept_mm` of text."""
    y = height - 5.6
    pen.box(0, y - 5.2, width, 10.4, radius=5.2, fill=INK, colour=None)
    for number, (words, chosen) in enumerate((("0.5x", False), ("1x", True), ("3x", False))):
        x = width * (0.2 + 0.3 * number)
        pen.disc((x, y), 4.0, colour=None, fill=ACCENT if chosen else (0.30, 0.33, 0.37))
        pen.text(
            (x, y - 1.1),
            words,
            size=8.5 if chosen else 7.5,
            bold=True,
            anchor="middle",
            colour=WHITE,
        )
        if not chosen:
            pen.line((x - 2.9, y - 2.9), (x + 2.9, y + 2.9), weight=0.7, colour=ACCENT)
    y = (kept_mm + height - 11.0) / 2 + 1.0
    left, right = width * 0.30, width * 0.74
    page = [
        (left - 4, y - 5.5),
        (left + 4, y - 5.5),
        (left + 4, y + 3),
        (left + 1.5, y + 5.5),
        (left - 4, y + 5.5),
    ]
    pen.area(*page, fill=WHITE, colour=INK, weight=0.4)
    pen.line((left + 1.5, y + 5.5), (left + 1.5, y + 3), (left + 4, y + 3), weight=0.4)
    pen.polygons(
        [
            [
                (left - 3, y - 3.5),
                (left - 0.8, y + 0.6),
                (left + 0.6, y - 1.6),
                (left + 1.4, y - 0.6),
                (left + 3, y - 3.5),
            ]
        ],
        fill=MID,
    )
    pen.line((left - 9.2, y - 0.6), (left - 7.6, y - 2.4), (left - 5.2, y + 2.4), weight=0.9, colour=ACCENT)
    bubble = [(right - 7, y - 2.5), (right - 4, y - 2.5), (right - 5.2, y - 5.4), (right - 0.6, y - 2.5)]
    bubble += [(right + 7, y - 2.5), (right + 7, y + 5), (right - 7, y + 5)]
    pen.area(*bubble, fill=PALE, colour=INK, weight=0.4)
    for dot in (-2.6, 0.0, 2.6):
        pen.disc((right + dot, y + 1.2), 0.55, colour=None, fill=MID)
    for sign in (-1, 1):
        pen.line((right - 5, y + 0.8 - sign * 5), (right + 5, y + 0.8 + sign * 5), weight=0.8, colour=ACCENT)
