"""What is assumed where nothing was measured: every prior of the scene, with its value and where it comes from.

Nothing here depends on a picture. Confidence labels: "read", "secondary", "memory", "computed" as in the reference
tables; "judgement" is our own estimate and is printed as such in the budget.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from calib.kit.sheet import FIRST_BARS_MM
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import CouplingPlane
from photomeasure.asked.carried import Carried
from photomeasure.scene.scene import BAR_TURNS, CENTRE, OFFSET, Prior, edge_of

SQRT3 = float(np.sqrt(3.0))
DEG = float(np.pi / 180.0)

# A straight rule read to half a millimetre, and the rule's own error over its length (judgement).
BAR_READING_MM = 0.25 / SQRT3
BAR_FINE_READING_MM = 0.1 / SQRT3  # the typed value is finer than half a millimetre: calipers, or a finer rule
RULE_ERROR_MM = 0.05
# Viewers' "fit" prints at 96-97 %, Letter on A4 at 97.3 % (published ratios, computed): twice this covers them.
PRINT_SCALE_U = 0.02
# Printer feed error on one axis, 0.4 % seen (published): difference between the axes.
PRINT_ANISOTROPY_U = 0.004 / SQRT3

SQUARE_STAND_RAD = 0.5 * DEG  # lean: stood against something square
FOOT_ROLL_RAD = 0.3 * DEG  # roll: the foot line on the ground, one end 1 mm higher than the other
FOOT_GAP_MM = 0.5 / SQRT3  # cut along the printed line to half a millimetre
IN_PLANE_DEPTH_MM = 20.0 / SQRT3  # "in the sheet's plane, +/- 20 mm"
TAG_DEPTH_MEAN_MM, TAG_DEPTH_U_MM = (
    -20.0,
    25.0,
)  # a tag sits on the coupling's near side, which is nearer than its centre
TAG_PLACEMENT_MM = 2.0
TAG_TURN_RAD, TAG_TILT_RAD = 20.0 * DEG, 6.0 * DEG
GROUND_TEXTURE_MM = 0.2  # hard ground (judgement)
LEAST_RISE_MM = 1e-3  # a prior needs a width: nothing that anybody would see
GROUND_SHEET_TILT_RAD, GROUND_SHEET_LIFT_MM = 0.15 * DEG, 0.2

BALL_WORN_MM = 1.0  # worn-ball test diameter 49.00-49.13 (EU 44/2014 Annex V 6.5, read); new 49.87-50.00 (memory)
BALL_EDGE_PX = 0.4  # common shift of a ball's edge by tone curve and blur (judgement)


BAR_TAG_SOURCE = "stuck on the tow bar by eye (judgement)"
BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD = 45.0 * DEG, 15.0 * DEG, 20.0 * DEG
# Between two photographs: the sheet is stood up again (turned by 4 degrees each time), the bar pitches under the load.
BAR_MOVED_RAD = (6.0 * DEG, 1.5 * DEG, 2.5 * DEG)
CARRIED = "carried over"
LEAST_CARRIED = 1e-5  # mm or rad: a prior needs a width


def bar_u_mm(reading_mm: float) -> float:
    """Standard uncertainty of a bar's reading: a value on the half-millimetre grid was read to half a millimetre."""
    return float(np.hypot(BAR_READING_MM if _on_half_millimetre(reading_mm) else BAR_FINE_READING_MM, RULE_ERROR_MM))


def _on_half_millimetre(reading_mm: float) -> bool:
    return abs(reading_mm * 2 - round(reading_mm * 2)) < 1e-9


def _bar_source(reading_mm: float) -> str:
    half_width_mm = SQRT3 * (BAR_READING_MM if _on_half_millimetre(reading_mm) else BAR_FINE_READING_MM)
    return (
        f"printed bar read on a rule to +/- {half_width_mm:g} mm (rectangle), the rule itself {RULE_ERROR_MM:g} mm "
        "(judgement)"
    )


