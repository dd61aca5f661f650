"""The way back with the trailer empty: the same rig and the same drops, on the same draws where nothing changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.rig.model import RigModel, quantities_of, structure_of
from photomeasure.rig.options import Outcome, outcome
from photomeasure.rig.quantity import Quantity
from photomeasure.rig.setup import Empty, Option, Ratings, Setup, Trailer
from photomeasure.rig.target import Target

Array = NDArray[np.float64]
_OF_THE_LOAD = ("ball load", "trailer mass", "level coupling height", "centre of gravity height")


@dataclass(frozen=True, slots=True, kw_only=True)
class EmptyWay:
    """What the drops do when the trailer is empty. outcomes: one for each option that was planned, in the same order."""

    target: Target
    outcomes: tuple[Outcome, ...]
    vehicle_laden: bool
    new_level_height: bool  # False: the coupling of the level trailer is taken to stand as high as laden


def empty_way(
    setup: Setup, model: RigModel, options: Sequence[Option], target: Target, rng: np.random.Generator
) -> EmptyWay | None:
    """Return the outcomes of the empty rig; None where the setup does not speak of it. model: of the laden rig."""
    if setup.empty is None:
        return None
    empty = _model(setup, setup.empty, model, rng)
    count = setup.monte_carlo.draws
    return EmptyWay(
        target=target,
        outcomes=tuple(
            outcome(empty, one, rng.normal(0.0, one.u_mm, count), target, setup.level, Ratings()) for one in options
        ),
        vehicle_laden=setup.empty.vehicle_laden,
        new_level_height=setup.empty.level_coupling_height is not None or setup.trailer.load_drop is not None,
    )


def _model(setup: Setup, empty: Empty, laden: RigModel, rng: np.random.Generator) -> RigModel:
    trailer = _trailer(setup.trailer, empty)
    as_empty = setup.model_copy(update={"trailer": trailer})
    quantities = quantities_of(as_empty)
    before = quantities_of(setup)
    drawn = {
        name: _drawn(quantity, laden.x, name, before, rng, setup.monte_carlo.draws)
        for name, quantity in quantities.items()
        if empty.vehicle_laden or name not in ("front axle load", "rear axle load")  # typed of the laden vehicle
    }
    return RigModel(structure_of(as_empty), drawn, free_mm=_free_mm(setup, empty, laden, rng))


def _trailer(trailer: Trailer, empty: Empty) -> Trailer:
    """The trailer without its load, unchecked: what was checked is each field, and what spans them in the setup."""
    return trailer.model_copy(
        update={
            "ball_load": empty.ball_load,
            "mass": empty.mass or (trailer.mass if empty.ball_load.unit == "percent" else None),
            "level_coupling_height": empty.level_coupling_height or trailer.level_coupling_height,
            "standing_coupling_height": None if empty.level_coupling_height else trailer.standing_coupling_height,
            "standing_pitch": None if empty.level_coupling_height else trailer.standing_pitch,
            "load_drop": None,
            # without the empty trailer's own mass and centre of gravity its ball load is held at every pitch
            "gravity_height": empty.gravity_height if empty.mass is not None else None,
        }
    )


def _drawn(
    quantity: Quantity,
    laden: Mapping[str, Array],
    name: str,
    before: Mapping[str, Quantity],
    rng: np.random.Generator,
    count: int,
) -> Array:
    """The laden rig's own draws where the quantity is the same one."""
    if name in laden and (name not in _OF_THE_LOAD or before.get(name) == quantity):
        return laden[name]
    return quantity.draw(rng, count)


def _free_mm(setup: Setup, empty: Empty, laden: RigModel, rng: np.random.Generator) -> Array:
    """The ball's height without a load on it, (N,), with the vehicle as it drives back."""
    free_mm = laden.free_height_mm()
    if empty.vehicle_laden:
        return free_mm
    if "drop when loaded" in laden.x:
        return free_mm + laden.x["drop when loaded"]
    if empty.vehicle_rise is not None:
        return free_mm + empty.vehicle_rise.draw(rng, setup.monte_carlo.draws)
    return free_mm
