"""A measurement in a large bay: `pytest --benchmark-enable tests/benchmarks/test_bay_speed.py`.

Forty markers in each of three photographs are 960 pixel coordinates, and 480 surveyed coordinates that the photographs
share; a hundred are 2 400 and 1 200. On two shared cores: 0.17 s and 1.7 s; with dense algebra 0.97 s and 24 s (see
`photomeasure.solution.elimination`). The survey itself is timed in `tests/calib/survey/test_bundle.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from photomeasure.solution.estimate import Estimate, estimate
from tests.bay import test_bay_points


@pytest.mark.parametrize("markers", [40, 100])
def test_markers_in_three_photographs(
    markers: int, benchmark: BenchmarkFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(3)
    places = np.column_stack(
        [rng.uniform(-1200, 1200, markers), rng.uniform(0, 400, markers), rng.uniform(200, 1300, markers)]
    )
    monkeypatch.setattr(test_bay_points, "PLACES", places)
    monkeypatch.setattr(test_bay_points, "LENSES", (*test_bay_points.LENSES, np.array([0.0, -2300.0, 800.0])))
    scene, truth = test_bay_points.bay(rng, 3, markers)
    assert 2 * sum(len(view.px) for view in scene.markers) == 24 * markers
    found = benchmark(estimate, scene)
    assert isinstance(found, Estimate) and abs(found.height_mm - truth) < 4 * found.u_mm
