"""Which input makes the answer uncertain: first-order shares, and what knowing each better would give."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.rig.model import RigModel, Structure, correlation_matrix
from photomeasure.rig.quantity import Quantity
from photomeasure.rig.setup import Correlation, Option
from photomeasure.rig.target import Target
from photomeasure.verdict.judge import probability_inside

Array = NDArray[np.float64]
PART = "made drop or rise"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """One input's part in the uncertainty of the coupled height and of the trailer's pitch.

    height_u_mm, pitch_u_deg:    |derivative| times the input's u (JCGM 100:2008 5.1.3), by central
                                 differences over +/-u.
    height_share, pitch_share:   of the variance; each adds up to 1 over all inputs.
    u_without_mm:                u of the height if this input were known exactly.
    p_inside_without:            probability of being inside then, at the same estimate; None without a band.
    """

    name: str
    source: str
    height_u_mm: float
    height_share: float
    pitch_u_deg: float
    pitch_share: float
    u_without_mm: float
    p_inside_without: float | None


def sensitivities(
    structure: Structure,
    quantities: Mapping[str, Quantity],
    option: Option,
    target: Target,
    correlation: Sequence[Correlation] = (),
) -> tuple[Sensitivity, ...]:
    """Return every input's part for one option, the largest part in the height first.

    Of inputs that go together each has half of what both do beyond their own parts, so that shares still add up to 1 (one may
    be negative: it takes away), and knowing one of them tells of the others as well.
    """
    inputs = {**quantities, PART: Quantity(value=option.offset_mm, u=option.u_mm, source="stated")}
    names = list(inputs)
    heights, pitches = _two_sided(structure, inputs, option.extra_lever_mm)
    matrix = correlation_matrix(names, correlation)
    by_height, by_pitch = (
        (heights[1::2] - heights[2::2]) / 2.0,
        (pitches[1::2] - pitches[2::2]) / 2.0,
    )  # (inputs,) signed
    height_u, pitch_u = np.abs(by_height), np.abs(by_pitch)
    height_with, pitch_with = matrix @ by_height, matrix @ by_pitch
    height_var, pitch_var = float(by_height @ height_with), float(by_pitch @ pitch_with)
    found = [
        Sensitivity(
            name=name,
            source=inputs[name].source,
            height_u_mm=float(height_u[i]),
            height_share=_share(by_height[i] * height_with[i], height_var),
            pitch_u_deg=math.degrees(pitch_u[i]),
            pitch_share=_share(by_pitch[i] * pitch_with[i], pitch_var),
            u_without_mm=math.sqrt(max(0.0, height_var - float(height_with[i]) ** 2)),
            p_inside_without=_chance(float(heights[0]), height_var - float(height_with[i]) ** 2, target),
        )
        for i, name in enumerate(names)
        if inputs[name].u > 0.0
    ]
    return tuple(sorted(found, key=lambda item: (-item.height_u_mm, -item.pitch_u_deg, item.name)))


def _two_sided(structure: Structure, inputs: Mapping[str, Quantity], extra_lever_mm: float) -> tuple[Array, Array]:
    """Return (heights, pitches) at the estimate and at each input + u and - u, (1 + 2 inputs,)."""
    count = 1 + 2 * len(inputs)
    x = {name: np.full(count, quantity.value) for name, quantity in inputs.items()}
    for i, (name, quantity) in enumerate(inputs.items()):
        x[name][1 + 2 * i] += quantity.u
        x[name][2 + 2 * i] -= quantity.u
    offset_mm = x.pop(PART)
    response = RigModel(structure, x).respond(offset_mm, extra_lever_mm)
    return response.height_mm, response.trailer_pitch_rad


def _share(part: float, variance: float) -> float:
    return float(part) / variance if variance > 0.0 else 0.0


def _chance(height_mm: float, variance_mm2: float, target: Target) -> float | None:
    if not target.has_band:
        return None
    return probability_inside(height_mm, math.sqrt(max(0.0, variance_mm2)), target.low_mm, target.high_mm)
