"""Is the true height inside the band? Probability and acceptance (JCGM 106:2012; ILAC-G8:09/2019)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said

if TYPE_CHECKING:
    from photomeasure.rules.model import Decision

COVERAGE_FACTOR = 2.0  # U = 2 u, as ILAC-G8:09/2019 defines its guard bands
COVERAGE = math.erf(COVERAGE_FACTOR / math.sqrt(2.0))  # 0.9545, what k = 2 covers of a normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class Probabilities:
    """Probabilities that the true height is below, inside and above a band whose ends are inside; sum 1."""

    below: float
    inside: float
    above: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """Heights that a decision rule accepts, both ends inside; an end is None where the band is open."""

    low_mm: float | None
    high_mm: float | None

    def holds(self, height_mm: float) -> bool:
        """Whether a measured height is accepted."""
        above_low = self.low_mm is None or height_mm >= self.low_mm
        return above_low and (self.high_mm is None or height_mm <= self.high_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredHeight:
    """What is known of one height: normal with u_mm, or the sorted Monte Carlo draws where they are given.

    less_mm, more_mm: distances (>= 0) from height_mm down and up to the ends of its expanded interval.
    """

    height_mm: float
    u_mm: float
    less_mm: float
    more_mm: float
    sorted_mm: NDArray[np.float64] | None = None  # (n,)

    def probabilities(
        self, low_mm: float | None, high_mm: float | None, *, moved_down_mm: float = 0.0
    ) -> Probabilities:
        """Probabilities for the band after the coupling was lowered by moved_down_mm (exactly known)."""
        low = None if low_mm is None else low_mm + moved_down_mm
        high = None if high_mm is None else high_mm + moved_down_mm
        if self.sorted_mm is None:
            return _normal(self.height_mm, self.u_mm, low, high)
        n = self.sorted_mm.size
        below = 0 if low is None else int(np.searchsorted(self.sorted_mm, low, side="left"))
        upto = n if high is None else int(np.searchsorted(self.sorted_mm, high, side="right"))
        return Probabilities(below=below / n, inside=(upto - below) / n, above=(n - upto) / n)


def measured_height(
    height_mm: float,
    u_mm: float,
    *,
    interval_mm: tuple[float, float] | None = None,
    samples_mm: ArrayLike | None = None,
) -> MeasuredHeight:
    """Checked values as a MeasuredHeight.

    interval_mm: the expanded interval; None: +/-2 u, or the probabilistically symmetric interval of equal
    coverage (0.9545) of samples_mm (n >= 1000 draws). Raises InputError for values that are not finite or
    negative, or an interval that does not hold the height.
    """
    _check("height_mm", height_mm)
    _check("u_mm", u_mm)
    draws = None if samples_mm is None else _checked_draws(samples_mm)
    if interval_mm is not None:
        low, high = interval_mm
        if not (math.isfinite(low) and math.isfinite(high) and low <= height_mm <= high):
            raise InputError(
                said(
                    "The interval {low:g} to {high:g} mm does not hold the height {height_mm:g} mm.",
                    low=low,
                    high=high,
                    height_mm=height_mm,
                ),
                expected=said("two finite ends in mm, the height between them"),
                remedy=said("give the interval that belongs to this height"),
            )
        less, more = height_mm - low, high - height_mm
    elif draws is not None:
        tail = (1.0 - COVERAGE) / 2.0
        low, high = np.quantile(draws, [tail, 1.0 - tail])
        less, more = max(0.0, height_mm - float(low)), max(0.0, float(high) - height_mm)
    else:
        less = more = COVERAGE_FACTOR * u_mm
    return MeasuredHeight(height_mm=height_mm, u_mm=u_mm, less_mm=less, more_mm=more, sorted_mm=draws)


def probability_inside(height_mm: float, u_mm: float, low_mm: float | None, high_mm: float | None) -> float:
    """p = Phi((high - height)/u) - Phi((low - height)/u), JCGM 106:2012 clause 7; an end None is open.

    With u = 0 it is 1 or 0, the band's ends inside. Raises InputError for values that are not finite or
    negative, or low_mm > high_mm.
    """
    _check("height_mm", height_mm)
    _check("u_mm", u_mm)
    for name, end in (("low_mm", low_mm), ("high_mm", high_mm)):
        if end is not None:
            _check(name, end)
    if low_mm is not None and high_mm is not None and low_mm > high_mm:
        raise InputError(
            said("The band runs from {low_mm:g} to {high_mm:g} mm.", low_mm=low_mm, high_mm=high_mm),
            expected=said("low_mm not greater than high_mm"),
            remedy=said("exchange the two ends"),
        )
    return _normal(height_mm, u_mm, low_mm, high_mm).inside


def guarded(known: MeasuredHeight, low_mm: float | None, high_mm: float | None, r: float) -> Acceptance | None:
    """The band less the guard bands w = r U at its ends; None where nothing is left.

    The guard at an end is the side of the interval that reaches towards it, so that for r = 1 a height is
    accepted exactly when its whole interval is inside the band.
    """
    low = None if low_mm is None else low_mm + r * known.less_mm
    high = None if high_mm is None else high_mm - r * known.more_mm
    return _acceptance(low, high)


def sure_enough(
    known: MeasuredHeight, low_mm: float | None, high_mm: float | None, p_inside: float
) -> Acceptance | None:
    """Heights at which the probability of being inside is at least p_inside (0.5 to 1); None: nowhere.

    The spread is taken along unchanged as the height moves. For draws one peak of p over height is assumed.
    """
    best = _best_move_down_mm(known, low_mm, high_mm)
    if known.probabilities(low_mm, high_mm, moved_down_mm=best).inside < p_inside:
        return None
    reach = _reach_mm(known)

    def edge(outside: float) -> float:
        good, bad = best, outside
        for _ in range(80):  # halving: 2^-80 of any reach is below the spacing of doubles
            middle = 0.5 * (good + bad)
            if known.probabilities(low_mm, high_mm, moved_down_mm=middle).inside >= p_inside:
                good = middle
            else:
                bad = middle
        return known.height_mm - good

    high = None if high_mm is None else edge(known.height_mm - high_mm - reach)
    low = None if low_mm is None else edge(known.height_mm - low_mm + reach)
    return _acceptance(low, high)


def acceptance(
    known: MeasuredHeight, low_mm: float | None, high_mm: float | None, decision: Decision
) -> Acceptance | None:
    """The acceptance interval of a decision rule for one band; None where no height would be accepted."""
    if decision.kind == "max-false-acceptance":
        return sure_enough(known, low_mm, high_mm, 1.0 - decision.risk)
    return guarded(known, low_mm, high_mm, decision.r)


def _acceptance(low_mm: float | None, high_mm: float | None) -> Acceptance | None:
    if low_mm is not None and high_mm is not None and low_mm > high_mm:
        return None
    return Acceptance(low_mm=low_mm, high_mm=high_mm)


def _reach_mm(known: MeasuredHeight) -> float:
    """A distance beyond which nothing of the distribution is left."""
    draws = known.sorted_mm
    if draws is None:
        return 40.0 * known.u_mm + 1.0
    return 1.0 + max(abs(float(draws[0]) - known.height_mm), abs(float(draws[-1]) - known.height_mm))


def _best_move_down_mm(known: MeasuredHeight, low_mm: float | None, high_mm: float | None) -> float:
    """The lowering (negative: raising) with the greatest probability of being inside."""
    reach = _reach_mm(known)
    if low_mm is None or high_mm is None:
        if high_mm is not None:
            return known.height_mm - high_mm + reach
        return known.height_mm - (low_mm or 0.0) - reach
    if known.sorted_mm is None:
        return known.height_mm - 0.5 * (low_mm + high_mm)
    draws, width = known.sorted_mm, high_mm - low_mm
    held = np.searchsorted(draws, draws + width, side="right") - np.arange(draws.size)  # (n,)
    first = int(np.argmax(held))
    last = first + int(held[first]) - 1
    return 0.5 * float(draws[first] + draws[last]) - 0.5 * (low_mm + high_mm)


def _tail(z: float) -> float:
    """P(Z > z) of the standard normal distribution, accurate far out."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))