def print_priors(bars: Bars, printed_mm: tuple[float, float] = FIRST_BARS_MM) -> list[Prior]:
    """Scale of the print on both axes: a wide prior always, the check bars where they were measured.

    printed_mm: length of the check bars along x and y as drawn.

    What is known of printers' feed is a rectangle for the difference of the axes. Beside two readings it tells nothing
    (their own rectangles lie inside it), and taken for a normal prior it would make both scales surer than they are:
    it goes in only where a bar was not measured.
    """
    priors = [
        Prior(
            quantity="print scale",
            coefficients={"print.x": 0.5, "print.y": 0.5},
            mean=1.0,
            u=PRINT_SCALE_U,
            unit="1",
            source="usual 'fit to page' ratios 0.96-1 (published)",
        )
    ]
    if bars.x_mm is None or bars.y_mm is None:
        priors.append(
            Prior(
                quantity="print scale, x against y",
                coefficients={"print.x": 1.0, "print.y": -1.0},
                mean=0.0,
                u=PRINT_ANISOTROPY_U,
                unit="1",
                source="printer feed error of one axis, 0.4 % seen (published)",
                distribution="rectangular",
            )
        )
    for name, reading, drawn_mm in (("x", bars.x_mm, printed_mm[0]), ("y", bars.y_mm, printed_mm[1])):
        if reading is not None:
            priors.append(
                Prior(
                    quantity=f"check bar {name}",
                    coefficients={f"print.{name}": drawn_mm},
                    mean=reading,
                    u=bar_u_mm(reading),
                    unit="mm",
                    source=_bar_source(reading),
                    distribution="rectangular",
                )
            )
    return priors


def sheet_priors() -> list[Prior]:
    """How the upright sheet stands."""
    square = "stood against something square, 0.5 degrees (judgement)"
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
            source="foot line on hard ground, one end within 1 mm of the other (judgement)",
        ),
        Prior(
            quantity="foot gap",
            coefficients={"sheet.gap": 1.0},
            mean=0.0,
            u=FOOT_GAP_MM,
            unit="mm",
            source="cut along the foot line to half a millimetre (judgement)",
            distribution="rectangular",
        ),
    ]


def ground_sheet_priors() -> list[Prior]:
    """How the ground sheet lies: where is free, how flat is not."""
    flat = "paper flat on hard ground (judgement)"
    wide = "free"
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
        Prior(quantity="sheet place", coefficients={f"stand.{name}": 1.0}, mean=0.0, u=u, unit=unit, source="free")
        for name, u, unit in (("x", 10000.0, "mm"), ("y", 10000.0, "mm"), ("yaw", 6.0, "rad"))
    ]


def depth_prior() -> Prior:
    return Prior(
        quantity="depth",
        coefficients={"centre.y": 1.0},
        mean=0.0,
        u=IN_PLANE_DEPTH_MM,
        unit="mm",
        source="coupling centre in the sheet's plane, +/- 20 mm (instructions)",
        distribution="rectangular",
    )


