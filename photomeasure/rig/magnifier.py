"""The heights at the coupling, enlarged: the band, the ball with its interval, the height at which the
trailer is level."""

from __future__ import annotations

from dataclasses import dataclass

from calib.words.said import say
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan
from photomeasure.rig.shapes import Disc, Path, Shape, Stroke, Text
from photomeasure.rig.sideview import BALL, BAND, BAND_EDGE, BAND_INK, GREY, LEVEL


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A height scale: `bottom` is the drawing's y of low_mm, `top` of high_mm."""

    left: float
    right: float
    top: float
    bottom: float
    low_mm: float
    high_mm: float

    def y(self, height_mm: float) -> float:
        """Return the drawing's y of a height."""
        share = (height_mm - self.low_mm) / (self.high_mm - self.low_mm)
        return self.bottom - share * (self.bottom - self.top)


def height_limits_mm(plan: Plan, outcomes: tuple[Outcome, ...]) -> tuple[float, float]:
    """Return the heights that the scale has to span for all the panels, to whole 50 mm."""
    heights = [plan.trailer.low_mm, plan.trailer.high_mm]
    heights += [end for one in outcomes for end in (one.height_mm.low, one.height_mm.high)]
    heights += [end for end in (plan.target.low_mm, plan.target.high_mm) if end is not None]
    return 50.0 * ((min(heights) - 15.0) // 50.0), 50.0 * -(-(max(heights) + 15.0) // 50.0)


def magnifier(plan: Plan, outcome: Outcome, scale: Scale) -> list[Shape]:
    """Return the shapes of the enlarged heights."""
    return [*_frame(scale), *_band(plan, scale), *_level(plan, scale), *_ball(outcome, scale)]


def _frame(scale: Scale) -> list[Shape]:
    corners = (
        (scale.left, scale.top),
        (scale.right, scale.top),
        (scale.right, scale.bottom),
        (scale.left, scale.bottom),
    )
    shapes: list[Shape] = [Path(points=corners, fill="#fcfcfc", stroke=GREY)]
    step = 50.0 if scale.high_mm - scale.low_mm <= 500.0 else 100.0
    tick = scale.low_mm
    while tick <= scale.high_mm:
        y = scale.y(tick)
        shapes.append(Path(points=((scale.left - 5, y), (scale.left, y)), stroke=GREY))
        shapes.append(Text(at=(scale.left - 8, y + 4), text=f"{tick:.0f}", size=11, anchor="end", colour="#555555"))
        tick += step
    return shapes


def _band(plan: Plan, scale: Scale) -> list[Shape]:
    if not plan.target.has_band:
        return [Text(at=(scale.left + 8, scale.bottom - 8), text=say("no band known to apply"), size=12)]
    low = scale.low_mm if plan.target.low_mm is None else plan.target.low_mm
    high = scale.high_mm if plan.target.high_mm is None else plan.target.high_mm
    y0, y1 = scale.y(low), scale.y(high)
    corners = ((scale.left, y0), (scale.left, y1), (scale.right, y1), (scale.right, y0))
    middle = 0.5 * (scale.left + scale.right)
    return [
        Path(points=corners, fill=BAND, stroke=BAND_EDGE),
        Text(
            at=(middle, min(y0 + 14, scale.bottom - 4)),
            text=say("band {band}", band=plan.target.text),
            size=12,
            anchor="middle",
            colour=BAND_INK,
        ),
    ]


def _level(plan: Plan, scale: Scale) -> list[Shape]:
    """Draw where the trailer is level, and the heights that still count as level."""
    x = scale.left + 0.72 * (scale.right - scale.left)
    height = plan.trailer.level_height_mm.mean
    y, low, high = scale.y(height), scale.y(plan.trailer.low_mm), scale.y(plan.trailer.high_mm)
    line = Stroke(colour=LEVEL, width=2.0)
    return [
        Path(points=((x, low), (x, high)), stroke=line),
        Path(points=((x - 7, low), (x + 7, low)), stroke=line),
        Path(points=((x - 7, high), (x + 7, high)), stroke=line),
        Path(points=((x - 12, y), (x + 12, y)), stroke=Stroke(colour=LEVEL, width=2.6)),
        _behind(x + 14, y, 46.0),
        Text(at=(x + 16, y - 3), text=say("level at"), size=11, colour=LEVEL),
        Text(at=(x + 16, y + 11), text=f"{height:.0f} mm", size=13, bold=True, colour=LEVEL),
    ]


def _ball(outcome: Outcome, scale: Scale) -> list[Shape]:
    """Draw the ball with its 95 % interval."""
    x = scale.left + 0.42 * (scale.right - scale.left)
    found = outcome.height_mm
    y, low, high = scale.y(found.mean), scale.y(found.low), scale.y(found.high)
    line = Stroke(colour=BALL, width=1.6)
    return [
        Path(points=((x, low), (x, high)), stroke=line),
        Path(points=((x - 9, low), (x + 9, low)), stroke=line),
        Path(points=((x - 9, high), (x + 9, high)), stroke=line),
        Disc(centre=(x, y), radius=5.0, fill=BALL),
        _behind(x - 60, y, 48.0),
        Text(at=(x - 14, y - 3), text=say("ball at"), size=11, anchor="end", colour=BALL),
        Text(at=(x - 14, y + 11), text=f"{found.mean:.0f} mm", size=13, anchor="end", bold=True, colour=BALL),
    ]


def _behind(left: float, y: float, width: float) -> Path:
    """A plate under a label of two lines, so that no line of the band runs through it."""
    top, bottom = y - 14.0, y + 14.0
    corners = ((left, top), (left + width, top), (left + width, bottom), (left, bottom))
    return Path(points=corners, fill="#fcfcfc")
