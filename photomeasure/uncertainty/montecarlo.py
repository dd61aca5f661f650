"""Propagation of distributions by the adaptive Monte Carlo procedure (JCGM 101:2008 7.9)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.coverage import (
    check_coverage,
    numerical_tolerance,
    shortest_interval,
    symmetric_interval,
)
from photomeasure.uncertainty.distribution import Normal
from photomeasure.uncertainty.quantity import InputQuantity, checked_correlation, correlated_names

Array = NDArray[np.float64]
IntervalKind = Literal["shortest", "symmetric"]
_INTERVALS = {"shortest": shortest_interval, "symmetric": symmetric_interval}

BLOCK = 10_000  # JCGM 101:2008 7.9.4 b
LARGEST = 4_000_000  # 32 MB of draws


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo:
    """Estimate, standard uncertainty and coverage interval from the draws of the measurand.

    stable: whether estimate, u and both ends were within `tolerance` at two standard deviations at the end.
    sorted_draws: (draws,), read-only.
    """

    value: float
    u: float
    low: float
    high: float
    coverage: float
    interval: IntervalKind
    draws: int
    stable: bool
    tolerance: float
    sorted_draws: Array


def draw_inputs(
    inputs: Sequence[InputQuantity], n: int, rng: np.random.Generator, correlation: ArrayLike | None = None
) -> Array:
    """Draws (n, k) of the inputs; correlated ones must be normal (JCGM 101:2008 6.4.8, by Cholesky)."""
    r = checked_correlation(correlation, len(inputs))
    names = correlated_names(inputs, r)
    others = [q.name for q in inputs if q.name in names and not isinstance(q.distribution, Normal)]
    if others:
        raise InputError(
            "Correlated, but not normal: " + ", ".join(others) + ".",
            expected=said("normal distributions for correlated inputs"),
            remedy=said("split off what the inputs share as an input of its own"),
        )
    draws = np.stack([quantity.distribution.draw(rng, n) for quantity in inputs], axis=1)  # (n, k)
    joint = [i for i, quantity in enumerate(inputs) if quantity.name in names]
    if joint:
        mean = np.array([inputs[i].distribution.mean for i in joint])
        u = np.array([inputs[i].distribution.u for i in joint])
        standard = rng.standard_normal((n, len(joint)))
        draws[:, joint] = mean + u * (standard @ _factor(r[np.ix_(joint, joint)]).T)
    return draws


def _factor(r: Array) -> Array:
    """L with L L' = r: Cholesky, or from the eigenvalues where r is singular (fully correlated inputs)."""
    try:
        return np.asarray(np.linalg.cholesky(r), dtype=np.float64)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(r)
        return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)), dtype=np.float64)


def adaptive(
    model: Callable[[Array], ArrayLike],
    inputs: Sequence[InputQuantity],
    *,
    rng: np.random.Generator,
    digits: int = 2,
    tolerance: float | None = None,
    coverage: float = 0.95,
    correlation: ArrayLike | None = None,
    interval: IntervalKind = "shortest",
    row_by_row: bool = False,
    block: int = BLOCK,
    largest: int = LARGEST,
) -> MonteCarlo:
    """Blocks of draws until the figures are stable to `digits` significant digits of u, or `largest` reached.

    model: (n, k) -> (n,), or with row_by_row (k,) -> number. tolerance: in place of the one of `digits`
    (clause 8.2 asks for a fifth of it to validate the first order). block below 10 000, for models that take
    long, departs from 7.9.4 b. Raises InputError for a correlation, coverage or block out of range,
    ArithmeticError where the model gives no finite number for a draw: such draws are never left out.
    """
    check_coverage(coverage)
    if block < 20 or largest < 2 * block:
        raise InputError(
            said("Blocks of {block} draws, at most {largest} in all.", block=block, largest=largest),
            expected=said("blocks of 20 or more, and room for two"),
            remedy=said("10000 draws a block is the rule"),
        )
    batches: list[Array] = []
    figures: list[tuple[float, float, float, float]] = []
    while True:
        batch = _evaluate(model, draw_inputs(inputs, block, rng, correlation), row_by_row)
        batches.append(batch)
        figures.append(_figures(np.sort(batch), coverage, interval))
        if len(batches) < 2:
            continue
        per_block = np.array(figures)  # (h, 4)
        wanted = numerical_tolerance(_pooled_u(per_block, block), digits) if tolerance is None else tolerance
        stable = is_stable(per_block, wanted)
        if stable or (len(batches) + 1) * block > largest:
            break
    draws = np.sort(np.concatenate(batches))
    draws.setflags(write=False)
    value, u, low, high = _figures(draws, coverage, interval)
    return MonteCarlo(
        value=value,
        u=u,
        low=low,
        high=high,
        coverage=coverage,
        interval=interval,
        draws=draws.size,
        stable=stable,
        tolerance=wanted,
        sorted_draws=draws,
    )


def is_stable(figures: Array, tolerance: float) -> bool:
    """JCGM 101:2008 7.9.4 h, i: twice the standard deviation of the mean over h blocks, figures (h, 4)."""
    blocks = figures.shape[0]
    spread = figures.std(axis=0, ddof=1) / math.sqrt(blocks)  # (4,)
    return bool((2.0 * spread <= tolerance).all())


def _pooled_u(figures: Array, block: int) -> float:
    """Standard deviation of all draws from those and the means of equal blocks, figures (h, 4)."""
    means, spreads = figures[:, 0], figures[:, 1]
    within = (block - 1) * (spreads**2).sum()
    between = block * ((means - means.mean()) ** 2).sum()
    return math.sqrt(float(within + between) / (block * means.size - 1))


def summarise(draws: ArrayLike, *, coverage: float = 0.95, interval: IntervalKind = "shortest") -> MonteCarlo:
    """The same record for draws made elsewhere, a fixed number (n >= 2); stable is False: not examined."""
    check_coverage(coverage)
    ordered = np.sort(np.asarray(draws, dtype=np.float64).ravel())
    if ordered.size < 2 or not np.isfinite(ordered).all():
        raise ArithmeticError(f"{ordered.size} draws, not all finite: no summary without leaving some out")
    ordered.setflags(write=False)
    value, u, low, high = _figures(ordered, coverage, interval)
    return MonteCarlo(
        value=value,
        u=u,
        low=low,
        high=high,
        coverage=coverage,
        interval=interval,
        draws=ordered.size,
        stable=False,
        tolerance=math.nan,
        sorted_draws=ordered,
    )


def _evaluate(model: Callable[[Array], ArrayLike], draws: Array, row_by_row: bool) -> Array:
    if row_by_row:
        out = np.array([float(np.asarray(model(row))) for row in draws])  # (n,)
    else:
        out = np.asarray(model(draws), dtype=np.float64).ravel()
    if out.shape != (draws.shape[0],):
        raise ValueError(f"the model made {out.size} numbers of {draws.shape[0]} draws")
    failed = int((~np.isfinite(out)).sum())
    if failed:
        raise ArithmeticError(f"the model gave no finite number for {failed} of {out.size} draws")
    return out


def _figures(sorted_draws: Array, coverage: float, interval: IntervalKind) -> tuple[float, float, float, float]:
    low, high = _INTERVALS[interval](sorted_draws, coverage)
    return float(sorted_draws.mean()), float(sorted_draws.std(ddof=1)), low, high
