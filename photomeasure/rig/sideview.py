"""The rig from the side, to scale: what was typed is where it was typed, bodies are drawn by guess."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from calib.words.said import said, say, shown
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan
from photomeasure.rig.shapes import Anchor, Disc, Path, Point, Shape, Stroke, Text

BODY, BODY_EDGE = "#dfe6ee", Stroke(colour="#51606f", width=1.3)
TRAILER, TRAILER_EDGE = "#f1e6d6", Stroke(colour="#7a5c33", width=1.3)
BAND, BAND_EDGE = "#c2e3f5", Stroke(colour="#056ba8", width=1.0)  # the band is blue wherever it is drawn
BAND_INK = "#05486f"
BALL, LEVEL = "#12355b", "#a34a00"
GREY, INK = Stroke(colour="#777777", width=0.9), "#222222"

GUESSED_WHEELBASE_MM, GUESSED_OVERHANG_MM, GUESSED_SPACING_MM = 3000.0, 1200.0, 850.0
VEHICLE_WHEEL_MM, TRAILER_WHEEL_MM = 370.0, 330.0
NOSE_MM, TAIL_SHARE = 950.0, 0.45


LENGTHS = {
    "wheelbase": said("wheelbase"),
    "overhang": said("overhang"),
    "drawbar": said("drawbar"),
    "axle spacing": said("axle spacing"),
}
"""Lengths that are named, as a person reads them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Lengths drawn, mm; `guessed` names those that were not typed."""

    wheelbase: float
    overhang: float  # rear axle to ball, extra lever counted in
    drawbar: float
    spacing: float
    trailer_wheel: float
    last_axle: float  # middle of the group to the last axle
    guessed: tuple[str, ...]

    @property
    def trailer(self) -> float:
        """Coupling to the trailer's tail."""
        return self.drawbar + max(TAIL_SHARE * self.drawbar, self.last_axle + 600.0)

    @property
    def total(self) -> float:
        """Bumper to trailer's tail."""
        return NOSE_MM + self.wheelbase + self.overhang + self.trailer + 200.0


