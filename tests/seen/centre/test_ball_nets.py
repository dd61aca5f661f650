"""The networks of the ball's looks: their arithmetic against plain loops and other libraries, and that they find what they are for."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
import pytest
from scipy.ndimage import uniform_filter
from scipy.signal import correlate2d

from photomeasure.seen.centre.ball.convolution import FLOOR, MOST, convolved, evened, pooled
from photomeasure.seen.centre.ball.glance import Glance, peaks
from photomeasure.seen.centre.ball.nets import (
    COARSE_PX,
    PATCH,
    STRIDE,
    close_look,
    likeness,
    nets,
    quick_close_look,
    quick_likeness,
)
from photomeasure.seen.centre.ball.search import SearchedPicture, search_region
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch


@pytest.mark.parametrize(("stride", "apart"), [(1, 1), (2, 1), (1, 2)])
def test_a_layer_is_the_sum_of_scipys_correlations(stride: int, apart: int) -> None:
    rng = np.random.default_rng(3)
    picture = rng.normal(size=(21, 26, 3)).astype(np.float32)
    weights, offset = rng.normal(size=(3, 3, 3, 2)).astype(np.float32), np.array([0.5, -1.0], dtype=np.float32)
    found = convolved(picture, weights, offset, stride=stride, apart=apart)
    for depth in range(2):
        total = np.full((21, 26), offset[depth], dtype=np.float64)
        for channel in range(3):
            kernel = np.zeros((2 * apart + 1, 2 * apart + 1))
            kernel[::apart, ::apart] = weights[:, :, channel, depth]
            total += correlate2d(picture[..., channel], kernel, mode="same")
        assert found[..., depth] == pytest.approx(total[::stride, ::stride], abs=1e-4)


def test_pooling_takes_the_highest_of_four() -> None:
    picture = np.random.default_rng(4).normal(size=(2, 7, 8, 3)).astype(np.float32)
    expected = picture[:, :6].reshape(2, 3, 2, 4, 2, 3).max(axis=(2, 4))
    assert np.array_equal(pooled(picture), expected)


def test_an_evened_picture_is_what_scipys_mean_and_spread_make_of_it() -> None:
    picture = (np.random.default_rng(5).random((60, 70)) * 200.0).astype(np.float32)
    found = evened(picture, np.zeros((60, 70), dtype=np.bool_), (13,))[..., 0]
    exact = picture.astype(np.float64)
    mean = uniform_filter(exact, 13, mode="constant")
    spread = np.sqrt(uniform_filter(exact * exact, 13, mode="constant") - mean * mean)
    expected = np.clip((exact - mean) / (spread + FLOOR), -MOST, MOST)
    assert found[8:-8, 8:-8] == pytest.approx(expected[8:-8, 8:-8], abs=2e-3)


def test_light_and_exposure_drop_out_of_an_evened_picture_and_a_sheet_is_no_surroundings() -> None:
    picture = (40.0 + np.random.default_rng(6).random((60, 70)) * 150.0).astype(np.float32)
    sheet = np.zeros((60, 70), dtype=np.bool_)
    sheet[20:40, 30:60] = True
    plain = evened(picture, sheet, (33,))
    assert np.abs(evened(0.5 * picture + 20.0, sheet, (33,)) - plain).max() < 0.1
    painted = np.where(sheet, np.float32(255.0), picture)
    assert evened(painted, sheet, (33,)) == pytest.approx(plain, abs=1e-4)
    assert not evened(painted, sheet, (33,))[sheet].any()


def drawn(neck: bool) -> np.ndarray:
    picture = np.full((200, 240), 150, dtype=np.uint8)
    if neck:
        cv2.rectangle(picture, (115, 100), (125, 128), 60, -1)
        cv2.rectangle(picture, (108, 122), (132, 128), 70, -1)
        cv2.rectangle(picture, (60, 128), (140, 138), 40, -1)
    cv2.circle(picture, (120, 100), round(COARSE_PX), 60, -1, cv2.LINE_AA)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.8), dtype=np.float32)


def test_a_drawn_ball_on_its_neck_is_likelier_than_the_same_without_its_neck() -> None:
    with_neck, without = (likeness(drawn(neck), np.zeros((200, 240), dtype=np.bool_), nets()) for neck in (True, False))
    row, column = peaks(with_neck, 1)
    assert np.hypot(STRIDE * column[0] - 120, STRIDE * row[0] - 100) <= 0.5 * COARSE_PX
    assert with_neck[row[0], column[0]] > without[row[0], column[0]] + 1.0


@pytest.fixture(scope="module")
def picture() -> Picture:
    return Picture([*hitch(CENTRE), backdrop(0.4, 0.4)])


def glance_at(view: SearchedPicture) -> Glance:
    region = search_region(view)
    assert region is not None
    return Glance(view, region)


def test_the_best_place_of_a_rendered_hitch_is_the_ball(picture: Picture) -> None:
    best = glance_at(picture.view).spots()[0]
    assert np.linalg.norm(best.px - picture.centre_px) < best.error_px
    assert best.likeness > 0.0
    assert best.close > 0.0


def test_a_close_look_beside_the_ball_tells_the_way_to_it(picture: Picture) -> None:
    """In the photograph's own directions, right and down."""
    radius = float(glance_at(picture.view).looked_at([picture.centre_px])[2][0])
    for way in ((0.25, 0.0), (-0.25, 0.1), (0.0, -0.25)):
        beside = picture.centre_px + radius * np.array(way)
        _, aside, _ = glance_at(picture.view).looked_at([beside])
        assert aside[0] == pytest.approx(-np.array(way), abs=0.15)


def test_opencv_runs_the_networks_as_the_readable_ones_do() -> None:
    """Single precision over seven layers, answers of up to some forty: the last digits differ. Odd sizes, too."""
    rng = np.random.default_rng(9)
    for shape in ((97, 131), (160, 120)):
        blurred = cv2.GaussianBlur((rng.random(shape) * 255).astype(np.float32), (0, 0), 2.0)
        picture = np.asarray(blurred, dtype=np.float32)
        ignored = np.zeros(shape, dtype=np.bool_)
        ignored[10:40, 20:60] = True
        expected = likeness(picture, ignored, nets())
        assert quick_likeness(picture, ignored) == pytest.approx(expected, abs=1e-3)
    patches = (rng.random((3, PATCH, PATCH)) * 255).astype(np.float32)
    hidden = np.zeros(patches.shape, dtype=np.bool_)
    hidden[1, :20] = True
    for found, exact in zip(quick_close_look(patches, hidden), close_look(patches, hidden, nets()), strict=True):
        assert found == pytest.approx(exact, abs=1e-3)


def test_threads_do_not_share_a_network() -> None:
    rng = np.random.default_rng(10)
    pictures = [(rng.random((80 + 8 * i, 90)) * 255).astype(np.float32) for i in range(4)]
    nothing = [np.zeros(picture.shape, dtype=np.bool_) for picture in pictures]
    expected = [quick_likeness(*pair) for pair in zip(pictures, nothing, strict=True)]
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(quick_likeness, pictures * 5, nothing * 5))
    for one, exact in zip(found, expected * 5, strict=True):
        assert np.array_equal(one, exact)
