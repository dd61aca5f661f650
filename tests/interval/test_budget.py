"""The budget: shares add up, and each contribution is what solving again with that input changed by its u gives.

References: re-solving (JCGM 100:2008 5.1.4, from memory: sensitivities may be found so), and `uncertainties` and GTC on
a case that can be written down by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import GTC  # type: ignore[import-untyped]
import numpy as np
import pytest
import uncertainties  # type: ignore[import-untyped]

from photomeasure.asked.bars import Bars
from photomeasure.interval.budget import budget, sensitivities
from photomeasure.scene.priors import FOOT_GAP_MM
from photomeasure.scene.scene import CameraPrior, Prior, Scene
from photomeasure.solution.estimate import Estimate, estimate, solve_from
from photomeasure.solution.model import camera_parameters, layout
from tests.points.groups import GROUPS
from tests.points.simulate import Shot, observed, simulate


def solved(shot: Shot, seed: int) -> Estimate:
    result = estimate(simulate(shot, np.random.default_rng(seed)).scene)
    assert isinstance(result, Estimate)
    return result


@pytest.mark.parametrize("name", GROUPS)
def test_shares_add_up(name: str) -> None:
    result = solved(GROUPS[name], 1)
    rows = budget(result)
    assert sum(row.share for row in rows) == pytest.approx(1.0, abs=1e-12)
    assert sum(row.u_mm**2 for row in rows) == pytest.approx(result.u_mm**2, rel=1e-12)
    assert len({row.quantity for row in rows}) == len(rows)
    assert {prior.quantity for prior in result.scene.priors} <= {row.quantity for row in rows}  # none dropped as small
    assert [row.share for row in rows] == sorted((row.share for row in rows), reverse=True)


def test_a_second_pose_is_a_row_of_its_own() -> None:
    far = Shot(lenses_mm=((-300.0, -7000.0, 1500.0),), size_px=(1600, 1200), corner_px=0.3, pick_px=1.0)
    results = [solved(far, seed) for seed in range(30)]
    torn = [result for result in results if result.ambiguity_u_mm > 0.0]
    assert torn
    for result in torn:
        rows = {row.quantity: row.u_mm for row in budget(result)}
        assert rows["pose ambiguity"] == result.ambiguity_u_mm
        assert sum(u**2 for u in rows.values()) == pytest.approx(result.u_mm**2, rel=1e-12)


def with_prior_moved(scene: Scene, number: int, by_u: float) -> Scene:
    priors = list(scene.priors)
    priors[number] = replace(priors[number], mean=priors[number].mean + by_u * priors[number].u)
    return replace(scene, priors=tuple(priors))


def with_camera_moved(scene: Scene, column: int, by_u: float) -> Scene:
    camera = scene.cameras[0]
    return replace(scene, cameras=(replace(camera, mean=camera.mean + by_u * camera.basis[:, column]),))


def with_pick_moved(scene: Scene, axis: int, by_u: float) -> Scene:
    point = scene.points[0]
    px = point.px.copy()
    px[axis] += by_u * point.sigma_px
    return replace(scene, points=(replace(point, px=px), *scene.points[1:]))


@pytest.mark.parametrize("name", ["standing height", "three and ground sheet", "bars not measured"])
def test_sensitivities_are_what_solving_again_gives(name: str) -> None:
    """Every prior, every camera unknown and the pick, moved by a fifth of their u to either side.

    To 2 %, or to 1 % of the whole u: the linearisation leaves out the curvature times the residuals.
    """
    result = solved(GROUPS[name], 2)
    scene, where = result.scene, result.where
    stated = sensitivities(result)
    first_prior = int(np.count_nonzero(result.rows.observed))
    columns = [parameter.column for parameter in camera_parameters(scene)]  # a photograph's own axis has a row each
    pick_row = 2 * sum(len(view.px) for view in scene.planes)
    moves: list[tuple[int, Callable[[Scene, int, float], Scene], int]]
    moves = [(pick_row + axis, with_pick_moved, axis) for axis in range(2)]
    moves += [(first_prior + columns.index(column), with_camera_moved, column) for column in dict.fromkeys(columns)]
    moves += [(first_prior + len(columns) + i, with_prior_moved, i) for i in range(len(scene.priors))]
    for row, move, number in moves:
        high, low = (
            float(result.gradient @ solve_from(move(scene, number, by), where, result.x)) for by in (0.2, -0.2)
        )
        of_all = sum(stated[first_prior + i] for i, column in enumerate(columns) if column == number)
        said = of_all if move is with_camera_moved else stated[row]
        assert (high - low) / 0.4 == pytest.approx(said, rel=0.02, abs=0.01 * result.u_mm), result.rows.quantities[row]


HELD = 1e-7  # a standard uncertainty that stands for "known"


def plain_scene() -> tuple[Scene, float, float]:
    """One level camera of known place looking along y: height = lens - (v - cy) (depth + y) / f - rise, by hand."""
    shot = Shot(lenses_mm=((0.0, -2000.0, 500.0),), scatter_mm=0.0, bars=Bars(), corner_px=1e-5)
    made = simulate(shot, np.random.default_rng(3))
    focal, middle = 3000.0, np.array([1999.5, 1499.5])
    camera = CameraPrior(
        mean=np.array([focal, focal, *middle, 0.0, 0.0, 0.0, 0.0, 0.0]),
        basis=np.zeros((9, 0)),
        quantities=(),
        size_px=(4000, 3000),
        kind="profile",
        source="known",
    )

    def known(prior: Prior) -> Prior:
        if prior.quantity == "depth":
            return replace(prior, coefficients={"centre.y": 1.0})
        if prior.quantity == "print scale":
            return replace(prior, u=HELD, mean=1.0)
        return prior if prior.quantity == "ground" else replace(prior, u=HELD)

    scene = replace(made.scene, cameras=(camera,), priors=tuple(known(prior) for prior in made.scene.priors))
    where = layout(scene)
    x = np.zeros(len(where.names))
    x[where.at("print.x", "print.y")] = 1.0
    x[where.at("centre.x", "centre.z")] = 0.0, 410.0
    x[where.at("sheet.gap", "sheet.cut")] = FOOT_GAP_MM, 0.0
    # camera x = world x, camera y = -z, camera z = y
    x[where.pose(0)] = np.pi / 2, 0.0, 0.0, 0.0, 500.0, 2000.0
    return observed(scene, where, x, np.random.default_rng(4)), focal, float(middle[1])


def test_a_case_by_hand_against_uncertainties_and_gtc() -> None:
    scene, focal, cy = plain_scene()
    result = estimate(scene)
    assert isinstance(result, Estimate)
    pick, priors = scene.points[0], {prior.quantity: prior for prior in scene.priors}

    def height(v: object, y: object, rise: object) -> object:
        return 500.0 - (v - cy) * (2000.0 + y) / focal - rise  # type: ignore[operator]

    inputs = (
        ("pick", float(pick.px[1]), pick.sigma_px),
        ("depth", 0.0, priors["depth"].u),
        ("ground", 0.0, priors["ground"].u),
    )
    by_first = height(*(uncertainties.ufloat(mean, u, tag=tag) for tag, mean, u in inputs))
    by_second = height(*(GTC.ureal(mean, u, label=tag) for tag, mean, u in inputs))
    assert result.height_mm == pytest.approx(by_first.nominal_value, abs=2e-3)  # type: ignore[attr-defined]
    assert result.u_mm == pytest.approx(by_first.std_dev, rel=1e-3)  # type: ignore[attr-defined]
    assert result.u_mm == pytest.approx(GTC.uncertainty(by_second), rel=1e-3)
    mine = {row.quantity: row.u_mm for row in budget(result)}
    theirs = {part.tag: abs(u) for part, u in by_first.error_components().items()}  # type: ignore[attr-defined]
    for quantity in ("pick", "depth", "ground"):
        assert mine[quantity] == pytest.approx(theirs[quantity], rel=1e-3)
