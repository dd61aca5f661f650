"""The drawings of the instruction page that show the rig from the side and from above.

Each is drawn to scale in metres; the sheet in them is the kit's own.
"""

from __future__ import annotations

import numpy as np

from calib.drawing.colours import ACCENT, ACCENT_PALE, INK, MID, PALE, SOFT, WHITE, Point
from calib.drawing.pen import Pen
from calib.kit.kit import Sheet
from calib.kit.page_sketches import sheet_shapes_mm

BALL_M = 0.42  # height of the ball's centre in the drawings: an example inside the usual range, no rule
BALL_RADIUS_M = 0.025
SIDE_VIEW_M = (-1.28, -0.16, 4.10, 1.34)  # left, bottom, width, height
PLAN_M = (-0.86, -0.62, 3.40, 1.22)
CAMERA_M = 1.75
DETAIL_SCALE, DETAIL_RADIUS_M = 2.7, 0.28


def _vehicle_side(pen: Pen) -> None:
    """The rear of the yard truck, cut off at the left."""
    wheel, arch = (-0.86, 0.36), 0.43
    start = float(np.arcsin((0.50 - wheel[1]) / arch))
    angles = np.linspace(start, np.pi - start, 24).tolist()
    round_wheel = [(wheel[0] + arch * float(np.cos(a)), wheel[1] + arch * float(np.sin(a))) for a in angles]
    body = [(-2.0, 1.06), (-0.19, 1.06), (-0.17, 0.56), (-0.20, 0.50), *round_wheel, (-2.0, 0.50)]
    pen.area(*body, fill=PALE, colour=INK, weight=0.45)
    pen.line((-2.0, 0.98), (-0.19, 0.98), weight=0.3)
    pen.box(-0.245, 0.70, 0.06, 0.20, radius=0.015, fill=ACCENT_PALE, weight=0.3)
    pen.box(-0.40, 0.44, 0.25, 0.10, radius=0.03, fill=SOFT, weight=0.4)
    pen.disc(wheel, 0.36, fill=(0.30, 0.33, 0.37), weight=0.45)
    pen.disc(wheel, 0.21, fill=PALE, weight=0.3)
    pen.disc(wheel, 0.06, fill=WHITE, weight=0.3)
    for sign in (-1, 1):
        x = wheel[0] + sign * 0.30
        pen.area(
            (x, 0),
            (x + sign * 0.20, 0),
            (x + sign * 0.20, 0.05),
            (x + sign * 0.05, 0.19),
            fill=ACCENT,
            colour=INK,
            weight=0.25,
        )


def _ball_on_tongue(pen: Pen, *, weight: float) -> None:
    """Tow bar from under the body to the ball; the ball's centre at (0, BALL_M)."""
    top = BALL_M - 0.055
    pen.area(
        (-0.62, top - 0.01),
        (-0.62, top - 0.045),
        (0.045, top - 0.045),
        (0.045, top - 0.022),
        (-0.03, top),
        (-0.30, top + 0.05),
        (-0.62, top + 0.05),
        fill=SOFT,
        colour=INK,
        weight=weight,
    )
    pen.box(-0.012, top - 0.022, 0.024, 0.06, fill=SOFT, weight=weight * 0.8)
    pen.box(-0.022, top - 0.066, 0.044, 0.022, fill=MID, weight=weight * 0.8)
    pen.disc((0, BALL_M), BALL_RADIUS_M, fill=WHITE, weight=weight)


def _sheets_side(pen: Pen, sheet: Sheet, *, weight: float) -> None:
    """Edge-on: the box, the upright sheet on it in the plane x = 0, the ground sheet in front."""
    top, deep = (sheet.height_mm - sheet.origin_mm[1]) / 1000, 0.19
    top = min(top, BALL_M - 0.14)  # an A3 sheet stands beside the ball
    pen.box(-deep, 0.0, deep - 0.004, top - 0.012, fill=ACCENT_PALE, weight=weight)
    pen.line((0.0, 0.004), (0.0, top), weight=weight * 2.6, colour=ACCENT)
    pen.line((0.01, 0.007), (0.01 + top, 0.007), weight=weight * 2.6, colour=ACCENT)


