"""How far the coupling has to bend: a rig driven over two grades that meet, a twisted cross-slope, a wheel on
a step.

Rigid bodies on the road's profile: wheels touch at a point, the trailer's axle group is one axle at its
middle, springs do not move. The static bend of the level rig is counted in. Over a crest the coupling folds
downwards (the trailer is nose-up against the vehicle, positive here), in a dip upwards. Limits are the
coupling maker's, typed in; none is built in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.rig.options import Outcome
from photomeasure.rig.setup import Articulation, Demand, Setup

Array = NDArray[np.float64]
Direction = Literal["crest", "dip", "roll"]

_PLACES = 4001


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """The largest bend in one direction. static_deg is the part that the level rig has already (worst 95 %
    end)."""

    direction: Direction
    demand_deg: float
    static_deg: float
    limit_deg: float | None

    @property
    def margin_deg(self) -> float | None:
        """What is left to the maker's limit; None where no limit was typed."""
        return None if self.limit_deg is None else self.limit_deg - self.demand_deg

    @property
    def too_much(self) -> bool:
        """More than the maker's limit."""
        return self.margin_deg is not None and self.margin_deg < 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Articulated:
    """A place on the way and what it demands of the coupling."""

    name: str
    kind: str
    bends: tuple[Bend, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RigLengths:
    """Lengths in mm: wheelbase L, rear axle to ball b, ball height h, coupling to axle group D."""

    wheelbase_mm: float
    overhang_mm: float
    ball_height_mm: float
    drawbar_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """Two straight grades, joined by a circular arc of a radius (0: a sharp edge), the change centred at x =
    0."""

    grade_in_rad: float
    grade_out_rad: float
    radius_mm: float

    def height_mm(self, x_mm: Array) -> Array:
        """Return the road's height at horizontal places x, same shape; 0 where the two grades would meet."""
        straight: Array = np.where(x_mm < 0.0, x_mm * np.tan(self.grade_in_rad), x_mm * np.tan(self.grade_out_rad))
        turn_rad = self.grade_out_rad - self.grade_in_rad
        if self.radius_mm == 0.0 or turn_rad == 0.0:
            return straight
        radius = np.copysign(self.radius_mm, turn_rad)  # positive: centre above the road (a dip)
        tangent_mm = abs(radius) * np.tan(abs(turn_rad) / 2.0)
        start, end = -tangent_mm * np.cos(self.grade_in_rad), tangent_mm * np.cos(self.grade_out_rad)
        centre_x = start - radius * np.sin(self.grade_in_rad)
        centre_y = -tangent_mm * np.sin(self.grade_in_rad) + radius * np.cos(self.grade_in_rad)
        inside = np.clip(radius**2 - (x_mm - centre_x) ** 2, 0.0, None)
        arc = centre_y - np.sign(radius) * np.sqrt(inside)
        return np.asarray(np.where((x_mm > start) & (x_mm < end), arc, straight))


def bends_on_road_rad(rig: RigLengths, road: Road) -> tuple[float, float]:
    """Return (most nose-up, most nose-down) pitch of the trailer against the vehicle while the rig drives
    through.

    The rear axle is stepped through the change of grade; front axle and trailer axle are put on the road at
    their distances (bisection on the horizontal distance), and the angle is read off. Both are >= 0.
    """
    arc_mm = road.radius_mm * abs(road.grade_out_rad - road.grade_in_rad)
    back_mm = rig.wheelbase_mm + arc_mm + 1.0
    ahead_mm = rig.overhang_mm + rig.drawbar_mm + rig.ball_height_mm + arc_mm + 1.0
    rear_x = np.linspace(-back_mm, ahead_mm, _PLACES)
    rear_x = np.sort(np.concatenate([rear_x, [0.0]]))
    rear = np.stack([rear_x, road.height_mm(rear_x)])  # (2, N)
    front = _on_road(rear, rig.wheelbase_mm, road, forward=True)
    along = (front - rear) / rig.wheelbase_mm  # (2, N) unit vectors, rear to front
    up = np.stack([-along[1], along[0]])
    ball = rear - rig.overhang_mm * along + rig.ball_height_mm * up
    # the trailer's reference line joins its axle's foot to the coupling; level, it leans by this much
    slant_mm = float(np.hypot(rig.drawbar_mm, rig.ball_height_mm))
    foot = _on_road(ball, slant_mm, road, forward=False)
    line = ball - foot
    level_rad = np.arctan2(rig.ball_height_mm, rig.drawbar_mm)
    trailer_rad = np.arctan2(line[1], line[0]) - level_rad
    relative = trailer_rad - np.arctan2(along[1], along[0])
    return max(0.0, float(np.max(relative))), max(0.0, -float(np.min(relative)))


def _on_road(start: Array, distance_mm: float, road: Road, *, forward: bool) -> Array:
    """Return points on the road, (2, N), a straight distance ahead of or behind each start point."""
    sign = 1.0 if forward else -1.0
    near, far = np.zeros_like(start[0]), np.full_like(start[0], distance_mm)
    for _ in range(60):
        middle = 0.5 * (near + far)
        x = start[0] + sign * middle
        short = np.hypot(middle, road.height_mm(x) - start[1]) < distance_mm
        near, far = np.where(short, middle, near), np.where(short, far, middle)
    x = start[0] + sign * 0.5 * (near + far)
    return np.stack([x, road.height_mm(x)])


def articulations(setup: Setup, outcome: Outcome) -> tuple[Articulated, ...]:
    """Return what every stated place demands of the coupling, for the rig of one outcome."""
    return tuple(
        Articulated(name=demand.name, kind=demand.kind, bends=_bends(demand, setup, outcome))
        for demand in setup.articulation.demand
    )


def within_limits(places: tuple[Articulated, ...]) -> bool:
    """Whether no place asks for more than a limit that was typed."""
    return not any(bend.too_much for place in places for bend in place.bends)


def _bends(demand: Demand, setup: Setup, outcome: Outcome) -> tuple[Bend, ...]:
    limits = setup.articulation
    if demand.kind == "cross-slope":
        return (_roll(abs(demand.vehicle_side_deg - demand.trailer_side_deg), limits),)
    if demand.kind == "step":
        return (_roll(float(np.degrees(np.arctan2(demand.step_mm, demand.track_mm or np.inf))), limits),)
    vehicle = setup.vehicle
    if vehicle.wheelbase is None or vehicle.overhang is None:
        return ()
    rig = RigLengths(
        wheelbase_mm=vehicle.wheelbase.value,
        overhang_mm=vehicle.overhang.value + outcome.extra_lever_mm,
        ball_height_mm=outcome.height_mm.mean,
        drawbar_mm=setup.trailer.drawbar.value,
    )
    road = Road(
        grade_in_rad=float(np.radians(demand.grade_in_deg)),
        grade_out_rad=float(np.radians(demand.grade_out_deg)),
        radius_mm=demand.radius_m * 1000.0,
    )
    nose_up, nose_down = np.degrees(bends_on_road_rad(rig, road))
    low, high = _static_deg(outcome)
    crest = Bend(
        direction="crest",
        demand_deg=max(0.0, float(nose_up) + high),
        static_deg=high,
        limit_deg=limits.crest_limit_deg,
    )
    dip = Bend(
        direction="dip",
        demand_deg=max(0.0, float(nose_down) - low),
        static_deg=-low,
        limit_deg=limits.dip_limit_deg,
    )
    return (crest, dip)


def _static_deg(outcome: Outcome) -> tuple[float, float]:
    """Return the 95 % ends of the trailer's pitch against the vehicle on level ground, degrees, nose-up
    positive."""
    vehicle = outcome.vehicle_pitch_deg.mean if outcome.vehicle_pitch_deg else 0.0
    return outcome.trailer_pitch_deg.low - vehicle, outcome.trailer_pitch_deg.high - vehicle


def _roll(demand_deg: float, limits: Articulation) -> Bend:
    return Bend(direction="roll", demand_deg=demand_deg, static_deg=0.0, limit_deg=limits.roll_limit_deg)