def tag_priors() -> list[Prior]:
    """How a centre tag lies on the coupling's side, and how well a person placed it."""
    stuck = "stuck on the coupling's side (judgement)"
    return [
        Prior(quantity="tag lie", coefficients={"tag.turn": 1.0}, mean=0.0, u=TAG_TURN_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.lean": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.roll": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(
            quantity="tag placement",
            coefficients={"tag.placement": 1.0},
            mean=0.0,
            u=TAG_PLACEMENT_MM,
            unit="mm",
            source="a person puts the tag's middle at the centre's height to 2 mm (judgement)",
        ),
    ]


def tag_depth_prior() -> Prior:
    """A tag sits on the coupling's near side, which is nearer to the camera than the sheet's plane."""
    return Prior(
        quantity="depth",
        coefficients={"centre.y": 1.0},
        mean=TAG_DEPTH_MEAN_MM,
        u=TAG_DEPTH_U_MM,
        unit="mm",
        source="tag on the near side of a coupling that is in the sheet's plane (judgement)",
    )


def bar_tag_priors() -> list[Prior]:
    """How a bar tag lies: stuck upright by eye on something steep; where the centre is from it, the photograph tells."""
    return [
        Prior(quantity="bar tag lie", coefficients={name: 1.0}, mean=0.0, u=u, unit="rad", source=BAR_TAG_SOURCE)
        for name, u in zip(BAR_TURNS, (BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD), strict=True)
    ]


def carried_priors(carried: Carried) -> list[Prior]:
    """Where the centre was in the bar tag's frame and how that lay, as the photograph from before tells.

    Their covariance is taken apart into independent combinations. What may have turned since (the sheet against the rig,
    the tow bar under the load) is added to the tag's angles.
    """
    moved = np.diag([0.0, 0.0, 0.0, *(u**2 for u in BAR_MOVED_RAD)])
    variances, axes = np.linalg.eigh(carried.matrix + moved)
    names = (*OFFSET, *BAR_TURNS)
    return [
        Prior(
            quantity=CARRIED,
            coefficients=dict(zip(names, axis.tolist(), strict=True)),
            mean=float(axis @ np.array(carried.mean)),
            u=float(np.sqrt(max(variance, LEAST_CARRIED**2))),
            unit="mm, rad",
            source=f"carried over by bar tag {carried.tag} from {carried.record}",
        )
        for variance, axis in zip(variances, axes.T, strict=True)
    ]


def ball_priors(diameter_mm: float, photos: Collection[int] = (0,)) -> list[Prior]:
    """A ball's radius: new to worn; and the shift of its edge, which each photograph has for itself."""
    return [
        Prior(
            quantity="ball diameter",
            coefficients={"ball.radius": 2.0},
            mean=diameter_mm - BALL_WORN_MM / 4,
            u=BALL_WORN_MM / (2 * SQRT3),
            unit="mm",
            source="new (49.87-50.00 for 50 mm, ISO 1103 from memory) to half worn; worn out is 49.0 (EU 44/2014, read)",
            distribution="rectangular",
        ),
        *(ball_edge_prior(photo) for photo in photos),
    ]


def ball_edge_prior(photo: int) -> Prior:
    return Prior(
        quantity="ball edge",
        coefficients={edge_of(photo): 1.0},
        mean=0.0,
        u=BALL_EDGE_PX,
        unit="px",
        source="tone curve and blur (judgement)",
    )


def ground_prior(distance_mm: float, *, known_level: bool) -> Prior:
    """Ground under the coupling against the ground under the foot line, `distance_mm` away.

    Hard and level: 0.2 mm of texture and 2 mm a metre; unknown: 1 mm and 1 degree (judgement).
    """
    texture_mm, slope_u = (GROUND_TEXTURE_MM, 0.002) if known_level else (1.0, DEG)
    said = "hard, level ground" if known_level else "ground not known to be level"
    source = f"{said}: texture {texture_mm:g} mm, slope {1000 * slope_u:.3g} mm per metre over {distance_mm:.0f} mm (judgement)"
    return _rise("ground", "ground.rise", float(np.hypot(texture_mm, slope_u * distance_mm)), source)


def levelled_ground_priors(distance_mm: float, within_mm_per_m: float) -> list[Prior]:
    """The same where a level was read: texture, and a slope of no more than within_mm_per_m either way (a rectangle)."""
    texture = _rise("ground", "ground.rise", GROUND_TEXTURE_MM, "texture of hard ground (judgement)")
    slope = _rise(
        "ground slope",
        "ground.slope_rise",
        max(within_mm_per_m * distance_mm / 1000.0 / SQRT3, LEAST_RISE_MM),
        f"a level read: within {within_mm_per_m:g} mm per metre over {distance_mm:.0f} mm",
    )
    return [texture, replace(slope, distribution="rectangular")]


def _rise(quantity: str, parameter: str, u_mm: float, source: str) -> Prior:
    return Prior(quantity=quantity, coefficients={parameter: 1.0}, mean=0.0, u=u_mm, unit="mm", source=source)


def plane_prior(plane: CouplingPlane) -> Prior:
    """The coupling's centre lies in the bay's coupling plane."""
    normal = np.array(plane.normal) / np.linalg.norm(plane.normal)
    return Prior(
        quantity="depth",
        coefficients=dict(zip(CENTRE, normal.tolist(), strict=True)),
        mean=float(normal @ np.array(plane.point_mm)),
        u=plane.u_mm,
        unit="mm",
        source="coupling plane of the bay file",
    )
