"""What draws come to: mean, standard deviation, interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

COVERAGE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A Monte Carlo result: mean, standard deviation, probabilistically symmetric 95 % interval (JCGM 101
    clause 7.7)."""

    mean: float
    u: float
    low: float
    high: float


def spread(samples: NDArray[np.float64]) -> Spread:
    """Return the mean, u and 95 % interval of draws, (N,)."""
    tail = (1.0 - COVERAGE) / 2.0
    low, high = np.quantile(samples, (tail, 1.0 - tail))
    return Spread(mean=float(np.mean(samples)), u=float(np.std(samples)), low=float(low), high=float(high))
