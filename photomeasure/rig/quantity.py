"""A typed or measured quantity with its standard uncertainty, and draws of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

DistributionShape = Literal["normal", "rectangular"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """An input quantity in the inside unit of its field (mm, N, N/mm, 1).

    value:   best estimate.
    u:       standard uncertainty, same unit, >= 0.
    shape:   "normal", or "rectangular" where limits were typed (half-width u sqrt 3, JCGM 100:2008 4.3.7).
    unit:    key under which it was typed ("kg", "percent", ...); value and u are converted already.
    source:  "typed", or the record's file name.
    """

    value: float
    u: float
    shape: DistributionShape = "normal"
    unit: str = ""
    source: str = "typed"

    def draw(self, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Return `count` draws, (count,)."""
        if self.shape == "rectangular":
            half = self.u * math.sqrt(3.0)
            return rng.uniform(self.value - half, self.value + half, count)
        return rng.normal(self.value, self.u, count)