def _normal(height_mm: float, u_mm: float, low_mm: float | None, high_mm: float | None) -> Probabilities:
    if u_mm == 0.0:
        below = 1.0 if low_mm is not None and height_mm < low_mm else 0.0
        above = 1.0 if high_mm is not None and height_mm > high_mm else 0.0
        return Probabilities(below=below, inside=1.0 - below - above, above=above)
    z_low = -math.inf if low_mm is None else (low_mm - height_mm) / u_mm
    z_high = math.inf if high_mm is None else (high_mm - height_mm) / u_mm
    below, above = _tail(-z_low), _tail(z_high)
    if z_low > 0.0:
        inside = _tail(z_low) - above  # both ends in the upper tail: no difference of numbers near 1
    elif z_high < 0.0:
        inside = _tail(-z_high) - below
    else:
        inside = 1.0 - below - above
    return Probabilities(below=below, inside=min(1.0, max(0.0, inside)), above=above)


def _check(name: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(
            said("{name} is {value}.", name=name, value=repr(value)),
            expected=said("a finite number of millimetres, zero or more"),
            remedy=said("check where the value comes from"),
        )


def _checked_draws(samples_mm: ArrayLike) -> NDArray[np.float64]:
    draws = np.sort(np.asarray(samples_mm, dtype=np.float64).ravel())
    if draws.size < 1000 or not np.isfinite(draws).all():
        raise InputError(
            said(
                "{size} Monte Carlo draws, {value} of them not a number.",
                size=draws.size,
                value=int(np.isnan(draws).sum()),
            ),
            expected=said("at least 1000 finite heights in mm"),
            remedy=said("draw more often, or judge by the standard uncertainty"),
        )
    draws.setflags(write=False)
    return draws
