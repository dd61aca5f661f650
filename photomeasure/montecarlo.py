"""Propagation of distributions through the estimator itself (JCGM 101): every input is drawn, every draw is solved again.

A draw adds to each whitened row of the scene (an observation or a prior) a number from its own distribution, of standard
deviation 1, and finds the optimum of the disturbed problem by Newton steps with the gain of the solution; the residuals
are those of the full model, so what the first order leaves out is in the result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimate import Estimate
from photomeasure.model import rows
from photomeasure.uncertainty.agreement import Agreement, agree
from photomeasure.uncertainty.distribution import Distribution, Normal, Rectangular
from photomeasure.uncertainty.montecarlo import MonteCarlo, adaptive
from photomeasure.uncertainty.quantity import InputQuantity

COVERAGE = 0.9545  # of the reported interval, U = 2 u
BLOCK, LARGEST = 500, 6000  # fewer than 1000 draws leave more scatter in the ends than the digit that is judged
_STEPS = 4
_SETTLED_MM = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOrderStatement:
    """The reported interval as a statement to compare with."""

    value: float
    u: float
    low: float
    high: float
    coverage: float = COVERAGE


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarloCheck:
    """The draws, and whether the first order stands against them (JCGM 101 clause 8)."""

    draws: MonteCarlo
    agreement: Agreement

    @property
    def takes_over(self) -> bool:
        """Whether the ends differ by more than the reported digit and what the draws themselves leave open."""
        worst = max(self.agreement.d_low, self.agreement.d_high)
        return worst > self.agreement.delta + self.draws.tolerance


def row_inputs(solved: Estimate) -> list[InputQuantity]:
    """One input a whitened row, mean 0 and standard deviation 1, with the distribution that its quantity has."""
    rectangular = {prior.quantity for prior in solved.scene.priors if prior.distribution == "rectangular"}
    kinds: dict[bool, Distribution] = {
        False: Normal(mean=0.0, u=1.0),
        True: Rectangular(mean=0.0, half_width=float(np.sqrt(3.0))),
    }
    return [
        InputQuantity(
            name=f"{number} {quantity}",
            distribution=kinds[quantity in rectangular and not observed],
            source="see the inputs of the record",
            unit="1",
        )
        for number, (quantity, observed) in enumerate(zip(solved.rows.quantities, solved.rows.observed, strict=True))
    ]


def solve_disturbed(solved: Estimate, disturbance: NDArray[np.float64]) -> float:
    """The height, mm, when each whitened row (R,) is disturbed by so many standard uncertainties."""
    gain = solved.covariance @ solved.rows.jacobian.T
    x = solved.x.copy()
    residual = solved.rows.residual
    settled = gain @ residual  # the optimum's own remainder: zero but for rounding
    for _ in range(_STEPS):
        step = settled - gain @ (residual + disturbance)
        x = x + step
        if abs(float(solved.gradient @ step)) < _SETTLED_MM:
            break
        residual = rows(solved.scene, solved.where, x).residual
    return float(solved.gradient @ x)


def monte_carlo(
    solved: Estimate, rng: np.random.Generator, *, block: int = BLOCK, largest: int = LARGEST
) -> MonteCarloCheck:
    """Draw until the figures are stable to one digit of u (or `largest` draws), and compare with the first order."""
    result = adaptive(
        lambda row: solve_disturbed(solved, row),
        row_inputs(solved),
        rng=rng,
        digits=1,
        coverage=COVERAGE,
        interval="symmetric",
        row_by_row=True,
        block=block,
        largest=largest,
    )
    stated = FirstOrderStatement(
        value=solved.height_mm,
        u=solved.u_mm,
        low=solved.height_mm - 2.0 * solved.u_mm,
        high=solved.height_mm + 2.0 * solved.u_mm,
    )
    return MonteCarloCheck(draws=result, agreement=agree(stated, result, digits=1))
