"""The ball's diameter without what was said of it: against a solution to which it was never said, and by sampling."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.interval.ball_size import ball_size, without_statement
from photomeasure.scene.scene import Scene
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.withdrawn import reconciled
from tests.points.simulate import Shot, simulate

BALL = Shot(source="ball")


def solved(scene: Scene) -> Estimate:
    found = estimate(scene)
    assert isinstance(found, Estimate)
    return found


def unsaid(scene: Scene) -> Scene:
    """As if any diameter were as likely."""
    return replace(
        scene,
        priors=tuple(
            replace(prior, u=1e3, mean=70.0) if prior.quantity == "ball diameter" else prior for prior in scene.priors
        ),
    )


def test_it_is_that_of_a_solution_to_which_no_diameter_was_said() -> None:
    """Linear but for the outline's slight bend: within a hundredth of its u."""
    scene = simulate(BALL, np.random.default_rng(5)).scene
    found, free = without_statement(solved(scene)), solved(unsaid(scene))
    assert found is not None
    assert found.diameter_mm == pytest.approx(2.0 * free.value("ball.radius"), abs=0.01 * found.u_mm)
    assert found.u_mm == pytest.approx(2.0 * free.u("ball.radius"), rel=0.01)


def test_its_uncertainty_is_by_how_much_it_errs() -> None:
    """24 rigs drawn from the priors: the mean square of z has a standard deviation of sqrt(2 / 24) = 0.29."""
    rng, z = np.random.default_rng(11), []
    for _ in range(24):
        drawn = simulate(BALL, rng)
        found = without_statement(solved(drawn.scene))
        assert found is not None
        z.append((found.diameter_mm - 2.0 * drawn.truth[drawn.where.index["ball.radius"]]) / found.u_mm)
    assert 1.0 - 3.0 * 0.29 < np.mean(np.square(z)) < 1.0 + 3.0 * 0.29
    assert abs(np.mean(z)) < 3.0 / np.sqrt(24)


def test_what_gives_way_for_the_stated_diameters_sake_does_not_hide_the_ball() -> None:
    """Three photographs of a 50 mm ball, 53 mm stated: bars or depth may take the blame, the ball still measures 50."""
    shot = replace(BALL, lenses_mm=((-700.0, -1800.0, 700.0), (0.0, -1900.0, 500.0), (700.0, -1800.0, 600.0)))
    drawn = simulate(shot, np.random.default_rng(2))
    priors = tuple(
        replace(prior, mean=prior.mean + 3.0) if prior.quantity == "ball diameter" else prior
        for prior in drawn.scene.priors
    )
    scene = replace(drawn.scene, priors=priors)
    stated = solved(scene)
    solution = reconciled(scene, stated)
    assert solution.withdrawn  # else this test shows nothing
    found = ball_size(solution)
    assert found is not None
    assert found.u_mm < 0.6
    assert found.diameter_mm == pytest.approx(2.0 * drawn.truth[drawn.where.index["ball.radius"]], abs=3.0 * found.u_mm)


def test_a_mark_shows_no_ball() -> None:
    scene = simulate(Shot(source="pick"), np.random.default_rng(1)).scene
    assert ball_size(reconciled(scene, solved(scene))) is None
