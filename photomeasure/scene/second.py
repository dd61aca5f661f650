"""What is known of a second upright sheet in the picture: another print, stood up on the same ground.

The line between the two feet is the ground: what a foot line of 200 mm tells to a few millimetres a metre (how the sheet is
turned on its foot, how the ground falls aside), two feet tell over all of the distance between them.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.scene.ground import LEAST_RISE_MM, evenness
from photomeasure.scene.print_scale import CARD_ERROR, print_priors
from photomeasure.scene.priors import IN_PLANE_DEPTH_MM, sheet_priors
from photomeasure.scene.scene import BETWEEN, SECOND_PLACE, SECOND_PRINT, Prior

# Two prints that left one printer with one setting: its feed and the paper's moisture, on each axis (0.1-0.2 % published for each)
ALIKE_U = 0.001
LINE = said("on the line between the two feet")
_FREE_MM, _FREE_RAD = 10000.0, 1.0
_PARTS = {
    "sheet.lean": "second.lean",
    "sheet.roll": "second.roll",
    "sheet.cut": "second.cut",
    "sheet.gap": "second.lift",
}
_OF_PRINT = {"print.x": SECOND_PRINT[0], "print.y": SECOND_PRINT[1]}
_OF_SECOND = {**_OF_PRINT, CARD_ERROR: "second_card.error"}
_OF_BOTH = ("rule", "paper humidity")


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """From the middle of the first foot line to that of the second, in the plane of the ground, mm: right, away."""

    right_mm: float
    away_mm: float

    @property
    def mm(self) -> float:
        """From foot to foot."""
        return float(np.hypot(self.right_mm, self.away_mm))

    def share(self, right_mm: float) -> float:
        """How far along the line between the feet a place in the first sheet's plane is: 0 at the first foot, 1 at the second."""
        return right_mm * self.right_mm / self.mm**2

    def to_nearer_foot_mm(self, right_mm: float) -> float:
        """How far a place in the first sheet's plane is from the nearer foot."""
        return float(min(abs(right_mm), np.hypot(right_mm - self.right_mm, self.away_mm)))


def second_stance_priors(apart: Apart, *, flat: bool, level_within_mm_per_m: float | None) -> list[Prior]:
    """How the second sheet stands, and its ground; flat, level_within_mm_per_m: as of `ground.ground_priors`."""
    ground = evenness(flat=flat, level_within_mm_per_m=level_within_mm_per_m)
    free = [
        Prior(quantity="second sheet place", coefficients={name: 1.0}, mean=0.0, u=u, unit=unit, source=said("free"))
        for name, u, unit in (*((name, _FREE_MM, "mm") for name in SECOND_PLACE), ("second.yaw", _FREE_RAD, "rad"))
    ]
    between = Prior(
        quantity="ground between the sheets",
        coefficients={BETWEEN: 1.0},
        mean=0.0,
        u=max(ground.uneven * apart.mm, LEAST_RISE_MM),
        unit="mm",
        source=said("{ground}, over {mm:.0f} mm from foot to foot", ground=ground.source(), mm=apart.mm),
    )
    return [*free, *_stance(), between]


def _stance() -> list[Prior]:
    found = []
    for prior in sheet_priors():
        coefficients = {_PARTS[name]: value for name, value in prior.coefficients.items()}
        if prior.quantity == "foot gap":
            coefficients[BETWEEN] = -1.0
        found.append(replace(prior, quantity=f"second {prior.quantity}", coefficients=coefficients))
    return found


def second_print_priors(bars: Bars, printed_mm: tuple[float, float], first: Collection[Prior] = ()) -> list[Prior]:
    """The scale of the second print: by its own bars where they were measured, else as the first print's.

    printed_mm: length of the check bars as drawn. first: what is known of the first print, whose ruler and air are this one's
    too; where that was not read on a ruler, they are this one's alone. A card is laid on each print by itself.
    """
    known = {prior.quantity for prior in first}
    measured = bars.x_mm is not None or bars.y_mm is not None
    found = []
    for prior in print_priors(bars, printed_mm) if measured else ():
        if prior.quantity not in _OF_BOTH:
            coefficients = {_OF_SECOND.get(name, name): value for name, value in prior.coefficients.items()}
            found.append(replace(prior, quantity=f"second {prior.quantity}", coefficients=coefficients))
        elif prior.quantity not in known:
            found.append(prior)
    if bars.x_mm is not None and bars.y_mm is not None:
        return found
    return [
        *found,
        *(
            Prior(
                quantity="second print",
                coefficients={other: 1.0, first: -1.0},
                mean=0.0,
                u=ALIKE_U,
                unit="1",
                source=said("both prints from one printer with one setting, 0.1 % on each axis (judgement)"),
            )
            for first, other in _OF_PRINT.items()
        ),
    ]


def in_line_prior(apart: Apart, right_mm: float) -> Prior:
    """Depth of a coupling that stands between the two feet: on the line between them, however each sheet is turned."""
    return Prior(
        quantity="depth",
        coefficients={"centre.y": 1.0, SECOND_PLACE[1]: -apart.share(right_mm)},
        mean=0.0,
        u=IN_PLANE_DEPTH_MM,
        unit="mm",
        source=said("coupling centre {line}, ± 20 mm (instructions)", line=LINE),
        distribution="curvilinear trapezoid",
    )
