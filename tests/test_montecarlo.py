"""Monte Carlo through the estimator (JCGM 101) against solving the disturbed problem afresh, and against simulation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.estimate import Estimate, estimate, solve_from
from photomeasure.montecarlo import monte_carlo, row_inputs, solve_disturbed
from photomeasure.scene import Scene
from tests.points.groups import GROUPS, STANDING, coverage_factor, errors_mm, solved_scenes
from tests.points.simulate import Shot, simulate


def solved(shot: Shot, seed: int) -> Estimate:
    result = estimate(simulate(shot, np.random.default_rng(seed)).scene)
    assert isinstance(result, Estimate)
    return result


def disturbed(scene: Scene, e: NDArray[np.float64]) -> Scene:
    """The scene whose observations and priors are off by e (R,) standard uncertainties, in the order of the rows."""
    at = 0

    def next_rows(count: int) -> NDArray[np.float64]:
        nonlocal at
        at += count
        return e[at - count : at]

    planes = [replace(v, px=v.px + next_rows(2 * len(v.px)).reshape(-1, 2) * v.sigma_px[:, None]) for v in scene.planes]
    points = [replace(p, px=p.px + next_rows(2) * p.sigma_px) for p in scene.points]
    camera = scene.cameras[0]
    moved = replace(camera, mean=camera.mean + camera.basis @ next_rows(camera.basis.shape[1]))
    priors = [replace(p, mean=p.mean + p.u * float(next_rows(1)[0])) for p in scene.priors]
    assert at == len(e)
    return replace(scene, planes=tuple(planes), points=tuple(points), cameras=(moved,), priors=tuple(priors))


@pytest.mark.parametrize("name", ["followed, picked", "followed, tag", "standing height", "three and ground sheet"])
def test_a_draw_is_what_solving_the_disturbed_scene_gives(name: str) -> None:
    """Newton steps with the gain of the solution against a whole solve of disturbed pixels and priors."""
    result = solved(GROUPS[name], 3)
    rng = np.random.default_rng(4)
    for _ in range(6):
        e = np.array([entry.distribution.draw(rng, 1)[0] for entry in row_inputs(result)])
        afresh = float(result.gradient @ solve_from(disturbed(result.scene, e), result.where, result.x))
        assert solve_disturbed(result, e) == pytest.approx(afresh, abs=0.01 * result.u_mm)


def test_no_disturbance_gives_the_estimate() -> None:
    result = solved(Shot(), 5)
    assert solve_disturbed(result, np.zeros(len(result.rows.quantities))) == pytest.approx(result.height_mm, abs=1e-4)


def test_the_first_order_stands_where_normal_inputs_rule() -> None:
    result = solved(GROUPS["followed, tag"], 6)
    check = monte_carlo(result, np.random.default_rng(7), block=300, largest=600)
    assert not check.takes_over
    assert check.draws.value == pytest.approx(result.height_mm, abs=0.2 * result.u_mm)
    assert check.draws.u == pytest.approx(result.u_mm, rel=0.1)


def test_a_rectangular_depth_makes_the_interval_narrower_than_two_u() -> None:
    """Standing height, one photograph: depth +/- 20 mm dominates, and a rectangle has no tails.

    Reference: 250 rigs simulated afresh (no draws of this check): 95.45 % of their errors lie within the factor.
    """
    result = solved(Shot(lenses_mm=STANDING), 8)
    check = monte_carlo(result, np.random.default_rng(9), largest=1000)
    assert not check.agreement.validated
    factor = (check.draws.high - check.draws.low) / 2.0 / result.u_mm
    assert 1.6 < factor < 1.9  # a rectangle alone: 0.9545 sqrt(3) = 1.653; a normal: 2
    assert factor == pytest.approx(coverage_factor(result, np.random.default_rng(10)), rel=0.04)
    error, u, _ = errors_mm(solved_scenes(GROUPS["standing height"], 250, seed=11)).T
    ratio = np.abs(error) / u
    assert float(np.quantile(ratio, 0.9545)) == pytest.approx(factor, rel=0.08)
    assert np.mean(ratio <= 2.0) > 0.97  # two u would be padding
