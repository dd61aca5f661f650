"""What the rig asks of plates and practice: ball load, its share, axle loads and masses against typed ratings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.rig.spread import Spread, spread
from photomeasure.statics import kg_from_n

if TYPE_CHECKING:
    from photomeasure.rig.model import Response, RigModel
    from photomeasure.rig.setup import Ratings

Array = NDArray[np.float64]
LoadState = Literal["kept", "unsure", "over", "unknown"]

USUAL_SHARE_PERCENT = (4.0, 15.0)
"""Ball load as a share of the laden mass: Germany at least 4 % (StVZO 44 (3), read), UK 5-7 % (NCC, read),
Australia 8-10 % (secondary); the 15 % is from memory, no source. A rating it is not: outside, the plan warns."""

MOST_P_OVER = 0.02275  # as w = U leaves it at an acceptance limit (ILAC-G8:09/2019, computed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One load against what it may be.

    low, high: what it may be, in `unit`; None where open. found: None where the inputs do not tell it, `needs` says what
    would. p_out: probability that it is outside. practice: usual, not a rating.
    """

    name: str
    unit: Literal["kg", "%"]
    low: float | None
    high: float
    found: Spread | None
    p_out: float | None
    practice: bool = False
    needs: str = ""

    @property
    def state(self) -> LoadState:
        """kept or over where that is as sure as a guarded decision has to be, else unsure; unknown without a figure."""
        if self.p_out is None:
            return "unknown"
        if self.p_out <= MOST_P_OVER:
            return "kept"
        return "over" if self.p_out >= 1.0 - MOST_P_OVER else "unsure"

    @property
    def failed(self) -> bool:
        """A rating that is not surely kept."""
        return not self.practice and self.state in ("over", "unsure")


def load_checks(model: RigModel, response: Response, ratings: Ratings) -> tuple[Check, ...]:
    """Every load that has a rating, and the ball load's share of the trailer's mass where the mass is known."""
    ball_kg = np.asarray(kg_from_n(response.ball_load_n))
    rows = [_share(model, ball_kg)]
    rows += [_rated(name, limit, ball_kg) for name, limit in ratings.of_ball_load()]
    rows += _axles(model, response, ratings)
    rows.append(_rated(said("vehicle's mass"), ratings.vehicle_kg, *_vehicle_mass(model, response)))
    rows.append(_rated(said("trailer's mass"), ratings.trailer_kg, model.x.get("trailer mass"), "trailer.mass"))
    return tuple(row for row in rows if row is not None)


def _share(model: RigModel, ball_kg: Array) -> Check | None:
    mass_kg = model.x.get("trailer mass")
    if mass_kg is None:
        return None
    percent = 100.0 * ball_kg / mass_kg
    low, high = USUAL_SHARE_PERCENT
    outside = float(np.mean((percent < low) | (percent > high)))
    return Check(
        name=said("ball load as a share of the trailer's mass"), unit="%", low=low, high=high, found=spread(percent),
        p_out=outside, practice=True,
    )  # fmt: skip


def _axles(model: RigModel, response: Response, ratings: Ratings) -> list[Check | None]:
    rear, front = (
        None if typed is None or change is None else typed + np.asarray(kg_from_n(change))
        for typed, change in (
            (model.x.get("rear axle load"), response.rear_change_n),
            (model.x.get("front axle load"), response.front_change_n),
        )
    )
    return [
        _rated(
            said("vehicle's rear axle"),
            ratings.rear_axle_kg,
            rear,
            said("vehicle.wheelbase and overhang, and {field}", field="vehicle.rear_axle_load"),
        ),
        _rated(
            said("vehicle's front axle"),
            ratings.front_axle_kg,
            front,
            said("vehicle.wheelbase and overhang, and {field}", field="vehicle.front_axle_load"),
        ),
        _rated(said("each trailer axle"), ratings.trailer_axle_kg, *_heaviest_axle(model, response)),
    ]


def _heaviest_axle(model: RigModel, response: Response) -> tuple[Array | None, str]:
    mass_kg = model.x.get("trailer mass")
    if mass_kg is None:
        return None, "trailer.mass"
    axles = model.structure.axles
    mean_kg = (mass_kg - np.asarray(kg_from_n(response.ball_load_n))) / axles
    if model.structure.shares_load:
        return mean_kg, ""
    if response.group_difference_n is None:
        return None, said("trailer.axle_rate, as the axles do not share load")
    return mean_kg + np.abs(np.asarray(kg_from_n(response.group_difference_n))) / 2.0, ""


def _vehicle_mass(model: RigModel, response: Response) -> tuple[Array | None, str]:
    front, rear = model.x.get("front axle load"), model.x.get("rear axle load")
    if front is None or rear is None:
        return None, said("vehicle.front_axle_load and rear_axle_load")
    return front + rear + np.asarray(kg_from_n(response.ball_load_n)), ""


def _rated(name: str, limit_kg: float | None, found_kg: Array | None, needs: str = "") -> Check | None:
    if limit_kg is None:
        return None
    known = found_kg is not None
    return Check(
        name=name, unit="kg", low=None, high=limit_kg, found=spread(found_kg) if found_kg is not None else None,
        p_out=float(np.mean(found_kg > limit_kg)) if found_kg is not None else None, needs="" if known else needs,
    )  # fmt: skip
