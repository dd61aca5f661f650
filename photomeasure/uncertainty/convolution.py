"""Coverage interval of a sum of independent inputs, by numerical convolution: no draws, milliseconds.

The sum Y = N(0, s^2) + sum of R(-a_i, a_i) is symmetric; its characteristic function is known in closed form,

    phi(w) = exp(-(w s)^2 / 2) prod sin(a_i w) / (a_i w),

and on a period T that holds the whole distribution P(|Y| <= x) = 2 x / T + (4 / T) sum phi(w_n) sin(w_n x) / w_n with
w_n = 2 pi n / T. This is what JCGM 101:2008 propagates by draws, for a measurand that is linear in its inputs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from photomeasure.uncertainty.coverage import check_coverage

TERMS = 4096  # of the series: a lone rectangle, whose series falls off slowest, is right to 1e-4 of probability
_TAIL = 9.0  # standard deviations of the normal part that count as all of it
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearSum:
    """A sum of a normal quantity of standard deviation normal_u and of rectangular ones, all of mean 0.

    normal_u, half_widths (k,): as they act on the measurand, in its unit.
    """

    normal_u: float
    half_widths: tuple[float, ...]

    @property
    def u(self) -> float:
        """Standard deviation of the sum."""
        return math.sqrt(self.normal_u**2 + sum(a * a for a in self.half_widths) / 3.0)

    def inside(self, half_width: float) -> float:
        """P(|Y| <= half_width)."""
        return self._inside(half_width, *self._series())

    def half_width(self, coverage: float) -> float:
        """Half-width of the interval about the mean that holds `coverage` of the distribution.

        Raises InputError for a coverage outside (0, 1).
        """
        check_coverage(coverage)
        weights, frequencies, period = self._series()
        low, high = 0.0, period / 2.0
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            if self._inside(middle, weights, frequencies, period) < coverage:
                low = middle
            else:
                high = middle
            if high - low < 1e-9 * period:
                break
        return 0.5 * (low + high)

    def factor(self, coverage: float) -> float:
        """Coverage factor k: half-width over u."""
        return self.half_width(coverage) / self.u

    def quantiles(self, count: int) -> NDArray[np.float64]:
        """(count,) values that each stand for an equal share of the distribution, sorted, symmetric about 0."""
        weights, frequencies, period = self._series()
        at = np.linspace(0.0, period / 2.0, 1025)
        inside = 2.0 * at / period + np.sin(np.outer(at, frequencies)) @ weights
        inside = np.maximum.accumulate(np.clip(inside, 0.0, 1.0))
        share = (2.0 * (np.arange((count + 1) // 2, count) + 0.5) / count) - 1.0  # of |Y|, upper half
        upper = np.interp(share, inside, at)
        return np.concatenate([-upper[::-1], np.zeros(count % 2), upper])

    def _series(self) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
        """Weights and angular frequencies (terms,) of the sine series, and its period."""
        period = 2.0 * (sum(self.half_widths) + _TAIL * self.normal_u)
        frequencies = 2.0 * np.pi / period * np.arange(1, TERMS + 1)
        phi = np.exp(-0.5 * (frequencies * self.normal_u) ** 2)
        last = max(64, int(np.count_nonzero(phi > 1e-18)))  # the rest adds nothing
        frequencies, phi = frequencies[:last], phi[:last]
        for a in self.half_widths:
            phi = phi * np.sinc(frequencies * a / np.pi)
        weights = np.asarray(4.0 / period * phi / frequencies, dtype=np.float64)
        return weights, np.asarray(frequencies, dtype=np.float64), period

    @staticmethod
    def _inside(
        half_width: float, weights: NDArray[np.float64], frequencies: NDArray[np.float64], period: float
    ) -> float:
        return min(1.0, 2.0 * half_width / period + float(weights @ np.sin(frequencies * half_width)))


def linear_sum(normal_u: ArrayLike, rectangular_u: ArrayLike) -> LinearSum:
    """The sum of normal and rectangular parts, each by its standard uncertainty in the measurand's unit, of either sign.

    Raises InputError where a part is not finite or all are 0.
    """
    normal, flat = np.asarray(normal_u, dtype=np.float64), np.asarray(rectangular_u, dtype=np.float64)
    if not (np.isfinite(normal).all() and np.isfinite(flat).all()) or not (normal.any() or flat.any()):
        raise InputError(
            "The contributions are not all finite, or all 0.",
            expected="standard uncertainties in the measurand's unit",
            remedy="check the sensitivities",
        )
    half_widths = tuple(float(a) for a in math.sqrt(3.0) * np.abs(flat) if a > 0.0)
    return LinearSum(normal_u=float(np.sqrt((normal**2).sum())), half_widths=half_widths)
