"""Degrees of freedom, coverage factors, coverage intervals of draws, numerical tolerance of a figure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said


def welch_satterthwaite(u: float, contributions: ArrayLike, dofs: Sequence[float]) -> float:
    """nu_eff = u^4 / sum(u_i^4 / nu_i), JCGM 100:2008 G.4.1, for independent contributions u_i (k,)."""
    terms = [
        float(part) ** 4 / dof
        for part, dof in zip(np.asarray(contributions, dtype=np.float64), dofs, strict=True)
        if math.isfinite(dof)
    ]
    total = math.fsum(terms)
    return u**4 / total if total > 0.0 else math.inf


def coverage_factor(coverage: float, dof: float = math.inf) -> float:
    """Two-sided t factor; dof is cut down to a whole number, as JCGM 100:2008 G.4.1 does (but not below 1).

    Raises InputError for a coverage outside (0, 1) or dof not above 0.
    """
    check_coverage(coverage)
    if not dof > 0.0:
        raise InputError(
            said("{dof} degrees of freedom.", dof=repr(dof)),
            expected=said("a number above 0, or inf"),
            remedy=said("check the number of readings"),
        )
    upper = 0.5 * (1.0 + coverage)
    if math.isinf(dof):
        return NormalDist().inv_cdf(upper)
    from scipy.special import stdtrit  # slow to load, and needed for few degrees of freedom only

    return float(stdtrit(max(1.0, math.floor(dof + 1e-9)), upper))


def check_coverage(coverage: float) -> None:
    """Raises InputError unless 0 < coverage < 1."""
    if not 0.0 < coverage < 1.0:
        raise InputError(
            said("The coverage is {coverage}.", coverage=repr(coverage)),
            expected=said("a probability between 0 and 1"),
            remedy=said("0.95 is usual"),
        )


def numerical_tolerance(u: float, digits: int) -> float:
    """delta = 10^l / 2 where u = c x 10^l, c a whole number of `digits` digits; JCGM 101:2008 7.9.2.

    This is half a unit of the last digit that is reported. 0 for u = 0. Raises InputError for no digits.
    """
    if digits < 1:
        raise InputError(
            said("{digits} significant digits.", digits=digits),
            expected=said("1 or more"),
            remedy=said("uncertainties are stated to 1 or 2"),
        )
    if u == 0.0:
        return 0.0
    exponent = int(f"{u:.{digits - 1}e}".split("e")[1])
    return 0.5 * 10.0 ** (exponent - digits + 1)


def symmetric_interval(sorted_draws: NDArray[np.float64], coverage: float) -> tuple[float, float]:
    """Probabilistically symmetric coverage interval of sorted draws (n,); JCGM 101:2008 7.7.2."""
    count, held = sorted_draws.size, _held(sorted_draws.size, coverage)
    first = (count - held) // 2
    return float(sorted_draws[first]), float(sorted_draws[min(first + held, count - 1)])


def _held(count: int, coverage: float) -> int:
    return math.floor(coverage * count + 0.5)
