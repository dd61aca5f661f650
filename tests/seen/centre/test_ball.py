"""The bare ball found by itself: unbiased against exact pictures, and refused where it is doubtful.

The reference is the ray tracer of `tests.scenes`, whose ball is proved against closed formulas in `test_ball_sphere`,
and the circle and ellipse fits of scikit-image and OpenCV on the same points. Rates over many scenes:
`tests/experiments/ball_study`.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from skimage.measure import CircleModel

from calib.outcome.refusal import Refusal
from photomeasure.seen.centre.ball import ball
from photomeasure.seen.centre.ball.ball import Ball, find_ball, find_candidates, likely_px
from photomeasure.seen.centre.ball.edges import blurred_shapes
from photomeasure.seen.centre.ball.fit import centre_u_px
from photomeasure.seen.centre.ball.profiles import linear_light, outside_all
from tests.experiments.ball_scenes import LIGHTS, draw_ball_picture
from tests.scenes import Box, Cylinder, frame, project
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch


@pytest.fixture(scope="module")
def mixed() -> Picture:
    """Brighter than the wall on its left, darker than the wall on its right."""
    return Picture([*hitch(CENTRE), backdrop(0.4, 1.7)])


@pytest.mark.parametrize(
    ("left", "right"), [(0.4, 1.7), (1.6, 0.2), *(pytest.param(one, one, marks=pytest.mark.slow) for one in (0.3, 1.8))]
)
def test_the_centre_is_unbiased_whichever_side_is_brighter(left: float, right: float) -> None:
    picture = Picture([*hitch(CENTRE), backdrop(left, right)])
    found = picture.search()
    assert isinstance(found, Ball)
    assert np.abs(found.centre_px - picture.centre_px).max() < 0.1
    assert found.confidence > 0.98
    assert found.arc_deg > 200.0


def test_outline_points_are_those_of_the_circle_fits_of_scikit_image_and_opencv(mixed: Picture) -> None:
    """Ten degrees off the axis and 25 mm at 2 m, the ellipse's axes differ by 1.5 %: both fits share its middle,
    which lies within 0.1 px of the centre's picture (f tan(theta) (r / z)^2 = 0.08 px)."""
    found = mixed.search()
    assert isinstance(found, Ball)
    circle = CircleModel.from_estimate(found.outline_px)  # type: ignore[no-untyped-call]
    assert circle
    np.testing.assert_allclose(circle.center, found.centre_px, atol=0.2)
    assert circle.radius == pytest.approx(found.radius_px, abs=0.2)
    middle, _, _ = cv2.fitEllipseAMS((found.outline_px - found.centre_px).astype(np.float32))
    np.testing.assert_allclose(middle, 0.0, atol=0.25)


def test_claimed_sigma_covers_the_distance_of_the_points_from_the_true_outline(mixed: Picture) -> None:
    found = mixed.search()
    assert isinstance(found, Ball)
    assert found.sigma_px.shape == (len(found.outline_px),)
    off = np.linalg.norm(found.outline_px - mixed.centre_px, axis=1)
    assert np.std(off) < np.median(found.sigma_px) * 1.5
    assert (found.sigma_px > 0.0).all()


