"""Small laws of the solution's parts: where a camera looks, a sphere's outline, what gives way, what is scaled."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.solution.estimate import Estimate, _fit, _scaled_noise, _tag_mirrored, estimate
from photomeasure.solution.geometry import outline_px, pose_looking
from photomeasure.solution.giving_way import giving_way
from photomeasure.solution.mistakes import ASPECT
from photomeasure.solution.model import layout
from photomeasure.solution.rows import rows
from photomeasure.solution.sightings_agree import agreements
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, blank, simulate


def test_a_camera_that_looks_somewhere_has_it_straight_ahead_and_itself_in_the_middle() -> None:
    lens, target = np.array([-300.0, -2200.0, 900.0]), np.array([120.0, 80.0, 400.0])
    pose = pose_looking(lens, target)
    turn = cv2.Rodrigues(pose[:3])[0]
    assert np.allclose(turn @ target + pose[3:], [0.0, 0.0, float(np.linalg.norm(target - lens))], atol=1e-9)
    assert np.allclose(turn @ lens + pose[3:], 0.0, atol=1e-9)


@pytest.mark.parametrize("aside_mm", [-400.0, 0.0, 400.0])
def test_a_spheres_outline_is_its_rim_without_the_lowest_quarter(aside_mm: float) -> None:
    """Every ray touches the sphere: its distance from the centre is the radius. Pixels grow downwards."""
    intrinsics = np.array([3000.0, 3000.0, 2000.0, 1500.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    centre = np.array([aside_mm, 200.0, 2000.0])
    px = outline_px(intrinsics, centre, 25.0, 41)
    rays = np.column_stack([(px - intrinsics[2:4]) / intrinsics[:2], np.ones(len(px))])
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    assert np.allclose(np.linalg.norm(np.cross(rays, centre), axis=1), 25.0, rtol=1e-9)
    middle = intrinsics[:2] * centre[:2] / centre[2] + intrinsics[2:4]
    down = (px - middle)[:, 1] / np.linalg.norm(px - middle, axis=1)
    assert down.min() < -0.99 and down[[0, -1]] == pytest.approx(
        np.sin(np.pi / 4.0), abs=0.04
    )  # perspective bends it a little
    assert down.argmin() == len(px) // 2


def test_a_stretched_picture_gives_way_once_and_a_lens_bends_further_only_among_markers() -> None:
    scene = blank(Shot(), 0.0)
    stretched = giving_way(scene, [ASPECT])
    assert stretched.cameras[0].quantities.count(ASPECT) == 1
    assert giving_way(stretched, [ASPECT]).cameras[0].quantities.count(ASPECT) == 1
    assert len(giving_way(scene, ["distortion"]).cameras[0].quantities) == len(scene.cameras[0].quantities)


def test_corner_noise_that_is_larger_than_stated_widens_corners_alone() -> None:
    seen = simulate(Shot(source="tag"), np.random.default_rng(4)).scene
    wider = _scaled_noise(seen, 3.0)
    ratios = {
        view.quantity: wide.sigma_px / view.sigma_px for view, wide in zip(seen.planes, wider.planes, strict=True)
    }
    assert {quantity: float(ratio[0]) for quantity, ratio in ratios.items()} == {
        "corner noise": 3.0,
        "tag corners": 1.0,
    }


@pytest.mark.parametrize("source", ["ball", "tag", "pick"])
def test_of_three_sightings_the_one_that_was_moved_agrees_least(source: str) -> None:
    """Each sees the centre, each is checked by the other two; one is moved by twenty of its standard uncertainties."""
    scene = simulate(Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), source=source), np.random.default_rng(6)).scene
    aside = np.array([0.0, 20.0])
    moved = replace(
        scene,
        points=tuple(replace(view, px=view.px + aside * view.sigma_px * (view.photo == 1)) for view in scene.points),
        outlines=tuple(replace(view, px=view.px + 0.3 * aside * (view.photo == 1)) for view in scene.outlines),
        planes=tuple(
            replace(view, px=view.px + 0.05 * aside * (view.photo == 1 and view.plane == "tag"))
            for view in scene.planes
        ),
    )
    solved = estimate(scene)
    assert isinstance(solved, Estimate)
    # at the solution of what was not moved, so that nothing hides in it
    found = agreements(moved, solved.where, solved.x, rows(moved, solved.where, solved.x), solved.covariance)
    assert [one.photo for one in found] == [0, 1, 2] and min(found, key=lambda one: one.p).photo == 1


def test_of_a_tags_two_turns_the_better_one_is_taken() -> None:
    """A plane seen from afar fits nearly as well turned the other way: whichever the search ended in, the better is found."""
    scene = simulate(Shot(source="tag", tag_px=0.02), np.random.default_rng(5)).scene
    where = layout(scene)
    solved = estimate(scene)
    assert isinstance(solved, Estimate)
    turn, lean = where.at("tag.turn", "tag.lean")
    other = solved.x.copy()
    other[[turn, lean]] *= -1.0
    fits = [_fit(scene, where, start) for start in (solved.x, other)]
    worst = max(fits, key=lambda fit: fit.chi2)
    best = min(fit.chi2 for fit in fits)
    assert worst.chi2 > best + 1.0 and np.sign(fits[0].x[turn]) != np.sign(fits[1].x[turn])
    assert all(_tag_mirrored(scene, where, fit).chi2 == pytest.approx(best, abs=1e-6) for fit in fits)
