"""Outlines of several photographs, and at several parameters, by one pass are what each is by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import photographed
from photomeasure.solution.rows import Whitening
from tests.points.groups import LEFT, RIGHT
from tests.points.simulate import Shot, simulate


@pytest.fixture(scope="module", params=["radial", "tangential"])
def solved(request: pytest.FixtureRequest) -> Estimate:
    scene = simulate(Shot(lenses_mm=(LEFT, RIGHT), source="ball"), np.random.default_rng(12)).scene
    if request.param == "tangential":  # the other way of undoing a lens
        by = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2e-4, -1e-4, 0.0])
        cameras = [replace(camera, mean=camera.mean + by) for camera in scene.cameras]
        scene = replace(scene, cameras=tuple(cameras))
    found = estimate(scene)
    assert isinstance(found, Estimate) and len(found.scene.outlines) == 2
    return found


def test_several_parameters_at_once_are_one_after_the_other(solved: Estimate) -> None:
    rng, whitening = np.random.default_rng(13), Whitening(solved.scene, solved.where)
    u = np.sqrt(np.diag(solved.covariance))
    several = [solved.x, *(solved.x + u * rng.normal(size=len(u)) for _ in range(3))]
    for x, together in zip(several, whitening.at_each(several), strict=True):
        alone = whitening.at(x)
        np.testing.assert_allclose(together.residual, alone.residual, rtol=0.0, atol=1e-8)
        np.testing.assert_allclose(together.jacobian, alone.jacobian, rtol=1e-9, atol=1e-8)


def test_each_outline_is_what_it_is_without_the_others(solved: Estimate) -> None:
    whole = Whitening(solved.scene, solved.where).at(solved.x)
    for number, view in enumerate(solved.scene.outlines):
        alone = Whitening(replace(solved.scene, outlines=(view,)), solved.where).at(solved.x)
        own, here = whole.places.outlines[number], alone.places.outlines[0]
        np.testing.assert_allclose(whole.residual[own], alone.residual[here], rtol=0.0, atol=1e-8)
        np.testing.assert_allclose(whole.jacobian[own], alone.jacobian[here], rtol=1e-9, atol=1e-8)


def test_a_centre_in_the_lens_itself_or_nowhere_is_no_fault_of_the_program(solved: Estimate) -> None:
    """A search may come by there, and steps back from residuals that are not finite or far off."""
    scene, where = solved.scene, solved.where
    camera, whitening = photographed(scene, where, solved.x, 0), Whitening(scene, where)
    at = where.at("centre.x", "centre.y", "centre.z")
    for centre in (-camera.turn.T @ camera.move, np.full(3, 1e200), np.full(3, np.nan)):
        x = solved.x.copy()
        x[at] = centre
        with np.errstate(all="ignore"):
            assert len(whitening.at(x).residual) == len(solved.rows.residual)


def test_of_no_points_nothing_is_seen(solved: Estimate) -> None:
    px, slopes = photographed(solved.scene, solved.where, solved.x, 0).seen(np.zeros((0, 3)))
    assert px.shape == (0, 2) and slopes.shape == (0, 15)