def _person(pen: Pen, x: float) -> None:
    """Somebody on one knee, holding the phone at knee height; `x` is where the phone is."""
    tone = (0.36, 0.40, 0.45)
    limb = 0.105 * pen.scale_mm / pen.zoom
    hip, shoulder, hand = (x + 0.56, 0.40), (x + 0.47, 0.86), (x + 0.06, BALL_M - 0.03)
    pen.line(hip, (x + 0.50, 0.07), (x + 0.86, 0.055), weight=limb, colour=tone)
    pen.line(hip, (x + 0.22, 0.50), (x + 0.24, 0.055), (x + 0.14, 0.05), weight=limb, colour=MID)
    pen.line(hip, shoulder, weight=limb * 1.7, colour=tone)
    pen.line(shoulder, (x + 0.36, 0.58), hand, weight=limb * 0.75, colour=SOFT)
    pen.line(shoulder, (x + 0.36, 0.58), hand, weight=limb * 0.62, colour=tone)
    pen.disc((x + 0.40, 1.055), 0.105, fill=tone, colour=None)
    pen.box(x - 0.008, BALL_M - 0.075, 0.022, 0.15, radius=0.006, fill=INK, colour=None)
    pen.disc((x - 0.010, BALL_M), 0.014, fill=ACCENT, colour=None)


def _dimension(pen: Pen, start: Point, stop: Point, words: str, *, size: float = 8.5, bold: bool = True) -> None:
    """A dimension arrow with its words on white in the middle."""
    pen.arrow(start, stop, weight=0.4, both=True)
    x, y = (start[0] + stop[0]) / 2, (start[1] + stop[1]) / 2
    half, tall = pen.width_of(words, size=size, bold=bold) / 2, size * pen.zoom * 0.3528 / pen.scale_mm
    pen.box(x - half - 0.35 * tall, y - 0.6 * tall, 2 * half + 0.7 * tall, 1.2 * tall, fill=WHITE, colour=None)
    pen.text((x, y - 0.36 * tall), words, size=size, bold=bold, anchor="middle")


def _detail(pen: Pen, sheet: Sheet, centre: Point) -> None:
    """Through a glass: the sheet's plane goes through the ball's centre."""
    radius = DETAIL_RADIUS_M
    pen.disc(centre, radius, fill=WHITE, weight=0.0, colour=None)
    close = pen.at((centre[0] + 0.02, centre[1] - DETAIL_SCALE * 0.355), pen.scale_mm * DETAIL_SCALE)
    with pen.inside(centre[0] - radius, centre[1] - radius, 2 * radius, 2 * radius, radius=radius):
        _sheets_side(close, sheet, weight=0.4)
        _ball_on_tongue(close, weight=0.4)
        close.line((0, 0.2), (0, 0.6), weight=0.35, colour=ACCENT, dash=(1.4, 0.8))
        close.line((-0.008, BALL_M), (0.008, BALL_M), weight=0.4)
    pen.disc(centre, radius, weight=0.5)


def draw_side_view(pen: Pen, sheet: Sheet) -> None:
    """From the side, no trailer: ball, sheet under it, phone at the ball's height. Drawing unit one metre."""
    left, bottom, width, height = SIDE_VIEW_M
    detail = (0.60, 0.86)
    with pen.inside(left, bottom, width, height):
        pen.area((-0.0, 0.0), (0.0, BALL_M + 0.10), (CAMERA_M - 0.01, BALL_M), fill=ACCENT_PALE)
        pen.area((left, 0), (left + width, 0), (left + width, -0.035), (left, -0.035), fill=SOFT)
        pen.line((left, 0), (left + width, 0), weight=0.5)
        _vehicle_side(pen)
        _sheets_side(pen, sheet, weight=0.3)
        _ball_on_tongue(pen, weight=0.35)
        pen.line((0.04, BALL_M), (CAMERA_M - 0.03, BALL_M), weight=0.4, colour=ACCENT, dash=(2.0, 1.2))
        pen.line((0.0, -0.02), (0.0, BALL_M + 0.24), weight=0.35, colour=ACCENT, dash=(1.4, 0.8))
        pen.line((0.06, BALL_M + 0.05), (detail[0] - 0.24, detail[1] - 0.14), weight=0.3)
        pen.disc((0.0, BALL_M - 0.01), 0.085, weight=0.4)
        _person(pen, CAMERA_M)
        _detail(pen, sheet, detail)
    pen.text((detail[0] + DETAIL_RADIUS_M + 0.05, detail[1] + 0.05), "upright sheet in the plane", size=7.5)
    pen.text((detail[0] + DETAIL_RADIUS_M + 0.05, detail[1] - 0.03), "of the ball's centre", size=7.5)
    pen.text((detail[0] + DETAIL_RADIUS_M + 0.05, detail[1] + 0.20), "bare ball: from behind", size=8.5, bold=True)
    pen.text((1.06, BALL_M + 0.03), "same height", size=8.5, bold=True, colour=ACCENT, anchor="middle")
    _dimension(pen, (0.0, -0.10), (CAMERA_M, -0.10), "1.5 to 2.5 m")
    for x in (0.0, CAMERA_M):
        pen.line((x, -0.04), (x, -0.14), weight=0.3)
    knee = CAMERA_M + 0.93
    pen.line((CAMERA_M + 0.70, BALL_M), (knee + 0.04, BALL_M), weight=0.3, colour=ACCENT)
    pen.arrow((knee, 0.0), (knee, BALL_M), both=True, weight=0.4)
    pen.text((knee - 0.02, BALL_M + 0.035), "about the knee", size=7.5, anchor="middle")


