"""A measurement in a large bay: `pytest --benchmark-enable tests/benchmarks/test_bay_speed.py`.

Forty markers in each of three photographs are 960 pixel coordinates, and 480 surveyed coordinates that the photographs
share. The survey itself is timed in `tests/calib/test_bundle.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from photomeasure.estimate import Estimate, estimate
from tests import test_bay_points


def test_forty_markers_in_three_photographs(benchmark: BenchmarkFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    places = np.column_stack([rng.uniform(-1200, 1200, 40), rng.uniform(0, 400, 40), rng.uniform(200, 1300, 40)])
    monkeypatch.setattr(test_bay_points, "PLACES", places)
    monkeypatch.setattr(test_bay_points, "LENSES", (*test_bay_points.LENSES, np.array([0.0, -2300.0, 800.0])))
    scene, truth = test_bay_points.bay(rng, 3, 40)
    assert 2 * sum(len(view.px) for view in scene.markers) == 960
    found = benchmark(estimate, scene)
    assert isinstance(found, Estimate) and abs(found.height_mm - truth) < 4 * found.u_mm
