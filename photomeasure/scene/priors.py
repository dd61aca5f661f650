"""What is assumed where nothing was measured: how the sheet stands, where the centre is to it, tag, mark and ball, as priors.

The print's size, the ground, a second sheet and tags on the bar have modules of their own beside this one, and take the
widths of judgements from here. Nothing here depends on a picture. Confidence labels: "read", "secondary", "memory", "computed" as in the reference
tables; "judgement" is our own estimate and is printed as such in the budget.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from calib.words.said import said
from photomeasure.scene.scene import CENTRE, Prior, edge_of
from photomeasure.uncertainty.convolution import trapezoid_half_width

if TYPE_CHECKING:
    from photomeasure.asked.bay_file import CouplingPlane

SQRT3 = float(np.sqrt(3.0))
DEG = float(np.pi / 180.0)
# Standard uncertainty over half-width where the limits are themselves guesses: a curvilinear trapezoid, JCGM 101:2008 6.4.3
GUESSED_U = 1.0 / trapezoid_half_width(1.0)

SQUARE_STAND_RAD = 0.5 * DEG  # lean: stood against something square
FOOT_ROLL_RAD = 0.3 * DEG  # roll: the foot line on the ground, one end 1 mm higher than the other
FOOT_CUT_MM = 0.5 * GUESSED_U  # cut along the printed line to half a millimetre
FOOT_GAP_MM = 0.2  # grit, texture, a bowed edge: a foot line stands on the highest of them, never below
IN_PLANE_DEPTH_MM = 20.0 * GUESSED_U  # "in the sheet's plane, \N{PLUS-MINUS SIGN} 20 mm"
# The sheet's plane is not the rig's: turned by eye until it looks square, one side 15 mm nearer than the other
SHEET_TURN_RAD = 4.0 * DEG
TAG_DEPTH_MEAN_MM, TAG_DEPTH_U_MM = (
    -20.0,
    25.0,
)  # a tag sits on the coupling's near side, which is nearer than its centre
TAG_PLACEMENT_MM = 2.0
# With the kit's gauge, rectangles of half a millimetre: the ball's top read, the gauge stood twice, the tag put to the line; and half of a
# ball's diameter on a print at 97 to 100 % (0.22). Judgement; not yet tried by hands.
TAG_BY_GAUGE_MM = 0.65
HEAD_MARK_MM, PIN_MARK_MM = (
    4.5,
    2.0,
)  # the centre's height judged by eye on a head that hides it; on a bush's round face
TAG_TURN_RAD, TAG_TILT_RAD = 20.0 * DEG, 6.0 * DEG
GROUND_SHEET_TILT_RAD, GROUND_SHEET_LIFT_MM = 0.15 * DEG, 0.2

BALL_WORN_MM = 1.0  # worn-ball test diameter 49.00-49.13 (EU 44/2014 Annex V 6.5, read); new 49.87-50.00 (memory)
# Common shift of a ball's edge by tone curve and blur: renders with a true print gave scales that scatter by 0.5 % where
# 0.4 px claimed 1.1 % (radius 37 px); at 1600 px one was 0.4 px out, which two of these hold.
BALL_EDGE_PX = 0.25


def sheet_priors() -> list[Prior]:
    """How the upright sheet stands."""
    square = said("stood against something square, 0.5 degrees (judgement)")
    return [
        Prior(
            quantity="sheet lean",
            coefficients={"sheet.lean": 1.0},
            mean=0.0,
            u=SQUARE_STAND_RAD,
            unit="rad",
            source=square,
        ),
        Prior(
            quantity="sheet roll",
            coefficients={"sheet.roll": 1.0},
            mean=0.0,
            u=FOOT_ROLL_RAD,
            unit="rad",
            source=said("foot line on hard ground, one end within 1 mm of the other (judgement)"),
        ),
        Prior(
            quantity="foot cut",
            coefficients={"sheet.cut": 1.0},
            mean=0.0,
            u=FOOT_CUT_MM,
            unit="mm",
            source=said("cut along the foot line to half a millimetre (judgement)"),
            distribution="curvilinear trapezoid",
        ),
        Prior(
            quantity="foot gap",
            coefficients={"sheet.gap": 1.0, "sheet.cut": -1.0},
            mean=FOOT_GAP_MM,
            u=FOOT_GAP_MM,
            unit="mm",
            source=said("the foot stands on grit and texture, never below the ground (judgement)"),
            distribution="exponential",
        ),
    ]


def ground_sheet_priors() -> list[Prior]:
    """How the ground sheet lies: where is free, how flat is not."""
    flat = said("paper flat on hard ground (judgement)")
    wide = said("free")
    return [
        Prior(quantity="ground sheet place", coefficients={"flat.x": 1.0}, mean=0.0, u=2000.0, unit="mm", source=wide),
        Prior(quantity="ground sheet place", coefficients={"flat.y": 1.0}, mean=0.0, u=2000.0, unit="mm", source=wide),
        Prior(quantity="ground sheet place", coefficients={"flat.yaw": 1.0}, mean=0.0, u=3.0, unit="rad", source=wide),
        Prior(quantity="ground sheet flatness", coefficients={"flat.tilt_x": 1.0}, mean=0.0, u=GROUND_SHEET_TILT_RAD, unit="rad", source=flat),
        Prior(quantity="ground sheet flatness", coefficients={"flat.tilt_y": 1.0}, mean=0.0, u=GROUND_SHEET_TILT_RAD, unit="rad", source=flat),
        Prior(quantity="ground sheet flatness", coefficients={"flat.lift": 1.0}, mean=0.1, u=GROUND_SHEET_LIFT_MM, unit="mm", source=flat),
    ]  # fmt: skip


def stand_priors() -> list[Prior]:
    """Where the upright sheet stands in a bay: free on its ground."""
    return [
        Prior(
            quantity="sheet place", coefficients={f"stand.{name}": 1.0}, mean=0.0, u=u, unit=unit, source=said("free")
        )
        for name, u, unit in (("x", 10000.0, "mm"), ("y", 10000.0, "mm"), ("yaw", 6.0, "rad"))
    ]


def depth_priors(aside_mm: float) -> list[Prior]:
    """How far behind the sheet's plane the centre is, `aside_mm` to the right of the foot line's middle."""
    depth = Prior(
        quantity="depth",
        coefficients={"centre.y": 1.0, "rig.turn": -aside_mm},
        mean=0.0,
        u=IN_PLANE_DEPTH_MM,
        unit="mm",
        source=said("coupling centre in the sheet's plane, ± 20 mm (instructions)"),
        distribution="curvilinear trapezoid",
    )
    return [depth, _turn(aside_mm)]


def _turn(aside_mm: float) -> Prior:
    """What the depth grows by with the distance aside: the sheet is not turned as the rig is."""
    return Prior(
        quantity="sheet turn",
        coefficients={"rig.turn": 1.0},
        mean=0.0,
        u=SHEET_TURN_RAD,
        unit="rad",
        source=said(
            "sheet set square to the rig by eye, 4 degrees, {aside_mm:.0f} mm aside (judgement)", aside_mm=abs(aside_mm)
        ),
    )


def tag_priors(*, by_gauge: bool = False) -> list[Prior]:
    """How a centre tag lies on the coupling's side, and how well a person placed it: by eye, or with the kit's gauge."""
    stuck = said("stuck on the coupling's side (judgement)")
    placed = (
        said("its height carried over from the bare ball with the gauge, {mm:g} mm (judgement)", mm=TAG_BY_GAUGE_MM)
        if by_gauge
        else said("a person puts the tag's middle at the centre's height to 2 mm (judgement)")
    )
    return [
        Prior(quantity="tag lie", coefficients={"tag.turn": 1.0}, mean=0.0, u=TAG_TURN_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.lean": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.roll": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(
            quantity="tag placement",
            coefficients={"tag.placement": 1.0},
            mean=0.0,
            u=TAG_BY_GAUGE_MM if by_gauge else TAG_PLACEMENT_MM,
            unit="mm",
            source=placed,
        ),
    ]


def mark_prior(coupling: str) -> Prior:
    """A mark where the centre itself is hidden: on the head of a coupled ball, or on the face of a pin's bush."""
    where, u_mm = (
        said(
            "the centre's height judged by eye on a head that hides the ball, {u_mm:g} mm (judgement)",
            u_mm=HEAD_MARK_MM,
        ),
        HEAD_MARK_MM,
    )
    if coupling == "pin":
        where, u_mm = (
            said("the centre's height judged by eye on a pin's bush, {u_mm:g} mm (judgement)", u_mm=PIN_MARK_MM),
            PIN_MARK_MM,
        )
    return Prior(
        quantity="mark placement",
        coefficients={"mark.placement": 1.0},
        mean=0.0,
        u=u_mm,
        unit="mm",
        source=where,
    )