@pytest.mark.parametrize("tint", [0.9, 0.3])
def test_a_disc_of_the_balls_size_is_never_the_ball(tint: float) -> None:
    plate = Box(
        world_from_box=frame(CENTRE + np.array([0.0, 30.0, 0.0]), [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        half_mm=(90.0, 70.0, 5.0),
        finish="painted",
    )
    disc = Cylinder(
        world_from_cylinder=frame(CENTRE, [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        radius_mm=25.0,
        half_length_mm=6.0,
        finish="matt",
        tint_bgr=(tint, tint, tint),
    )
    found = Picture([disc, plate, backdrop(0.5, 0.7)]).search()
    assert isinstance(found, Refusal)
    assert found.code == "ball-not-found"
    assert "ark" in found.remedy and "--" not in found.remedy


def test_a_ball_without_a_neck_is_left_to_a_person() -> None:
    found = Picture([hitch(CENTRE)[0], backdrop(0.4, 0.4)]).search()
    assert isinstance(found, Refusal)


def test_two_balls_are_ambiguous_and_both_places_are_named() -> None:
    other = CENTRE + np.array([-140.0, 0.0, 20.0])
    picture = Picture([*hitch(CENTRE), *hitch(other), backdrop(0.4, 0.4)])
    found = picture.search()
    assert isinstance(found, Refusal)
    assert found.code == "ball-ambiguous"
    for place in (picture.centre_px, project(picture.camera, other)[0]):
        near = [f"{place[0] + dx:.0f},{place[1] + dy:.0f}" for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        assert any(text in found.reason for text in near)
    assert len(likely_px(find_candidates(picture.view))) >= 2


def test_a_ball_of_another_size_than_stated_is_not_taken(mixed: Picture) -> None:
    assert isinstance(mixed.search(radius_mm=20.0), Refusal)


def test_what_lies_on_a_printed_sheet_is_not_looked_at(mixed: Picture) -> None:
    x, y = mixed.centre_px
    sheet = np.array([[x - 60, y - 60], [x + 60, y - 60], [x + 60, y + 60], [x - 60, y + 60]])
    assert isinstance(mixed.search(keep_out_px=(sheet,)), Refusal)


def test_a_picture_without_anything_and_a_camera_that_looks_away_are_refused(mixed: Picture) -> None:
    empty = mixed.search(grey=np.full_like(mixed.view.grey, 90))
    assert isinstance(empty, Refusal)
    assert empty.code == "ball-not-found"
    behind = mixed.search(world_in_cam_mm=-mixed.camera.cam_from_world[:3, 3])
    assert isinstance(behind, Refusal)
    assert behind.code == "ball-not-found"


def test_the_same_picture_gives_the_same_answer(mixed: Picture) -> None:
    first, second = mixed.search(), mixed.search()
    assert isinstance(first, Ball)
    assert isinstance(second, Ball)
    np.testing.assert_array_equal(first.centre_px, second.centre_px)


@pytest.mark.parametrize("seeds", [range(20001, 20004), pytest.param(range(20004, 20007), marks=pytest.mark.slow)])
def test_drawn_yards_at_1600_px_give_the_ball_to_what_it_claims_or_leave_it_to_a_person(seeds: range) -> None:
    """Six seeds that nothing was fitted to; rates over hundreds: `tests/experiments/ball_study`."""
    found = 0
    for seed in seeds:
        finish = ("black", "painted", "chrome", "rusty", "greased", "painted")[seed - 20001]
        light = (LIGHTS * 2)[seed - 20001]
        picture = draw_ball_picture(
            np.random.default_rng(seed), finish=finish, light=light, distance_mm=1800.0, chat=True, misleading=2
        )
        ball = find_ball(picture.view())
        if isinstance(ball, Refusal):
            continue
        found += 1
        outline = ball.candidates[0].outline
        assert picture.centre_px is not None
        assert outline is not None
        assert np.abs(ball.centre_px - picture.centre_px).max() < 3.0 * centre_u_px(outline)
    assert found >= 1


def test_a_ball_that_is_not_sure_at_once_is_looked_for_once_more(
    mixed: Picture, monkeypatch: pytest.MonkeyPatch
) -> None:
    sure = find_candidates(mixed.view)
    doubtful = (replace(sure[0], confidence=0.5),)
    for tries, taken in (([sure], sure), ([doubtful, sure], sure), ([doubtful, ()], doubtful)):
        left = list(tries)
        monkeypatch.setattr(ball, "_candidates", lambda *_, left=left: left.pop(0))
        assert find_candidates(mixed.view) is taken
        assert not left


def test_the_tone_curve_is_the_standards_at_its_tabled_points() -> None:
    """sRGB, IEC 61966-2-1 (from memory): level 128 is 0.2159 of full light, 10 lies on the straight part at 10 / 255
    / 12.92."""
    table = linear_light() / 255.0
    assert table[128] == pytest.approx(0.2159, abs=5e-5)
    assert table[10] == pytest.approx(10 / 255 / 12.92)
    assert table[255] == pytest.approx(1.0)


def test_a_plain_blurred_step_is_the_error_function() -> None:
    """A step blurred by a Gaussian: Phi(t / s), Abramowitz and Stegun 7.1 and 26.2 (from memory)."""
    from scipy.special import ndtr

    t = np.linspace(-4.0, 4.0, 33)
    for blur in (0.6, 1.2, 2.4):
        np.testing.assert_allclose(blurred_shapes(t, blur, 30.0)[:, 0], ndtr(t / blur), atol=2e-3)


def test_points_in_polygons_are_those_of_opencv() -> None:
    rng = np.random.default_rng(3)
    polygon = np.array([[10.0, 12.0], [80.0, 20.0], [60.0, 90.0], [30.0, 50.0], [5.0, 70.0]])
    points = rng.uniform(0.0, 100.0, (400, 2))
    wanted = np.array([
        cv2.pointPolygonTest(polygon.astype(np.float32), (float(x), float(y)), False) < 0 for x, y in points
    ])  # fmt: skip
    np.testing.assert_array_equal(outside_all((polygon,), points), wanted)
