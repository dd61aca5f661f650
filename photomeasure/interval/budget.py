"""The budget: what each input quantity contributes to the height's variance. Shares add up to u^2 exactly.

At the optimum the estimate moves by (J'J)^-1 J' times a change of the whitened rows, so the height's sensitivity to row i
is c_i = J_i (J'J)^-1 g, and u^2 = sum c_i^2: every observation and every prior is a row, none is dropped. A row that holds two
independent errors (a marker's corner as seen, and as surveyed) is divided between both by their variances.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.solution.estimate import Estimate
from photomeasure.solution.rows import SURVEY


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One input quantity: u_mm is what it alone would leave; share is its part of u^2 (0 to 1)."""

    quantity: str
    u_mm: float
    share: float


def sensitivities(result: Estimate) -> NDArray[np.float64]:
    """(R,) change of the height in mm for one standard uncertainty of each row."""
    return -result.rows.jacobian @ (result.covariance @ result.gradient)


def distribution_of_rows(result: Estimate) -> NDArray[np.str_]:
    """(R,) the distribution that each row's error has; what is no prior is normal."""
    found = np.full(len(result.rows.quantities), "normal", dtype=object)
    found[list(result.rows.places.priors)] = [prior.distribution for prior in result.scene.priors]
    return found.astype(np.str_)


def budget(result: Estimate) -> tuple[Contribution, ...]:
    """Contributions by input quantity, the largest first."""
    variance: dict[str, float] = {}
    effects, of_survey = sensitivities(result) ** 2, result.rows.survey_share
    for quantity, part in zip(result.rows.quantities, effects * (1.0 - of_survey), strict=True):
        variance[quantity] = variance.get(quantity, 0.0) + float(part)
    if of_survey.any():
        variance[SURVEY] = variance.get(SURVEY, 0.0) + float(effects @ of_survey)
    if result.ambiguity_u_mm > 0.0:
        variance["pose ambiguity"] = result.ambiguity_u_mm**2
    total = sum(variance.values())
    parts = [
        Contribution(quantity=quantity, u_mm=float(np.sqrt(part)), share=part / total)
        for quantity, part in variance.items()
    ]
    return tuple(sorted(parts, key=lambda part: -part.share))
