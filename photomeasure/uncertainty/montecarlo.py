"""Propagation of distributions by the adaptive Monte Carlo procedure (JCGM 101:2008 7.9)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.coverage import check_coverage, symmetric_interval
from photomeasure.uncertainty.quantity import InputQuantity

Array = NDArray[np.float64]

BLOCK = 10_000  # JCGM 101:2008 7.9.4 b
LARGEST = 4_000_000  # 32 MB of draws


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarloResult:
    """Estimate, standard uncertainty and probabilistically symmetric coverage interval from the draws of the measurand.

    stable: whether estimate, u and both ends were within `tolerance` at two standard deviations at the end.
    sorted_draws: (draws,), read-only.
    """

    value: float
    u: float
    low: float
    high: float
    coverage: float
    draws: int
    stable: bool
    tolerance: float
    sorted_draws: Array


def draw_inputs(inputs: Sequence[InputQuantity], n: int, rng: np.random.Generator) -> Array:
    """Draws (n, k) of independent inputs, each in its own unit."""
    return np.stack([quantity.distribution.draw(rng, n) for quantity in inputs], axis=1)


def adaptive(
    model: Callable[[Array], ArrayLike],
    inputs: Sequence[InputQuantity],
    *,
    rng: np.random.Generator,
    tolerance: float,
    coverage: float = 0.95,
    block: int = BLOCK,
    largest: int = LARGEST,
) -> MonteCarloResult:
    """Blocks of draws of independent inputs until the figures are stable to `tolerance`, or `largest` reached.

    model: (n, k) -> (n,). tolerance: in the measurand's unit, by `numerical_tolerance` for figures of so many digits
    (clause 8.2 asks for a fifth of it to validate the first order). block below 10 000, for models that take
    long, departs from 7.9.4 b. Raises InputError for a coverage or block out of range,
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
        batches.append(_evaluate(model, draw_inputs(inputs, block, rng)))
        figures.append(_figures(batches[-1], coverage))
        if len(batches) < 2:
            continue
        stable = is_stable(np.array(figures), tolerance)
        if stable or (len(batches) + 1) * block > largest:
            break
    draws = np.sort(np.concatenate(batches))
    draws.setflags(write=False)
    value, u, low, high = _figures(draws, coverage)
    return MonteCarloResult(
        value=value,
        u=u,
        low=low,
        high=high,
        coverage=coverage,
        draws=draws.size,
        stable=stable,
        tolerance=tolerance,
        sorted_draws=draws,
    )


def is_stable(figures: Array, tolerance: float) -> bool:
    """JCGM 101:2008 7.9.4 h, i: twice the standard deviation of the mean over h blocks, figures (h, 4)."""
    blocks = figures.shape[0]
    spread = figures.std(axis=0, ddof=1) / math.sqrt(blocks)  # (4,)
    return bool((2.0 * spread <= tolerance).all())


def _evaluate(model: Callable[[Array], ArrayLike], draws: Array) -> Array:
    out = np.asarray(model(draws), dtype=np.float64).ravel()
    if out.shape != (draws.shape[0],):
        raise ValueError(f"the model made {out.size} numbers of {draws.shape[0]} draws")
    failed = int((~np.isfinite(out)).sum())
    if failed:
        raise ArithmeticError(f"the model gave no finite number for {failed} of {out.size} draws")
    return out


def _figures(draws: Array, coverage: float) -> tuple[float, float, float, float]:
    ordered = np.sort(draws)
    low, high = symmetric_interval(ordered, coverage)
    return float(ordered.mean()), float(ordered.std(ddof=1)), low, high
