"""What each drop or rise does to the rig, from the same draws for all of them so that they compare fairly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.rig.loads import Check, load_checks
from photomeasure.rig.model import RigModel
from photomeasure.rig.quantities_said import called
from photomeasure.rig.setup import Level, Option, Ratings
from photomeasure.rig.spread import COVERAGE, Spread, spread
from photomeasure.rig.target import Target
from photomeasure.statics import kg_from_n

__all__ = ["AS_MEASURED", "COVERAGE", "Outcome", "Spread", "Verdict", "outcome", "spread"]

Array = NDArray[np.float64]
Verdict = Literal["within", "above", "below", "undecided", "no-band"]

AS_MEASURED = Option(name="as it is", drop_mm=0.0, u_mm=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One option's result. Pitches are nose-up positive; axle changes are against the vehicle without a
    trailer."""

    name: str
    offset_mm: float  # up positive, against the ball as measured
    extra_lever_mm: float
    height_mm: Spread
    ball_load_kg: Spread
    trailer_pitch_deg: Spread
    vehicle_pitch_deg: Spread | None
    rear_change_kg: Spread | None
    front_change_kg: Spread | None
    group_difference_kg: Spread | None
    p_inside: float | None
    p_above: float | None
    p_below: float | None
    p_level: float
    p_axle_off_ground: float | None
    verdict: Verdict
    checks: tuple[Check, ...] = ()

    @property
    def overloaded(self) -> tuple[Check, ...]:
        """Typed ratings that are not surely kept."""
        return tuple(check for check in self.checks if check.failed)

    @property
    def unusual(self) -> tuple[Check, ...]:
        """Loads that are more likely outside what is usual than not."""
        return tuple(check for check in self.checks if check.practice and (check.p_out or 0.0) > 0.5)

    @property
    def level(self) -> bool:
        """More likely level than not: a preference of running, so it is judged on the balance of
        probability."""
        return self.p_level >= 0.5

    @property
    def good(self) -> bool:
        """Inside the band at the stated confidence (or no band applies), and level."""
        return self.verdict in ("within", "no-band") and self.level

    @property
    def called(self) -> str:
        """The name as a person reads it."""
        return called(self.name, self.offset_mm)

    @property
    def move(self) -> str:
        """The move in words: "90 mm down"."""
        if self.offset_mm == 0.0:
            return "0 mm"
        if self.offset_mm < 0:
            return said("{mm:g} mm down", mm=-self.offset_mm)
        return said("{mm:g} mm up", mm=self.offset_mm)


def outcome(
    model: RigModel, option: Option, tolerance_mm: Array, target: Target, level: Level, ratings: Ratings
) -> Outcome:
    """Return what an option does; tolerance_mm, (N,), are draws of how far the part is off its stated
    drop."""
    response = model.respond(option.offset_mm + tolerance_mm, option.extra_lever_mm)
    below, inside, above = _chances(response.height_mm, target)
    pitch_deg = np.degrees(response.trailer_pitch_rad)
    lightest = response.lightest_axle_n
    return Outcome(
        name=option.name,
        offset_mm=option.offset_mm + 0.0,  # never -0.0
        extra_lever_mm=option.extra_lever_mm,
        height_mm=spread(response.height_mm),
        ball_load_kg=spread(np.asarray(kg_from_n(response.ball_load_n))),
        trailer_pitch_deg=spread(pitch_deg),
        vehicle_pitch_deg=_degrees(response.vehicle_pitch_rad),
        rear_change_kg=_kilograms(response.rear_change_n),
        front_change_kg=_kilograms(response.front_change_n),
        group_difference_kg=_kilograms(response.group_difference_n),
        p_inside=inside if target.has_band else None,
        p_above=above if target.has_band else None,
        p_below=below if target.has_band else None,
        p_level=float(np.mean((pitch_deg >= level.ends_deg[0]) & (pitch_deg <= level.ends_deg[1]))),
        p_axle_off_ground=None if lightest is None else float(np.mean(lightest < 0.0)),
        verdict=_verdict(below, inside, above, target),
        checks=load_checks(model, response, ratings),
    )


def _chances(height_mm: Array, target: Target) -> tuple[float, float, float]:
    """Return the shares of draws below, inside and above the band, its ends inside."""
    below = 0.0 if target.low_mm is None else float(np.mean(height_mm < target.low_mm))
    above = 0.0 if target.high_mm is None else float(np.mean(height_mm > target.high_mm))
    return below, max(0.0, 1.0 - below - above), above


def _verdict(below: float, inside: float, above: float, target: Target) -> Verdict:
    if not target.has_band:
        return "no-band"
    for name, chance in (("within", inside), ("above", above), ("below", below)):
        if chance >= target.confidence:
            return name  # type: ignore[return-value]
    return "undecided"


def _degrees(samples_rad: Array | None) -> Spread | None:
    return None if samples_rad is None else spread(np.degrees(samples_rad))


def _kilograms(samples_n: Array | None) -> Spread | None:
    return None if samples_n is None else spread(np.asarray(kg_from_n(samples_n)))