def tag_depth_priors(aside_mm: float) -> list[Prior]:
    """A tag, or a mark, on the coupling's near side is nearer to the camera than the sheet's plane."""
    depth, turn = depth_priors(aside_mm)
    nearer = replace(
        depth,
        mean=TAG_DEPTH_MEAN_MM,
        u=TAG_DEPTH_U_MM,
        source=said("on the near side of a coupling that is in the sheet's plane (judgement)"),
        distribution="normal",
    )
    return [nearer, turn]


def ball_priors(diameter_mm: float, photos: Collection[int] = (0,), looks_mm: float | None = None) -> list[Prior]:
    """A ball's radius: new to worn; and the shift of its edge, which each photograph has for itself.

    looks_mm: another size that it looks like: then it may be either, and tells nothing of the print.
    """
    if looks_mm is not None:
        return [_of_either(diameter_mm, looks_mm), *(ball_edge_prior(photo) for photo in photos)]
    return [
        Prior(
            quantity="ball diameter",
            coefficients={"ball.radius": 2.0},
            mean=diameter_mm - BALL_WORN_MM / 4,
            u=BALL_WORN_MM / (2 * SQRT3),
            unit="mm",
            source=said(
                "new (49.87-50.00 for 50 mm, ISO 1103 from memory) to half worn; worn out is 49.0 (EU 44/2014, read)"
            ),
            distribution="curvilinear trapezoid",
        ),
        *(ball_edge_prior(photo) for photo in photos),
    ]


