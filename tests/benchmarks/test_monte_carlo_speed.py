"""Monte Carlo through the estimator, draws together against one at a time: `pytest --benchmark-enable tests/benchmarks`.

Both rows solve the same `DRAWS` disturbed rigs by the same Newton steps; compare their minimum: the ratio is what counts.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from photomeasure.interval.montecarlo import heights_mm, row_inputs
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.rows import rows
from photomeasure.uncertainty.montecarlo import draw_inputs
from tests.points.groups import GROUPS
from tests.points.simulate import simulate

DRAWS = 250
SETTLED_MM = 1e-4
NAMES = ("followed, picked", "followed, ball", "three and ground sheet")


def rig(name: str, benchmark: BenchmarkFixture) -> tuple[Estimate, NDArray[np.float64]]:
    solved = estimate(simulate(GROUPS[name], np.random.default_rng(3)).scene)
    assert isinstance(solved, Estimate)
    return solved, draw_inputs(
        row_inputs(solved), DRAWS if benchmark.enabled else DRAWS // 10, np.random.default_rng(4)
    )


def one_at_a_time(solved: Estimate, draws: NDArray[np.float64]) -> NDArray[np.float64]:
    gain = solved.covariance @ solved.rows.jacobian.T
    settled = gain @ solved.rows.residual
    heights = []
    for draw in draws:
        x = solved.x - gain @ draw
        for _ in range(12):
            step = settled - gain @ (rows(solved.scene, solved.where, x).residual + draw)
            x = x + step
            if abs(float(solved.gradient @ step)) < SETTLED_MM:
                break
        heights.append(float(solved.gradient @ x))
    return np.array(heights)


@pytest.mark.parametrize("name", NAMES)
def test_together(benchmark: BenchmarkFixture, name: str) -> None:
    solved, draws = rig(name, benchmark)
    assert benchmark(lambda: heights_mm(solved, draws)) == pytest.approx(one_at_a_time(solved, draws), abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_one_at_a_time(benchmark: BenchmarkFixture, name: str) -> None:
    solved, draws = rig(name, benchmark)
    assert np.isfinite(benchmark(lambda: one_at_a_time(solved, draws))).all()
