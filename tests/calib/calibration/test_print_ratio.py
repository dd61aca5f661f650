"""A print that is longer than said: told from the camera where views are turned, owned up to where they are not.

Views are made by OpenCV's `projectPoints` from a board stretched along y and told as square.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.calibration.calibrate import Calibration, calibrate
from calib.camera.lens_models import LENS_MODELS
from calib.camera.views import PointsSeen
from tests.calib.finding.board_views import PHONE, SHORT, SIZE_PX, grid_mm, poses, seen

Array = NDArray[np.float64]

STRETCH = 0.003  # within the 0.4 % that printers have been seen to feed wrongly
PRIOR_U = 0.0023


def stretched_views(
    rng: np.random.Generator, *, turned: bool, count: int = 10, stretch: float = STRETCH
) -> list[PointsSeen]:
    """Views of a board that is `stretch` longer than told; `turned`: every other with the camera on its side."""
    told = grid_mm()
    true = told * np.array([1.0, 1.0 + stretch, 1.0])
    found = []
    for number, pose in enumerate(poses(count, rng)):
        roll = cv2.Rodrigues(np.array([0.0, 0.0, np.pi / 2 if turned and number % 2 else 0.0]))[0]
        rotation, shift = roll @ cv2.Rodrigues(pose[:3])[0], roll @ pose[3:]
        held = np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), shift])
        image = seen(true, held, PHONE) + rng.normal(0, 0.1, (len(told), 2))
        found.append(PointsSeen(name=f"view{number}", object_mm=told, image_px=image, sigma_px=np.full(len(told), 0.1)))
    return found


def scores(found: Calibration) -> Array:
    """(4,) errors of fx, fy, cx, cy over their standard uncertainties."""
    sigma = np.sqrt(np.diag(found.covariance))
    return np.asarray(((found.intrinsics - PHONE) / np.where(sigma > 0, sigma, np.inf))[:4])


@pytest.mark.parametrize("stretch", [STRETCH, 0.0, pytest.param(-STRETCH, marks=pytest.mark.slow)])
def test_views_turned_by_a_quarter_tell_the_print_from_the_camera(stretch: float) -> None:
    views = stretched_views(np.random.default_rng(1), turned=True, stretch=stretch)
    found = calibrate(views, SIZE_PX, ratio_u=PRIOR_U, models=SHORT)
    assert isinstance(found, Calibration) and found.print_ratio is not None
    assert abs(found.print_ratio.value - stretch) < 3 * found.print_ratio.u
    assert found.print_ratio.u < 2e-4
    assert np.all(np.abs(scores(found)) < 3.5)
    assert found.rms_px < 0.16  # noise of 0.1 px a coordinate


def test_a_photograph_that_does_not_belong_hides_no_print() -> None:
    """A smeared picture among ten turned ones goes, and the print is known as well as without it."""
    rng = np.random.default_rng(5)
    views = stretched_views(rng, turned=True)
    smeared = replace(views[2], image_px=views[2].image_px + rng.normal(0.0, 6.0, views[2].image_px.shape))
    found = calibrate([*views[:2], smeared, *views[3:]], SIZE_PX, ratio_u=PRIOR_U, models=SHORT)
    assert isinstance(found, Calibration) and found.print_ratio is not None
    assert [gone.name for gone in found.dropped] == [smeared.name]
    assert abs(found.print_ratio.value - STRETCH) < 3 * found.print_ratio.u
    assert found.print_ratio.u < 2e-4
    assert np.all(np.abs(scores(found)) < 3.5)


def test_views_all_one_way_up_do_not_and_say_so() -> None:
    views = stretched_views(np.random.default_rng(2), turned=False)
    two_focals = (LENS_MODELS[1], LENS_MODELS[4])
    blind, found = (calibrate(views, SIZE_PX, ratio_u=u, models=two_focals) for u in (0.0, PRIOR_U))
    assert isinstance(blind, Calibration) and isinstance(found, Calibration) and found.print_ratio is not None
    assert found.print_ratio.u > 0.5 * PRIOR_U  # what the rule said is all that is known
    assert np.abs(scores(blind)[:2]).max() > 4.0  # a print taken at its word bends the camera
    assert np.all(np.abs(scores(found)) < 3.0)
    assert "upright and some on its side" in found.next_photos[0]
    assert not any("on its side" in sentence for sentence in blind.next_photos)


@pytest.mark.parametrize("count", [5, pytest.param(12, marks=pytest.mark.slow)])
def test_the_uncertainties_are_those_of_sampling(count: int) -> None:
    """Prints and sets of views, half the views turned: errors over stated uncertainty scatter by about 1.

    A standard deviation of 12 draws is known to 21 %, of 5 to 35 %: the ratio's by 5 tells an uncertainty that is wrong by a
    factor of 3; fx, fy, cx, cy are 15 draws or more (fx and fy go together), known to 18 %.
    """
    rng, found = np.random.default_rng(3), []
    ratios = []
    for _ in range(count):
        stretch = float(rng.normal(0, PRIOR_U))
        views = stretched_views(rng, turned=True, count=8, stretch=stretch)
        solved = calibrate(views, SIZE_PX, ratio_u=PRIOR_U, models=SHORT)
        assert isinstance(solved, Calibration) and solved.print_ratio is not None
        ratios.append((solved.print_ratio.value - stretch) / solved.print_ratio.u)
        found.append(scores(solved))
    assert 0.5 < float(np.std(ratios)) < 1.6
    assert 0.6 < float(np.sqrt(np.mean(np.square(found)))) < 1.5


def test_an_object_that_is_as_said_is_left_alone() -> None:
    found = calibrate(stretched_views(np.random.default_rng(4), turned=True, stretch=0.0), SIZE_PX, models=SHORT)
    assert isinstance(found, Calibration) and found.print_ratio is None
