"""A scene whose priors have other means, solved in a few steps, is what the estimator makes of that scene by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.scene.priors import DEG
from photomeasure.solution.estimate import Estimate, estimate, solved_from
from photomeasure.solution.other_means import Asked, OtherMeans
from photomeasure.solution.rows import rows
from tests.points.simulate import Shot, simulate

SETTLED = 1e-4


@pytest.fixture(scope="module")
def solved() -> Estimate:
    found = estimate(simulate(Shot(), np.random.default_rng(5)).scene)
    assert isinstance(found, Estimate)
    return found


@pytest.mark.parametrize(
    ("quantity", "by"), [("sheet roll", 3.0 * DEG), ("sheet lean", -10.0 * DEG), ("depth", 100.0), ("sheet roll", 0.0)]
)
def test_the_solution_is_the_estimators(solved: Estimate, quantity: str, by: float) -> None:
    priors = [
        replace(prior, mean=prior.mean + by) if prior.quantity == quantity else prior for prior in solved.scene.priors
    ]
    scene = replace(solved.scene, priors=tuple(priors))
    whole = solved_from(scene, solved.where, solved.x, 1e-8)
    quick = OtherMeans(solved).solved([Asked(priors=priors, start=solved.x)], SETTLED)[0].whole()
    assert quick.height_mm == pytest.approx(whole.height_mm, abs=1e-4)
    assert (abs(quick.height_mm - solved.height_mm) > 0.1) == (by != 0.0)
    assert np.abs(quick.rows.residual - whole.rows.residual).max() < 10.0 * SETTLED
    assert quick.u_mm == pytest.approx(whole.u_mm, rel=1e-3)


def test_a_start_from_which_whole_steps_do_not_help_is_left_to_the_estimator(solved: Estimate) -> None:
    start = solved.x.copy()
    start[solved.where.pose(0)[:3]] += 0.7
    quick = OtherMeans(solved).solved([Asked(priors=solved.scene.priors, start=start)], SETTLED)[0].whole()
    assert quick.height_mm == pytest.approx(solved_from(solved.scene, solved.where, start, SETTLED).height_mm, abs=1e-2)


def test_a_start_that_no_camera_has_is_none(solved: Estimate) -> None:
    """A sheared picture whose focal length is known by next to nothing: to the first order it went below zero for a sheet
    that leans, and the measurement ended in the library's "Residuals are not finite in the initial point"."""
    start = solved.x.copy()
    start[solved.where.index["camera0.q0"]] = -100.0
    assert not np.isfinite(rows(solved.scene, solved.where, start).residual).any()
    found = OtherMeans(solved).solved([Asked(priors=solved.scene.priors, start=start)], SETTLED)[0].whole()
    assert found.height_mm == pytest.approx(solved.height_mm, abs=1e-2)