def lengths_of(plan: Plan, outcome: Outcome) -> Lengths:
    """Return the lengths to draw one outcome with."""
    vehicle, trailer = plan.setup.vehicle, plan.setup.trailer
    guessed = [] if vehicle.wheelbase else ["wheelbase", "overhang"]
    if trailer.axles > 1 and trailer.axle_spacing is None:
        guessed.append("axle spacing")
    overhang = vehicle.overhang.value if vehicle.overhang else GUESSED_OVERHANG_MM
    spacing = trailer.axle_spacing.value if trailer.axle_spacing else GUESSED_SPACING_MM
    return Lengths(
        wheelbase=vehicle.wheelbase.value if vehicle.wheelbase else GUESSED_WHEELBASE_MM,
        overhang=overhang + outcome.extra_lever_mm,
        drawbar=trailer.drawbar.value,
        spacing=spacing,
        last_axle=0.5 * (trailer.axles - 1) * spacing,
        trailer_wheel=trailer.axle_height.value if trailer.axle_height else TRAILER_WHEEL_MM,
        guessed=tuple(guessed),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SideFrame:
    """Where millimetres land on the drawing: x from the bumper to the right (the rig faces left), z up from
    the ground."""

    left: float
    ground: float
    scale: float  # drawing units per mm

    def at(self, x_mm: float, z_mm: float) -> Point:
        """Return the place on the drawing."""
        return self.left + x_mm * self.scale, self.ground - z_mm * self.scale


def side_view(plan: Plan, outcome: Outcome, view: SideFrame) -> list[Shape]:
    """Return the shapes of one outcome's side view."""
    lengths = lengths_of(plan, outcome)
    rear_x = NOSE_MM + lengths.wheelbase
    ball_x = rear_x + lengths.overhang
    end = view.at(lengths.total, 0)[0]
    shapes: list[Shape] = [
        Path(points=((view.left - 12, view.ground), (end + 12, view.ground)), stroke=Stroke(width=1.6))
    ]
    shapes += _trailer(plan, outcome, view, lengths, ball_x)
    shapes += _vehicle(outcome, view, lengths, rear_x, ball_x)
    shapes += _band(plan, view, ball_x)
    shapes.append(Disc(centre=view.at(ball_x, outcome.height_mm.mean), radius=4.5, fill=BALL))
    shapes += _dimensions(plan, view, lengths, rear_x, ball_x)
    return shapes


def _vehicle(outcome: Outcome, view: SideFrame, lengths: Lengths, rear_x: float, ball_x: float) -> list[Shape]:
    pitch_deg = outcome.vehicle_pitch_deg.mean if outcome.vehicle_pitch_deg else 0.0
    place = _turned(view, (rear_x, VEHICLE_WHEEL_MM), math.radians(pitch_deg))
    front, tail = NOSE_MM, rear_x + max(lengths.overhang - 250.0, 500.0)
    step = lengths.wheelbase / 3000.0
    cab = NOSE_MM + 1500.0 * step
    outline = (
        (front - 850, 380), (front - 880, 900), (front - 800, 1080), (front - 50 * step, 1180),
        (front + 480 * step, 1780), (cab - 100 * step, 1800), (cab, 1150), (cab + 60, 1150), (cab + 60, 1000),
        (tail, 1000), (tail, 560), (rear_x, 480), (front, 420),
    )  # fmt: skip
    window = (
        (front + 60 * step, 1190), (front + 500 * step, 1690),
        (cab - 170 * step, 1700), (cab - 110 * step, 1190),
    )  # fmt: skip
    bar = (
        (tail - 300, 520),
        (ball_x - 60, outcome.height_mm.mean - 40),
        (ball_x, outcome.height_mm.mean - 40),
    )
    shapes: list[Shape] = [
        Path(points=tuple(place(*point) for point in outline), fill=BODY, stroke=BODY_EDGE),
        Path(points=tuple(place(*point) for point in window), fill="#ffffff", stroke=BODY_EDGE),
        Path(
            points=(place(*bar[0]), view.at(*bar[1]), view.at(*bar[2])),
            stroke=Stroke(colour="#51606f", width=3),
        ),
    ]
    return shapes + _wheel(view, front, VEHICLE_WHEEL_MM) + _wheel(view, rear_x, VEHICLE_WHEEL_MM)


def _trailer(plan: Plan, outcome: Outcome, view: SideFrame, lengths: Lengths, ball_x: float) -> list[Shape]:
    """Draw the trailer turned about its coupling by its pitch, on wheels at the axle group's place."""
    height = outcome.height_mm.mean
    place = _turned(view, (ball_x, height), math.radians(outcome.trailer_pitch_deg.mean))
    group_x, tail_x = ball_x + lengths.drawbar, ball_x + lengths.trailer
    deck_x = ball_x + 0.36 * lengths.drawbar
    deck = max(height, lengths.trailer_wheel + 60.0)
    frame = (
        (ball_x - 30, height - 45), (ball_x - 30, height + 45), (deck_x, deck + 60), (tail_x, deck + 60),
        (tail_x, deck - 60), (deck_x, deck - 60), (ball_x + 0.12 * lengths.drawbar, height - 45),
    )  # fmt: skip
    load = (
        (deck_x + 60, deck + 60), (deck_x + 60, deck + 560),
        (tail_x - 60, deck + 560), (tail_x - 60, deck + 60),
    )  # fmt: skip
    shapes: list[Shape] = [
        Path(points=tuple(place(*point) for point in load), fill="#faf5ec", stroke=TRAILER_EDGE),
        Path(points=tuple(place(*point) for point in frame), fill=TRAILER, stroke=TRAILER_EDGE),
    ]
    axles = plan.setup.trailer.axles
    for i in range(axles):
        offset = (i - (axles - 1) / 2.0) * lengths.spacing
        foot, top = view.at(group_x + offset, lengths.trailer_wheel), place(group_x + offset, deck - 60)
        shapes.append(Path(points=(foot, top), stroke=Stroke(colour="#7a5c33", width=3)))
        shapes += _wheel(view, group_x + offset, min(lengths.trailer_wheel, 0.48 * lengths.spacing + 40.0))
    level = Stroke(colour=LEVEL, width=1.1, dashes="6 4")
    shapes.append(Path(points=(view.at(ball_x, height), view.at(tail_x, height)), stroke=level))
    return shapes


def _band(plan: Plan, view: SideFrame, ball_x: float) -> list[Shape]:
    if not plan.target.has_band:
        return []
    low, high = plan.target.low_mm or 0.0, plan.target.high_mm or (plan.target.low_mm or 0.0) + 400.0
    half = 150.0
    corners = ((ball_x - half, low), (ball_x - half, high), (ball_x + half, high), (ball_x + half, low))
    return [Path(points=tuple(view.at(*corner) for corner in corners), fill=BAND, stroke=BAND_EDGE)]


def _dimensions(plan: Plan, view: SideFrame, lengths: Lengths, rear_x: float, ball_x: float) -> list[Shape]:
    """Draw the lengths under the ground; a guessed one says so."""
    lever = lengths.overhang
    spans = (
        ("wheelbase", NOSE_MM, rear_x, lengths.wheelbase),
        ("overhang", rear_x, ball_x, lever),
        ("drawbar", ball_x, ball_x + lengths.drawbar, lengths.drawbar),
    )
    shapes: list[Shape] = []
    y = view.ground + 22
    for name, start, end, length in spans:
        x0, x1 = view.at(start, 0)[0], view.at(end, 0)[0]
        shapes.append(Path(points=((x0, y), (x1, y)), stroke=GREY))
        for x in (x0, x1):
            shapes.append(Path(points=((x, y - 5), (x, y + 5)), stroke=GREY))
        known = f"{length:.0f}" if name not in lengths.guessed else say("not given")
        shapes.append(_label((0.5 * (x0 + x1), y + 16), f"{shown(LENGTHS[name])} {known}", "middle"))
    return shapes


def _label(at: Point, text: str, anchor: Anchor) -> Text:
    return Text(at=at, text=text, size=12, anchor=anchor, colour="#444444")


def _wheel(view: SideFrame, x_mm: float, radius_mm: float) -> list[Shape]:
    centre = view.at(x_mm, radius_mm)
    return [
        Disc(centre=centre, radius=radius_mm * view.scale, fill="#4a4a4a", stroke=Stroke(colour="#222222")),
        Disc(centre=centre, radius=0.5 * radius_mm * view.scale, fill="#e8e8e8"),
    ]


def _turned(view: SideFrame, about_mm: Point, nose_up_rad: float) -> Callable[[float, float], Point]:
    """Return a placing function that turns a body nose-up (its nose is to the left) about a point."""
    sin, cos = math.sin(nose_up_rad), math.cos(nose_up_rad)

    def place(x_mm: float, z_mm: float) -> Point:
        dx, dz = x_mm - about_mm[0], z_mm - about_mm[1]
        return view.at(about_mm[0] + dx * cos + dz * sin, about_mm[1] + dz * cos - dx * sin)

    return place
