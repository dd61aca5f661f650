"""Coverage interval of a sum of independent inputs, by numerical convolution: no draws, milliseconds.

The inputs have mean 0 and are normal, rectangular, curvilinear trapezoids (rectangles whose ends are known to a share r of
themselves; JCGM 101:2008 6.4.3) or exponential less their mean (6.4.10). The characteristic function of each is known in
closed form, with Si the sine integral,

    normal       exp(-(w s)^2 / 2)                              rectangular  sin(w a) / (w a)
    trapezoid    (Si(w a (1 + r)) - Si(w a (1 - r))) / (2 r w a)   exponential  exp(-i w m) / (1 - i w m)

and that of the sum is their product phi. On a period T that holds the whole distribution, with w_n = 2 pi n / T,
P(|Y| <= x) = 2 x / T + (4 / T) sum Re phi(w_n) sin(w_n x) / w_n. This is what JCGM 101:2008 propagates by draws, for a
measurand that is linear in its inputs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.coverage import check_coverage

# Share of its own size to which a limit that is a guess is known. Two standard uncertainties of such a quantity hold 95 %
# of it, as of a normal one: a guess makes no interval narrower than a normal distribution would (computed, see the tests).
GUESSED_LIMIT = 0.75
MOST_NODES = 100
TERMS = 4096  # of the series: a lone rectangle, whose series falls off slowest, is right to 1e-4 of probability
_TAIL = 9.0  # standard deviations of the normal part that count as all of it
_LONG_TAIL = 20.0  # the same of an exponential part
_HALVINGS = 60

Array = NDArray[np.float64]


def trapezoid_half_width(u: float, share: float = GUESSED_LIMIT) -> float:
    """Half-width a of a curvilinear trapezoid of standard uncertainty u; its ends are known to +/- share a."""
    return u / math.sqrt(1.0 / 3.0 + share**2 / 9.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearSum:
    """A sum of a normal quantity of standard deviation normal_u and of others, all of mean 0.

    normal_u, half_widths (k,) of rectangles, trapezoids (k,) half-widths of curvilinear trapezoids with ends known to
    `GUESSED_LIMIT`, one_sided (k,) means of exponential quantities, of either sign: as they act on the measurand, in its unit.
    """

    normal_u: float
    half_widths: tuple[float, ...] = ()
    trapezoids: tuple[float, ...] = ()
    one_sided: tuple[float, ...] = ()

    @property
    def u(self) -> float:
        """Standard deviation of the sum."""
        flat = sum(a * a for a in self.half_widths) / 3.0
        guessed = sum(a * a for a in self.trapezoids) * (1.0 / 3.0 + GUESSED_LIMIT**2 / 9.0)
        return math.sqrt(self.normal_u**2 + flat + guessed + sum(m * m for m in self.one_sided))

    def inside(self, half_width: float) -> float:
        """P(|Y| <= half_width)."""
        frequencies, phi, period = self._series()
        return self._inside(half_width, 4.0 / period * phi.real / frequencies, frequencies, period)

    def half_width(self, coverage: float) -> float:
        """Half-width of the interval about the mean that holds `coverage` of the distribution.

        Raises InputError for a coverage outside (0, 1).
        """
        check_coverage(coverage)
        frequencies, phi, period = self._series()
        weights = 4.0 / period * phi.real / frequencies
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

    def is_between(self, coverage: float, low: float, high: float) -> bool:
        """Whether `half_width` of this coverage is in [low, high]: by two values of the distribution, in place of a search."""
        frequencies, phi, period = self._series()
        weights = 4.0 / period * phi.real / frequencies
        at_low, at_high = (self._inside(at, weights, frequencies, period) for at in (max(low, 0.0), high))
        return at_low <= coverage <= at_high

    def factor(self, coverage: float) -> float:
        """Coverage factor k: half-width over u."""
        return self.half_width(coverage) / self.u

    def quantiles(self, count: int) -> Array:
        """(count,) values that each stand for an equal share of the distribution, sorted."""
        frequencies, phi, period = self._series()
        at = np.linspace(-period / 2.0, period / 2.0, 2049)
        angle = np.outer(at, frequencies)
        at_end = np.cos(frequencies * period / 2.0)
        below = 0.5 + at / period + 2.0 / period * (np.sin(angle) @ (phi.real / frequencies))
        below += 2.0 / period * ((at_end - np.cos(angle)) @ (phi.imag / frequencies))
        below = np.maximum.accumulate(np.clip(below, 0.0, 1.0))
        return np.asarray(np.interp((np.arange(count) + 0.5) / count, below, at), dtype=np.float64)

    def _series(self) -> tuple[Array, NDArray[np.complex128], float]:
        """Angular frequencies (terms,), the characteristic function there, and the period of the series."""
        reach = sum(self.half_widths) + (1.0 + GUESSED_LIMIT) * sum(self.trapezoids)
        period = 2.0 * (reach + _TAIL * self.normal_u + _LONG_TAIL * sum(map(abs, self.one_sided)))
        frequencies = 2.0 * np.pi / period * np.arange(1, TERMS + 1)
        normal = np.exp(-0.5 * (frequencies * self.normal_u) ** 2)
        last = max(64, int(np.count_nonzero(normal > 1e-18)))  # the rest adds nothing
        frequencies, phi = frequencies[:last], normal[:last].astype(np.complex128)
        for a in self.half_widths:
            phi *= np.sinc(frequencies * a / np.pi)
        for a in self.trapezoids:
            phi *= _of_guessed_limit(np.asarray(frequencies * a, dtype=np.float64))
        for m in self.one_sided:
            phi *= np.exp(-1j * frequencies * m) / (1.0 - 1j * frequencies * m)
        return np.asarray(frequencies, dtype=np.float64), phi, period

    @staticmethod
    def _inside(half_width: float, weights: Array, frequencies: Array, period: float) -> float:
        return min(1.0, 2.0 * half_width / period + float(weights @ np.sin(frequencies * half_width)))


@cache
def _gauss_legendre(nodes: int) -> tuple[Array, Array]:
    return np.polynomial.legendre.leggauss(nodes)


def _of_guessed_limit(angle: Array) -> Array:
    """sin x / x on average over x within GUESSED_LIMIT of each angle, 0 < angle: a rectangular distribution of such a limit.

    By Gauss and Legendre's rule, to 1e-13 with half as many nodes as the sine goes through radians and some more (computed: four
    or five); by the sine integral where those are many.
    """
    radians = GUESSED_LIMIT * float(angle.max())
    nodes = math.ceil(0.5 * radians + 3.0 * radians ** (1.0 / 3.0)) + 6
    if nodes > MOST_NODES:
        from scipy.special import sici  # slow to load, and few sums need it

        outer, inner = (sici(angle * (1.0 + sign * GUESSED_LIMIT))[0] for sign in (1.0, -1.0))
        return np.asarray((outer - inner) / (2.0 * GUESSED_LIMIT * angle), dtype=np.float64)
    at, weights = _gauss_legendre(-(-nodes // 8) * 8)
    around = angle[:, None] * (1.0 + GUESSED_LIMIT * at)
    return np.asarray(np.sin(around) / around @ (0.5 * weights), dtype=np.float64)


def linear_sum(
    normal_u: ArrayLike, rectangular_u: ArrayLike, trapezoid_u: ArrayLike = (), exponential_u: ArrayLike = ()
) -> LinearSum:
    """The sum of parts, each kind (n,) by its standard uncertainties in the measurand's unit, of either sign.

    The sign of an exponential part is the direction of its tail. Raises InputError where a part is not finite or all are 0.
    """
    parts = [np.asarray(u, dtype=np.float64) for u in (normal_u, rectangular_u, trapezoid_u, exponential_u)]
    normal, flat, guessed, one_sided = parts
    if not all(np.isfinite(part).all() for part in parts) or not any(part.any() for part in parts):
        raise InputError(
            said("The contributions are not all finite, or all 0."),
            expected=said("standard uncertainties in the measurand's unit"),
            remedy=said("check the sensitivities"),
        )
    return LinearSum(
        normal_u=float(np.sqrt((normal**2).sum())),
        half_widths=tuple(float(a) for a in math.sqrt(3.0) * np.abs(flat) if a > 0.0),
        trapezoids=tuple(trapezoid_half_width(float(u)) for u in np.abs(guessed) if u > 0.0),
        one_sided=tuple(float(m) for m in one_sided if m != 0.0),
    )
