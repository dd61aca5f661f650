"""The height in the state that counts, worked out from the photographed one by the statics that plans use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from photomeasure.asked.sag import BALL_LOAD_SHARE, LOAD_DROP_MM, STAND_DROP_MM, STAND_MASS_KG, Sag
from photomeasure.asked.state import State
from photomeasure.statics import n_from_kg, stand_compliance_mm_per_n
from photomeasure.verdict.conformity import MeasuredHeight, measured_height
from photomeasure.verdict.state_of_band import Difference

if TYPE_CHECKING:
    from photomeasure.uncertainty.quantity import InputQuantity

LEVELLED_WITHIN_MM = 10.0  # how near a vehicle that levels itself comes back to its height (from memory, no source)


def settled_height(known: MeasuredHeight, sag: Sag, state: State, rows: Sequence[Difference]) -> MeasuredHeight | None:
    """The ball's height with the trailer on and the load in; None where what was said does not tell it.

    h - c S - a with c the drop over the weight of the stand test, S the ball load and a the drop by the vehicle's load, each
    a rectangle; where photographs told the drop, how it goes together with h counts. rows: the differences that move the height.
    """
    contradicted = {row.about for row in rows if not row.unsaid}
    if any(row.unsaid for row in rows) or not contradicted <= {"coupled", "laden"}:
        return None
    if state.level_control is True:
        return _moved(known, 0.0, LEVELLED_WITHIN_MM / math.sqrt(3.0))
    if state.coupled is True and "coupled" in contradicted:
        return None  # a rule for a bare ball, photographed coupled: nobody knows what was on it
    drop_mm, variance_mm2 = 0.0, 0.0
    if "coupled" in contradicted:
        if not sag.of_the_trailer:
            return None
        by_trailer_mm, u_mm = _by_the_trailer(sag)
        together = 2.0 * sag.stand_with_height_mm2 * (sag.ball_load_kg or 0.0) / (sag.stand_mass_kg or 1.0)
        drop_mm, variance_mm2 = drop_mm + by_trailer_mm, variance_mm2 + u_mm**2 - together
    if "laden" in contradicted:
        if sag.load_drop_mm is None:
            return None
        drop_mm, variance_mm2 = drop_mm + sag.load_drop_mm, variance_mm2 + LOAD_DROP_MM**2 / 3.0
    whole_mm2 = max(known.u_mm**2 + variance_mm2, 0.0)
    return measured_height(max(0.0, known.height_mm - drop_mm), math.sqrt(whole_mm2))


def _by_the_trailer(sag: Sag) -> tuple[float, float]:
    """How far the ball load lowers the ball, and its standard uncertainty, mm."""
    from photomeasure.uncertainty.first_order import propagate  # few rigs were stood on, and loading this takes a while

    load_kg, mass_kg, down_mm = sag.ball_load_kg or 0.0, sag.stand_mass_kg or 1.0, sag.stand_drop_mm or 0.0
    inputs = (
        _within("ball load", "kg", load_kg, BALL_LOAD_SHARE * load_kg),
        _within("stand-test mass", "kg", mass_kg, STAND_MASS_KG),
        _within("stand-test drop", "mm", down_mm, min(STAND_DROP_MM, 0.5 * down_mm))
        if sag.stand_u_mm is None
        else _within("stand-test drop", "mm", down_mm, math.sqrt(3.0) * sag.stand_u_mm),
    )
    found = propagate(_sag_mm, inputs)
    return found.value, found.u


def _sag_mm(x: NDArray[np.float64]) -> float:  # (3,) ball load kg, stand-test mass kg and drop mm
    return float(stand_compliance_mm_per_n(x[2], x[1]) * n_from_kg(x[0]))


def _within(name: str, unit: str, value: float, half: float) -> InputQuantity:
    from photomeasure.uncertainty.distribution import Rectangular
    from photomeasure.uncertainty.quantity import InputQuantity

    return InputQuantity(name=name, distribution=Rectangular(mean=value, half_width=half), source="stated", unit=unit)


def _moved(known: MeasuredHeight, drop_mm: float, u_mm: float) -> MeasuredHeight:
    return measured_height(max(0.0, known.height_mm - drop_mm), math.hypot(known.u_mm, u_mm))