def _of_either(stated_mm: float, looks_mm: float) -> Prior:
    """The mean and the spread of two sizes that are as likely, each new to half worn."""
    worn_u = BALL_WORN_MM / (2 * SQRT3)
    return Prior(
        quantity="ball diameter",
        coefficients={"ball.radius": 2.0},
        mean=(stated_mm + looks_mm) / 2 - BALL_WORN_MM / 4,
        u=float(np.hypot((stated_mm - looks_mm) / 2, worn_u)),
        unit="mm",
        source=said(
            "{stated_mm:g} mm was stated, but it looks like one of {looks_mm:g} mm: either, new to half worn",
            stated_mm=stated_mm,
            looks_mm=looks_mm,
        ),
    )


def ball_edge_prior(photo: int) -> Prior:
    """How far a photograph's tone curve and blur shift the edge of a ball, px."""
    return Prior(
        quantity="ball edge",
        coefficients={edge_of(photo): 1.0},
        mean=0.0,
        u=BALL_EDGE_PX,
        unit="px",
        source=said("tone curve and blur (judgement)"),
    )


def plane_prior(plane: CouplingPlane) -> Prior:
    """The coupling's centre lies in the bay's coupling plane."""
    normal = np.array(plane.normal) / np.linalg.norm(plane.normal)
    return Prior(
        quantity="depth",
        coefficients=dict(zip(CENTRE, normal.tolist(), strict=True)),
        mean=float(normal @ np.array(plane.point_mm)),
        u=plane.u_mm,
        unit="mm",
        source=said("coupling plane of the bay file"),
    )
