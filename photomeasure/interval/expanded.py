"""The expanded uncertainty of a height: k = 2, or the factor that the budget's own distributions give.

Two standard uncertainties hold more than they say where a quantity between known limits rules, because a rectangle has no
tails. A limit that is a guess is no such limit (see `uncertainty.convolution.GUESSED_LIMIT`). The height is linear in its
inputs to the first order, so that the distribution of the sum is had by convolution; a Monte Carlo of the full model is the
check.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.interval.budget import sensitivities
from photomeasure.scene.scene import DistributionName
from photomeasure.solution.estimate import Estimate
from photomeasure.uncertainty.convolution import LinearSum, linear_sum
from photomeasure.uncertainty.printed import decimals

COVERAGE = 0.9545  # what k = 2 holds of a normal distribution; the nominal 95 %
NORMAL_FACTOR = 2.0
_QUANTILES = 20_001
KINDS: tuple[DistributionName, ...] = ("normal", "rectangular", "curvilinear trapezoid", "exponential")

FactorKind = Literal["normal", "convolved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expanded:
    """U_mm = k u_mm about height_mm.

    kind: "normal", k = 2; "convolved", the factor of the sum of the inputs' distributions, where U differs for it by
    more than half the digit that is printed. quantiles_mm: (n,) equally probable heights where convolved.
    """

    height_mm: float
    u_mm: float
    U_mm: float
    kind: FactorKind
    quantiles_mm: NDArray[np.float64] | None = None

    @property
    def factor(self) -> float:
        """Coverage factor k."""
        return self.U_mm / self.u_mm

    @property
    def interval_mm(self) -> tuple[float, float]:
        """Lower and upper end."""
        return self.height_mm - self.U_mm, self.height_mm + self.U_mm

    @property
    def sentence(self) -> str:
        """Which factor, and why, for the record."""
        if self.kind == "normal":
            return said("k = 2, about 95 % of a normal distribution.")
        if self.factor < NORMAL_FACTOR:
            return said(
                "k = {factor:.2f} for 95 % by convolution of the inputs' distributions: two u would hold more.",
                factor=self.factor,
            )
        return said(
            "k = {factor:.2f} for 95 % by convolution of the inputs' distributions: two u would hold less.",
            factor=self.factor,
        )


def half_digit_mm(U_mm: float) -> float:
    """Half a unit of the last digit that is printed with this expanded uncertainty."""
    return 0.5 * 10.0 ** -decimals(U_mm)


def distribution_of(solved: Estimate) -> LinearSum:
    """The height's error to the first order: the sum of what every row of the scene does to it."""
    effects, places = sensitivities(solved), solved.rows.places.priors
    parts: dict[str, list[float]] = {kind: [] for kind in KINDS}
    for prior, effect in zip(solved.scene.priors, effects[places.start : places.stop].tolist(), strict=True):
        parts[prior.distribution].append(effect)
    normal = np.concatenate([effects[: places.start], parts["normal"], effects[places.stop :]])
    return linear_sum(normal, *(parts[kind] for kind in KINDS[1:]))


def expanded(solved: Estimate) -> Expanded:
    """The interval to report. k = 2 also where a second pose is possible: such a mixture is no sum of its inputs."""
    U_mm = NORMAL_FACTOR * solved.u_mm
    plain = Expanded(height_mm=solved.height_mm, u_mm=solved.u_mm, U_mm=U_mm, kind="normal")
    if solved.ambiguity_u_mm > 0.0:
        return plain
    summed = distribution_of(solved)
    apart_mm = half_digit_mm(U_mm)
    if summed.is_between(COVERAGE, U_mm - apart_mm, U_mm + apart_mm):
        return plain
    half_width = summed.half_width(COVERAGE)
    return Expanded(
        height_mm=solved.height_mm,
        u_mm=solved.u_mm,
        U_mm=half_width,
        kind="convolved",
        quantiles_mm=solved.height_mm + summed.quantiles(_QUANTILES),
    )
