"""Surveyed points eliminated, against the dense routines that they replace: LAPACK's QR and MINPACK's lmder."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from photomeasure.scene.scene import Prior, Scene
from photomeasure.solution import elimination
from photomeasure.solution.contradicted import contradicted
from photomeasure.solution.elimination import bordered, factored, minimise
from photomeasure.solution.estimate import Estimate, estimate, solve_disturbed
from photomeasure.solution.model import layout
from photomeasure.solution.rows import rows
from tests.bay.test_bay_points import bay


def both_ways(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> tuple[Estimate, Estimate]:
    """The scene solved with its points eliminated, and densely."""
    fast = estimate(scene)
    with monkeypatch.context() as patch:
        patch.setattr(elimination, "bordered", lambda jacobian, where: None)
        dense = estimate(scene)
    assert isinstance(fast, Estimate) and isinstance(dense, Estimate)
    return fast, dense


@pytest.mark.parametrize("seed", range(6))
def test_heights_and_uncertainties_are_those_of_the_dense_routines(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    scene, _ = bay(np.random.default_rng(seed), 2, 3 + seed % 2)
    if seed % 3 == 2:  # a corner that one photograph loses, and noise that is more than claimed
        px = scene.markers[0].px.copy()
        px[5] += [60.0, -40.0]
        tight = scene.markers[1]
        scene = replace(
            scene,
            markers=(replace(scene.markers[0], px=px), replace(tight, sigma_px=tight.sigma_px / 3.0)),
        )
    fast, dense = both_ways(scene, monkeypatch)
    assert fast.where.points
    assert fast.height_mm == pytest.approx(dense.height_mm, abs=1e-6)
    assert fast.u_mm == pytest.approx(dense.u_mm, abs=1e-6)
    assert fast.dropped == dense.dropped
    assert fast.noise_scale == pytest.approx(dense.noise_scale, rel=1e-7)
    # the criterion's own width: parameters agree to a millionth of their standard uncertainties
    assert np.abs((fast.x - dense.x) / np.sqrt(np.diag(dense.covariance))).max() < 1e-6


def test_covariance_and_leverage_are_those_of_a_qr_of_the_whole() -> None:
    solved = estimate(bay(np.random.default_rng(21), 2, 4)[0])
    assert isinstance(solved, Estimate)
    jacobian = solved.rows.jacobian
    assert bordered(jacobian, solved.where) is not None
    basis, triangle = np.linalg.qr(jacobian)
    root = np.linalg.inv(triangle)
    sigma = np.sqrt(np.diag(root @ root.T))
    apart = factored(jacobian, solved.where).covariance() - root @ root.T
    assert np.abs(apart / np.outer(sigma, sigma)).max() < 1e-9
    assert factored(jacobian, solved.where).leverage() == pytest.approx((basis**2).sum(axis=1), abs=1e-9)
    off = solved.rows.residual + 1.0
    undamped, parts = -np.linalg.lstsq(jacobian, off, rcond=None)[0], bordered(jacobian, solved.where)
    assert parts is not None
    assert np.abs((parts.step(off, 0.0) - undamped) / sigma).max() < 1e-7


@pytest.mark.parametrize("seed", range(4))
def test_without_points_the_optimum_is_that_of_minpack(seed: int) -> None:
    """From as far off as a first guess is; MINPACK leaves a thousandth of a standard uncertainty."""
    solved = estimate(bay(np.random.default_rng(30 + seed), 1, 4)[0])
    assert isinstance(solved, Estimate) and not solved.where.points
    scene, where, u = solved.scene, solved.where, np.sqrt(np.diag(solved.covariance))
    start = solved.x + 20.0 * u * np.random.default_rng(seed).normal(size=len(u))
    seen = 0

    def residual(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return rows(scene, where, x).residual

    def jacobian(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return rows(scene, where, x).jacobian

    def at(x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        nonlocal seen
        seen += 1
        return residual(x), jacobian(x)

    ours = minimise(at, where, start, evaluations=60)
    assert ours is not None and seen <= 15
    by_minpack = least_squares(residual, start, jac=jacobian, method="lm", x_scale="jac").x
    assert np.abs((ours - by_minpack) / u).max() < 2e-3


def test_a_bent_valley_is_left_to_a_better_driver() -> None:
    """Rosenbrock's, a hundred times as narrow: not to the end within the evaluations that are soon."""
    where = layout(bay(np.random.default_rng(30), 1, 4)[0])
    none = np.zeros(len(where.names) - 2)

    def at(x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        slope = np.eye(len(x))
        slope[0, :2], slope[1, :2] = [-2e4 * x[0], 1e4], [-1.0, 0.0]
        return np.array([1e4 * (x[1] - x[0] ** 2), 1.0 - x[0], *x[2:]]), slope

    assert minimise(at, where, np.array([-1.2, 1.0, *none]), evaluations=60) is None


def test_disturbed_rows_reach_the_same_optimum(monkeypatch: pytest.MonkeyPatch) -> None:
    solved = estimate(bay(np.random.default_rng(22), 2, 3)[0])
    assert isinstance(solved, Estimate)
    draw = np.random.default_rng(23).normal(size=len(solved.rows.residual))
    fast = solve_disturbed(solved, draw)
    monkeypatch.setattr(elimination, "bordered", lambda jacobian, where: None)
    assert solved.gradient @ fast == pytest.approx(solved.gradient @ solve_disturbed(solved, draw), abs=1e-6)


def test_a_prior_that_ties_two_points_together_is_solved_densely() -> None:
    """Such a row belongs to no single point; the solution must heed it all the same."""
    scene, _ = bay(np.random.default_rng(24), 2, 3)
    names = (f"{scene.markers[0].names[0]}.z", f"{scene.markers[0].names[4]}.z")
    tie = Prior(
        quantity="tie", coefficients={names[0]: 1.0, names[1]: -1.0}, mean=0.0, u=1e-3, unit="mm", source="this test"
    )
    tied = replace(scene, priors=(*scene.priors, tie))
    solved = estimate(tied)
    assert isinstance(solved, Estimate)
    assert bordered(solved.rows.jacobian, layout(tied)) is None
    assert solved.value(names[0]) == pytest.approx(solved.value(names[1]), abs=1e-2)


def test_a_contradicted_plane_is_noticed_in_a_bay() -> None:
    """Two photographs put the coupling 60 mm before the plane that a bay states to 5 mm."""
    scene, _ = bay(np.random.default_rng(25), 2, 4)
    plane = replace(scene.priors[0], mean=60.0)
    solved = estimate(replace(scene, priors=(plane,)))
    assert isinstance(solved, Estimate)
    assert contradicted(solved)[0][0] == "depth"
