"""The driver alone: it goes down, never up, says when it is there, and gives up where nothing helps."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from calib.fit.descent import Damping, descend

Array = NDArray[np.float64]
DAMPING = Damping(factor=8.0, most=1e10)


def rosenbrock(x: Array) -> Array:
    """(2,) residuals whose squares are Rosenbrock's function; its least is at (1, 1)."""
    return np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]])


def cost(x: Array) -> float:
    return float((rosenbrock(x) ** 2).sum())


def steps_from(x: Array) -> Callable[[float], Array | None]:
    slope = np.array([[-20.0 * x[0], 10.0], [-1.0, 0.0]])
    square = slope.T @ slope
    return lambda damping: np.asarray(
        x - np.linalg.solve(square + damping * np.diag(np.diag(square)), slope.T @ rosenbrock(x))
    )


@pytest.mark.parametrize("start", [(-1.2, 1.0), (3.0, -2.0), (0.0, 0.0)])
def test_it_finds_what_scipy_finds(start: tuple[float, float]) -> None:
    found = descend(np.array(start), cost, steps_from, damping=DAMPING, steps=200, least_gain=1e-12)
    assert found.converged and found.cost == cost(found.state)
    np.testing.assert_allclose(found.state, least_squares(rosenbrock, start).x, atol=1e-5)
    np.testing.assert_allclose(found.state, 1.0, atol=1e-5)


def test_no_step_that_is_taken_costs_more() -> None:
    costs: list[float] = []

    def watched(x: Array) -> Callable[[float], Array | None]:
        costs.append(cost(x))
        return steps_from(x)

    descend(np.array([-1.2, 1.0]), cost, watched, damping=DAMPING, steps=100, least_gain=1e-12)
    assert len(costs) > 5 and all(after <= before for before, after in itertools.pairwise(costs))


def test_it_stops_where_it_is_told_and_where_nothing_helps() -> None:
    short = descend(np.array([-1.2, 1.0]), cost, steps_from, damping=DAMPING, steps=2, least_gain=1e-12)
    assert not short.converged and short.cost < cost(np.array([-1.2, 1.0]))
    stuck = descend(
        0.0, lambda x: 1.0 + abs(x), lambda x: lambda damping: x + 1.0, damping=DAMPING, steps=9, least_gain=0.1
    )
    assert (stuck.state, stuck.converged) == (0.0, True)  # as low as it gets
    lost = descend(0.0, lambda x: math.inf, lambda x: lambda damping: None, damping=DAMPING, steps=9, least_gain=0.1)
    assert not lost.converged and lost.cost == math.inf
