"""What differs between groups of pictures, as rows. Figures are common practice, no source, unless they say so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One group.

    distance_mm, yaw_deg:  range of the camera's horizontal distance from the sheet and of its angle to the sheet's
                           normal (its sign is drawn).
    above_mm:              lens height, relative to the coupling; None where lens_mm says it from the ground.
    photos:                photographs of one scene; several come with the ground sheet.
    under:                 the sheet stands under the coupling, as asked for; else so or up to 330 mm beside it.
    """

    distance_mm: tuple[float, float] = (1500.0, 2500.0)
    yaw_deg: tuple[float, float] = (0.0, 20.0)
    above_mm: tuple[float, float] | None = (-150.0, 150.0)
    lens_mm: tuple[float, float] = (1400.0, 1700.0)
    sun: bool | None = None  # None: drawn
    overexposed: bool = False
    shadow: bool = False
    hidden_share: float = 0.0
    shrunk: bool = False
    photos: int = 1
    under: bool = False


CONDITIONS = {
    "followed": Condition(),
    "under": Condition(under=True),
    "chat": Condition(yaw_deg=(0.0, 30.0), shrunk=True),
    "standing": Condition(above_mm=None, yaw_deg=(0.0, 30.0)),
    "sun": Condition(sun=True, overexposed=True),
    "shadow": Condition(sun=True, shadow=True),
    "hidden": Condition(hidden_share=0.2),
    "yaw": Condition(yaw_deg=(25.0, 35.0)),
    "far": Condition(distance_mm=(3000.0, 4000.0), yaw_deg=(0.0, 30.0)),
    "ground-set": Condition(above_mm=None, lens_mm=(300.0, 1600.0), yaw_deg=(0.0, 30.0), photos=3),
}

# Nuisances: standard deviations, or half widths where named so.
LEAN_DEG = 0.5  # stood against something square
ROLL_DEG = 0.3
CUT_HALF_WIDTH_MM = 0.5
DEPTH_HALF_WIDTH_MM = 20.0
PRINT_SCALE = 0.003  # common to both axes
PRINT_FEED_HALF_WIDTH = 0.002  # one axis against the other: 0.4 % seen
BAR_READING_STEP_MM = 0.5  # a rule read to the half millimetre
GROUND_SLOPE = 0.002  # hard and level: 2 mm a metre
GROUND_BUMP_MM = 0.2
HEIGHT_MM = (250.0, 700.0)
UNDER_LATERAL_MM = 15.0
COUPLED_HEIGHT_MM = (350.0, 700.0)  # the drawbar passes above the sheet
BALL_MM = (49.87, 50.0)  # new: ISO 1103, from memory
FOCAL_35MM = (24.0, 28.0)
FOCAL_UNITS = 0.03  # same model, different units: published
PRINCIPAL_SCALE = 0.0055  # of the width, Laplace: median 0.38 %, 90 % at 1.27 % (published 0.33-0.44, 1.4-1.6)
DISTORTION_MEDIAN_PX, DISTORTION_LOG_SD = 5.4, 0.634  # per 4000 px, 10-90 %: 2.5-12.7: published
TANGENTIAL = 1e-4
