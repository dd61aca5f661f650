"""Many residuals at once against `rows`, one vector at a time: every kind of view."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.scene.scene import PlaneName, Scene
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import PLANE_PARAMETERS, layout, parameters_of
from photomeasure.solution.model_of_many import residuals, turns_of
from photomeasure.solution.rows import rows
from tests.points.groups import GROUPS
from tests.points.simulate import simulate
from tests.solution.test_model import everything


def worst_share(scene: Scene, middle: NDArray[np.float64], spread: NDArray[np.float64] | float) -> float:
    """Largest difference between both ways at six drawn vectors, as a share of the largest residual (at least 1)."""
    where = layout(scene)
    x = middle + spread * np.random.default_rng(8).normal(size=(6, len(middle)))
    shares = []
    for one, row in zip(x, residuals(scene, where, x), strict=True):
        reference = rows(scene, where, one).residual
        shares.append(float(np.abs(row - reference).max()) / max(1.0, float(np.abs(reference).max())))
    return max(shares)


UPRIGHTS: tuple[PlaneName, ...] = ("upright", "upright-in-bay")


def test_everything_is_everything() -> None:
    """Each kind of plane is in one of the scenes, and each of its parameters moves what is seen, away from zero."""
    shown: set[PlaneName] = set()
    for upright in UPRIGHTS:
        scene, x = everything(upright)
        where = layout(scene)
        solved = rows(scene, where, x)
        moves = np.abs(solved.jacobian[solved.observed]).max(axis=0)
        for view in scene.planes:
            shown.add(view.plane)
            at = where.at(*parameters_of(scene, view))
            assert (moves[at] > 0.0).all() and (x[at] != 0.0).all(), view.plane
    assert shown == PLANE_PARAMETERS.keys()


@pytest.mark.parametrize("upright", UPRIGHTS)
def test_every_kind_of_view(upright: PlaneName) -> None:
    """Both sheets, the tag, picks, outlines and markers with and without an error of their own, two cameras."""
    scene, x = everything(upright)
    assert worst_share(scene, x, 1e-3) <= 1e-9


@pytest.mark.parametrize("name", GROUPS)
def test_as_one_at_a_time_in_rigs(name: str) -> None:
    """Spread three times as wide as the parameters' own uncertainties."""
    solved = estimate(simulate(GROUPS[name], np.random.default_rng(7)).scene)
    assert isinstance(solved, Estimate)
    assert worst_share(solved.scene, solved.x, 3.0 * np.sqrt(np.diag(solved.covariance))) <= 1e-9


def test_rotations_of_many_draws_are_opencvs_to_the_last_bit() -> None:
    """Else what is drawn would move with the way it is computed."""
    rng = np.random.default_rng(5)
    vectors = np.concatenate([rng.normal(size=(2000, 3)) * scale for scale in (1.0, 1e-3, 1e-9, 3.0)])
    vectors = np.concatenate([vectors, np.zeros((1, 3)), 1e-17 * np.eye(3), np.pi * np.eye(3)])
    np.testing.assert_array_equal(turns_of(vectors), [cv2.Rodrigues(vector)[0] for vector in vectors])
