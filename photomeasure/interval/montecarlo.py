"""Propagation of distributions through the estimator itself (JCGM 101): every input is drawn, every draw is solved again.

A draw adds to each whitened row of the scene (an observation or a prior) a number from its own distribution, of standard
deviation 1, and finds the optimum of the disturbed problem by Newton steps with the gain of the solution; the residuals
are those of the full model, so what the first order leaves out is in the result. Draws go through the model many at a
time; each steps until its own height has settled, and one that does not settle so is solved by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.interval.budget import distribution_of_rows
from photomeasure.interval.expanded import COVERAGE, Expanded, expanded, half_digit_mm
from photomeasure.solution.estimate import Estimate, solve_disturbed
from photomeasure.solution.model_of_many import residuals
from photomeasure.uncertainty.convolution import GUESSED_LIMIT, trapezoid_half_width
from photomeasure.uncertainty.distribution import CurvilinearTrapezoid, Distribution, Exponential, Normal, Rectangular
from photomeasure.uncertainty.first_order_stands import FirstOrderCheck, agree
from photomeasure.uncertainty.montecarlo import MonteCarloResult, adaptive
from photomeasure.uncertainty.quantity import InputQuantity

BLOCK, LARGEST = 10_000, 60_000  # JCGM 101:2008 7.9.4 b
AT_ONCE = 250  # draws that go through the model together: what they need stays in the processor's cache
_STEPS = 12
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

    draws: MonteCarloResult
    agreement: FirstOrderCheck

    @property
    def takes_over(self) -> bool:
        """Whether the ends differ by more than what is judged and as much again that the draws leave open."""
        return max(self.agreement.d_low, self.agreement.d_high) > 2.0 * self.draws.tolerance


def row_inputs(solved: Estimate) -> list[InputQuantity]:
    """One input a whitened row, mean 0 and standard deviation 1, with the distribution that its prior names."""
    a = trapezoid_half_width(1.0)
    unit: dict[str, Distribution] = {
        "normal": Normal(mean=0.0, u=1.0),
        "rectangular": Rectangular(mean=0.0, half_width=float(np.sqrt(3.0))),
        "curvilinear trapezoid": CurvilinearTrapezoid(mean=0.0, half_width=a, limit_half_width=GUESSED_LIMIT * a),
        "exponential": Exponential(least=-1.0, u=1.0),
    }
    return [
        InputQuantity(
            name=f"{number} {quantity}",
            distribution=unit[str(kind)],
            source=said("see the inputs of the record"),
            unit="1",
        )
        for number, (quantity, kind) in enumerate(
            zip(solved.rows.quantities, distribution_of_rows(solved), strict=True)
        )
    ]


def heights_mm(solved: Estimate, disturbances: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) heights, mm, when the whitened rows are disturbed by so many standard uncertainties, disturbances (n, R)."""
    result = np.empty(len(disturbances))
    for first in range(0, len(disturbances), AT_ONCE):
        part = slice(first, first + AT_ONCE)
        result[part] = _heights_together(solved, disturbances[part])
    return result


def _heights_together(solved: Estimate, disturbances: NDArray[np.float64]) -> NDArray[np.float64]:
    gain = solved.rows.jacobian @ solved.covariance  # (R, P): a step is minus the change of the rows through it
    settled = solved.rows.residual @ gain  # the optimum's own remainder: zero but for rounding
    x = solved.x - disturbances @ gain  # (n, P), the first-order shift
    moving = np.arange(len(x))
    for _ in range(_STEPS):
        step = settled - (residuals(solved.scene, solved.where, x[moving]) + disturbances[moving]) @ gain
        x[moving] += step
        moving = moving[~(np.abs(step @ solved.gradient) < _SETTLED_MM)]  # what is no number has not settled either
        if not len(moving):
            break
    for number in moving:
        x[number] = solve_disturbed(solved, disturbances[number])
    heights: NDArray[np.float64] = x @ solved.gradient
    return heights


def judged_mm(known: Expanded) -> float:
    """Difference that counts, mm: half the digit that is printed, or a twentieth of u: what 10 000 draws can tell.

    The tolerance of JCGM 101:2008 7.9.2 jumps tenfold with u's first digit (0.94 mm: 0.05, 0.96 mm: 0.5), so it is
    not taken.
    """
    return max(half_digit_mm(known.U_mm), known.u_mm / 20.0)


def monte_carlo(
    solved: Estimate, rng: np.random.Generator, *, block: int = BLOCK, largest: int = LARGEST
) -> MonteCarloCheck:
    """Draw until the figures are stable to `judged_mm` (or `largest` draws), and compare with what is reported."""
    known = expanded(solved)
    result = adaptive(
        lambda draws: heights_mm(solved, draws),
        row_inputs(solved),
        rng=rng,
        tolerance=judged_mm(known),
        coverage=COVERAGE,
        block=block,
        largest=largest,
    )
    low, high = known.interval_mm
    stated = FirstOrderStatement(value=solved.height_mm, u=solved.u_mm, low=low, high=high)
    return MonteCarloCheck(draws=result, agreement=agree(stated, result, digits=1))
