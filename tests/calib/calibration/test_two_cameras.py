"""Photographs of two cameras without EXIF: real ones of Debian's opencv-doc, and simulated ones with known truth."""

from __future__ import annotations

import numpy as np
import pytest

from calib.calibration.calibrate import Calibration, calibrate
from calib.calibration.judgement import TWO_CAMERAS_RATIO
from calib.calibration.two_cameras import best_split, two_cameras
from calib.finding.boards import Chessboard
from tests.calib.finding.board_views import PHONE, SHORT, SIZE_PX, views
from tests.calib.finding.test_boards import calibrated, opencv_pictures

BOARD = Chessboard(columns=9, rows=6, square_mm=25.0)


def warned(found: Calibration) -> list[str]:
    return [sentence for sentence in found.warnings if "Two cameras" in sentence]


@pytest.mark.slow  # simulated: test_a_second_camera_in_a_few_photographs_is_found
def test_two_real_cameras_of_one_model_are_told_apart() -> None:
    """Left and right of a stereo pair, 6 photographs each: 0.5 % in focal length and 21 px apart by their own sets."""
    left, right = opencv_pictures("left")[:6], opencv_pictures("right")[:6]
    found = calibrated((*left, *right), BOARD)
    split = two_cameras(found.views, found.chosen.solved)
    assert split is not None and split.ratio > TWO_CAMERAS_RATIO
    group = {view.name for view, second in zip(found.views, split.second, strict=True) if second}
    assert group in ({path.name for path in left}, {path.name for path in right})
    assert split.centre_px == pytest.approx(21.0, abs=4.0)
    (sentence,) = warned(found)
    assert "Calibrate each camera by itself" in sentence and all(name in sentence for name in group)


@pytest.mark.slow  # simulated: below
@pytest.mark.parametrize("side", ["left", "right"])  # both are calibrated in tests/calib/finding/test_boards.py too
def test_one_real_camera_is_not_taken_for_two(side: str) -> None:
    assert warned(calibrated(opencv_pictures(side), BOARD)) == []


@pytest.mark.parametrize("count", [8, 14, *(pytest.param(count, marks=pytest.mark.slow) for count in (10, 20))])
def test_false_alarms_are_rare_where_a_stabiliser_moves_the_lens(count: int) -> None:
    """200 sets of one camera whose principal point is elsewhere in every photograph, at random: at most 2.5 % alarms."""
    rng, ratios = np.random.default_rng(11), []
    for _ in range(200):
        told = rng.uniform(0.2, 2.0, count)  # how well a photograph tells its camera
        information = np.eye(3) * told[:, None, None]
        off = rng.normal(size=(count, 3)) * [0.05, 1.0, 1.0] * 30.0  # many times what noise would do
        split = best_split(information, np.einsum("vij,vj->vi", information, off))
        ratios.append(0.0 if split is None else split.ratio)
    assert int((np.array(ratios) > TWO_CAMERAS_RATIO).sum()) <= 5


def test_few_photographs_are_not_judged() -> None:
    found = calibrate(views(np.random.default_rng(12), count=7), SIZE_PX, models=SHORT)
    assert isinstance(found, Calibration)
    assert two_cameras(found.views, found.chosen.solved) is None


def test_a_second_camera_in_a_few_photographs_is_found() -> None:
    other = PHONE.copy()
    other[:2] *= 1.01
    other[2:4] += [20.0, -25.0]
    second = views(np.random.default_rng(9), intrinsics=other, count=4)
    mixed = [*views(np.random.default_rng(8), count=8), *second]
    found = calibrate(mixed, SIZE_PX, models=SHORT)
    assert isinstance(found, Calibration)
    split = two_cameras(found.views, found.chosen.solved)
    assert split is not None and split.second.tolist() == [False] * 8 + [True] * 4
    assert split.focal_share == pytest.approx(0.01, abs=0.003)
    assert split.centre_px == pytest.approx(32.0, abs=5.0)
    assert warned(found)
