"""The model of a profile, solved once for all edge places: against the plain least squares that it stands for."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.seen.centre.ball.edges import (
    GLOW_RIDGE,
    GRID_STEP_PX,
    RIM_RADIUS_PX,
    RIM_RIDGE,
    SLOPE_RIDGE,
    Model,
    Profiles,
    blurred_shapes,
    cost_curves,
    modelled,
    pick_edges,
)

RADIUS_PX, REACH_PX, BLUR_PX = 36.0, 1.6, 0.85


@pytest.fixture(scope="module")
def model() -> Model:
    return modelled(RADIUS_PX, REACH_PX, BLUR_PX)


def _profiles(values: np.ndarray) -> Profiles:
    around = np.linspace(0.0, 3.0, len(values))
    return Profiles(around=around, values=values, usable=np.ones(len(values), dtype=np.bool_), shift_px=0.0)


def test_cost_and_step_are_those_of_least_squares_with_a_ridge_at_each_place(model: Model) -> None:
    values = np.random.default_rng(4).normal(100.0, 30.0, (3, len(model.t)))
    cost = model.whole.cost(values)
    ridge = np.sqrt([1e-9, 1e-9, GLOW_RIDGE, RIM_RIDGE * (RIM_RADIUS_PX / RADIUS_PX) ** 3, SLOPE_RIDGE])
    for place in (0, len(model.grid) // 2, len(model.grid) - 1):
        shapes = model.designs[place]
        assert shapes == pytest.approx(blurred_shapes(model.t - model.grid[place], BLUR_PX, RADIUS_PX), abs=0.01)
        augmented = np.concatenate([shapes, np.diag(ridge)])
        for profile, had in zip(values, cost[:, place], strict=True):
            p = np.linalg.lstsq(augmented, np.concatenate([profile, np.zeros(5)]), rcond=None)[0]
            assert had == pytest.approx(np.square(profile - shapes @ p).sum(), rel=1e-6)
            assert model.whole.step[place] @ profile == pytest.approx(p @ model.across, rel=1e-6)


@pytest.mark.parametrize("at_px", [-0.93, 0.0, 0.41])
def test_a_profile_of_the_model_is_found_where_its_edge_is(model: Model, at_px: float) -> None:
    profile = blurred_shapes(model.t - at_px, BLUR_PX, RADIUS_PX) @ np.array([200.0, 40.0, 0.0, 0.0, 0.0])
    noisy = profile + np.random.default_rng(2).normal(0.0, 0.3, (40, len(model.t)))
    edges = pick_edges(cost_curves(_profiles(noisy), model, REACH_PX))
    assert edges.valid.all()
    assert edges.t.mean() == pytest.approx(at_px, abs=0.01)
    assert np.abs(edges.t - at_px).max() < 6.0 * edges.u.max()
    assert edges.step.mean() == pytest.approx(-160.0, abs=2.0)


def test_fewer_places_are_some_of_the_same(model: Model) -> None:
    values = np.random.default_rng(5).normal(100.0, 30.0, (4, len(model.t)))
    all_of, near = (cost_curves(_profiles(values), model, reach) for reach in (REACH_PX, 1.4))
    more = round((REACH_PX - 1.4) / GRID_STEP_PX)
    assert near.grid == pytest.approx(all_of.grid[more:-more])
    assert len(near.grid) == near.cost.shape[1] == near.step.shape[1]


def test_of_two_edges_the_one_is_taken_that_is_expected(model: Model) -> None:
    near, far = (blurred_shapes(model.t - at, BLUR_PX, RADIUS_PX) for at in (-1.2, 1.2))
    step = np.array([100.0, 40.0, 0.0, 0.0, 0.0])
    profile = np.tile(near @ step + far @ step, (2, 1)) + np.random.default_rng(3).normal(0.0, 0.2, (2, len(model.t)))
    curves = cost_curves(_profiles(profile), model, REACH_PX)
    inner, outer = pick_edges(curves, np.array([-1.1, 1.1]), 0.1).t
    assert inner < -0.5
    assert outer > 0.5