def draw_plan(pen: Pen, sheet: Sheet) -> None:
    """From above, coupled: sheet under the coupling, phone at the side, nobody between. Unit one metre."""
    left, bottom, width, height = PLAN_M
    deep = (sheet.height_mm - sheet.origin_mm[1]) / 1000
    half = sheet.width_mm / 2000
    with pen.inside(left, bottom, width, height):
        with pen.inside(left, -0.5, 0.70 - left, 0.9):
            for x in np.arange(left - 1.2, 0.80, 0.075):
                pen.line((x, -0.52), (x + 1.0, 0.48), weight=0.22, colour=(0.93, 0.62, 0.48))
        pen.box(-2.0, 0.30, 2.80, 0.9, radius=0.10, fill=PALE, weight=0.45)
        pen.line((-2.0, 0.40), (0.72, 0.40), weight=0.3)
        pen.box(-2.0, -1.2, 2.70, 0.75, radius=0.03, fill=PALE, weight=0.45)
        pen.area((-0.04, 0.30), (0.04, 0.30), (0.03, 0.0), (-0.03, 0.0), fill=SOFT, colour=INK)
        for sign in (-1, 1):
            pen.area(
                (sign * 0.02, -0.06),
                (sign * 0.06, -0.06),
                (sign * 0.42, -0.45),
                (sign * 0.36, -0.45),
                fill=SOFT,
                colour=INK,
            )
        pen.area((CAMERA_M - 0.02, 0), (0.0, half + 0.10), (0.0, -half - 0.10), fill=ACCENT_PALE)
        pen.box(0.006, -half, deep, 2 * half, fill=WHITE, colour=ACCENT, weight=0.35)
        cells, codes = sheet_shapes_mm(sheet)
        flat = [[(0.006 + y / 1000, -x / 1000) for x, y in shape] for shape in cells]
        pen.polygons(flat, fill=MID)
        pen.polygons([[(0.006 + y / 1000, -x / 1000) for x, y in shape] for shape in codes], fill=SOFT)
        pen.box(-0.19, -half, 0.185, 2 * half, fill=None, dash=(0.9, 0.6), weight=0.3)
        pen.box(-0.05, -0.13, 0.10, 0.19, radius=0.045, fill=SOFT, weight=0.4)
        pen.line((0, -half), (0, half), weight=0.9, colour=ACCENT)
        pen.disc((0, 0), 0.03, fill=WHITE, weight=0.4)
        pen.line((0.06, 0), (CAMERA_M - 0.05, 0), weight=0.35, colour=ACCENT, dash=(2.0, 1.2))
        pen.box(CAMERA_M - 0.012, -0.04, 0.024, 0.08, radius=0.006, fill=INK, colour=None)
        _person_from_above(pen, CAMERA_M)
    pen.text((-0.55, 0.46), "vehicle", size=8.0, colour=INK)
    pen.text((-0.55, -0.57), "trailer", size=8.0, colour=INK)
    words = "nobody in here"
    wide = pen.width_of(words, size=8.5, bold=True)
    pen.box(-0.80, -0.05, wide + 0.06, 0.12, fill=WHITE, colour=None)
    pen.text((-0.77, -0.02), words, size=8.5, bold=True, colour=ACCENT)
    right = left + width
    pen.text((right, bottom + height - 0.08), "coupled: from the side", size=8.5, bold=True, anchor="right")
    pen.text((right, bottom + height - 0.19), "centre tag on it if the ball is hidden", size=7.5, anchor="right")
    pen.arrow((0.84, -0.355), (0.006 + deep * 0.8, -half * 0.7), weight=0.3, head=1.6)
    pen.text((0.87, -0.38), "ground sheet (optional)", size=7.5)
    pen.arrow((0.84, -0.515), (0.012, -half * 0.85), weight=0.3, head=1.6)
    pen.text((0.87, -0.54), "upright sheet, in line with the ball's centre", size=7.5)


def _person_from_above(pen: Pen, x: float) -> None:
    """Shoulders, head and arms; the phone is at (x, 0)."""
    tone = (0.36, 0.40, 0.45)
    for sign in (-1, 1):
        arm = [(x + 0.42, sign * 0.19), (x + 0.20, sign * 0.17), (x + 0.03, sign * 0.045)]
        pen.line(*arm, weight=0.06 * pen.scale_mm / pen.zoom, colour=MID)
    pen.box(x + 0.33, -0.24, 0.19, 0.48, radius=0.095, fill=tone, colour=None)
    pen.disc((x + 0.38, 0), 0.10, fill=tone, colour=WHITE, weight=0.35)
