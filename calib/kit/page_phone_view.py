"""The drawing of the instruction page that shows the phone's screen: coupling and sheets, in perspective."""

from __future__ import annotations

from calib.drawing.colours import ACCENT, ACCENT_PALE, INK, MID, PALE, SOFT, WHITE, Point
from calib.drawing.pen import Pen
from calib.kit.kit import Sheet
from calib.kit.page_scenes import BALL_M, BALL_RADIUS_M
from calib.kit.page_sketches import sheet_shapes_mm


def _seen(point: tuple[float, float, float]) -> Point:
    """Where a point of the yard (right, up, towards the camera; metres) is seen, in the ball's plane."""
    near = 1.6 / (1.6 - point[2])
    return point[0] * near, BALL_M + (point[1] - BALL_M) * near


def phone_view_m(sheet: Sheet) -> tuple[float, float, float]:
    """Left, bottom and height of what the phone shows; the ground sheet's near edge is in the picture."""
    near = _seen((0.0, 0.0, (sheet.height_mm - sheet.origin_mm[1]) / 1000))[1]
    return -0.58, near - 0.04, 0.57 - (near - 0.04)


def draw_phone_view(pen: Pen, sheet: Sheet, width: float) -> None:
    """What the phone shows: coupling and whole sheet, side by side, in perspective. Unit one metre."""
    left, bottom, height = phone_view_m(sheet)
    side, grip = 0.022, 0.085
    pen.box(left - side, bottom - side, width + side + grip, height + 2 * side, radius=0.06, fill=INK, colour=None)
    pen.disc((left + width + grip / 2, bottom + height / 2), 0.028, colour=WHITE, weight=0.4, fill=ACCENT)
    with pen.inside(left, bottom, width, height, radius=0.03):
        pen.box(left, bottom, width, height, fill=(0.96, 0.965, 0.97), colour=None)
        far = _seen((0.0, 0.0, -0.9))[1]
        pen.box(left, bottom, width, far - bottom, fill=(0.86, 0.865, 0.87), colour=None)
        pen.box(left - 0.1, far, width + 0.2, 0.30, fill=(0.62, 0.64, 0.66), colour=None)
        for x in (-0.76, 0.58):
            pen.box(x, far - 0.03, 0.18, 0.4, radius=0.02, fill=(0.30, 0.33, 0.37), colour=None)
        body = [_seen((x, y, -0.25)) for x, y in ((-1.0, 0.46), (1.6, 0.46), (1.6, 1.2), (-1.0, 1.2))]
        pen.area(*body, fill=PALE, colour=INK, weight=0.4)
        bumper = [_seen((x, y, -0.2)) for x, y in ((-1.0, 0.44), (1.6, 0.44), (1.6, 0.53), (-1.0, 0.53))]
        pen.area(*bumper, fill=SOFT, colour=INK, weight=0.4)
        pen.area(
            (-0.035, BALL_M - 0.10),
            (0.035, BALL_M - 0.10),
            (0.035, BALL_M - 0.055),
            (0.03, 0.455),
            (-0.03, 0.455),
            (-0.035, BALL_M - 0.055),
            fill=SOFT,
            colour=INK,
        )
        pen.box(-0.035, BALL_M - 0.10, 0.07, 0.045, radius=0.005, fill=MID)
        pen.box(-0.012, BALL_M - 0.06, 0.024, 0.05, fill=SOFT)
        pen.disc((0, BALL_M), BALL_RADIUS_M, fill=WHITE, weight=0.45)
        _sheets_seen(pen, sheet, 0.19 if sheet.width_mm < 250 else 0.24)
        pen.line((-0.05, BALL_M), (0.05, BALL_M), weight=0.35, colour=ACCENT)
        pen.line((0, BALL_M - 0.05), (0, BALL_M + 0.05), weight=0.35, colour=ACCENT)


def _sheets_seen(pen: Pen, sheet: Sheet, x: float) -> None:
    """Box, upright sheet and ground sheet with their feet at (x, 0, 0)."""
    half, top = sheet.width_mm / 2000, (sheet.height_mm - sheet.origin_mm[1]) / 1000
    pen.area(
        *[
            _seen(p)
            for p in (
                (x - half - 0.012, 0, -0.004),
                (x + half + 0.012, 0, -0.004),
                (x + half + 0.012, top - 0.01, -0.004),
                (x - half - 0.012, top - 0.01, -0.004),
            )
        ],
        fill=ACCENT_PALE,
        colour=INK,
    )
    pen.box(x - half, 0, 2 * half, top, fill=WHITE, weight=0.3)
    cells, codes = sheet_shapes_mm(sheet)
    for shapes, tone in ((cells, INK), (codes, MID)):
        pen.polygons([[(x + u / 1000, v / 1000) for u, v in shape] for shape in shapes], fill=tone)
    corners = ((x - half, 0.0, 0.002), (x + half, 0.0, 0.002), (x + half, 0.0, top), (x - half, 0.0, top))
    pen.area(*[_seen(p) for p in corners], fill=WHITE, colour=INK)
    for shapes, tone in ((cells, INK), (codes, MID)):
        pen.polygons([[_seen((x - u / 1000, 0.0, v / 1000)) for u, v in shape] for shape in shapes], fill=tone)
