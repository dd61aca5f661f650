"""The saddle fit: unbiased on exact pictures, unmoved by what phones do, the same as the readable reference.

The truth is the drawing's own geometry: where the two edges were made to cross.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.saddle import Saddles, fit_saddles
from tests.calib.finding.saddle_pictures import axes, bloomed, encoded, ideal, sharpened, tone_curve
from tests.calib.finding.saddle_reference import fit_one_saddle

MIDDLE = 30.0
Change = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def fit(grey: NDArray[np.uint8], start: tuple[float, float], steps: NDArray[np.float64], polarity: int = 1) -> Saddles:
    return fit_saddles(grey, np.array([start]), steps[None], np.array([polarity], dtype=np.int8))


@pytest.mark.parametrize("turn_rad", [0.0, 0.35, -0.7])
@pytest.mark.parametrize("blur_px", [0.6, 1.0, 2.0])
def test_no_bias_at_any_sub_pixel_phase(turn_rad: float, blur_px: float) -> None:
    steps = axes(turn_rad=turn_rad)
    errors = []
    for dx in np.arange(0.0, 1.0, 0.25):
        for dy in np.arange(0.0, 1.0, 0.25):
            truth = (MIDDLE + dx, MIDDLE + dy)
            found = fit(encoded(ideal(truth, steps, blur_px=blur_px)), (MIDDLE + 0.4, MIDDLE + 0.6), steps)
            assert found.good[0]
            errors.append(found.points_px[0] - truth)
    assert np.abs(np.mean(errors, axis=0)).max() < 0.002
    assert np.abs(errors).max() < 0.005


@pytest.mark.parametrize("cell_px", [7.0, 12.0, 40.0])
def test_small_and_large_cells(cell_px: float) -> None:
    steps = axes(cell_px=cell_px)
    truth = (MIDDLE + 0.3, MIDDLE - 0.2)
    found = fit(encoded(ideal(truth, steps)), (MIDDLE, MIDDLE), steps)
    assert found.points_px[0] == pytest.approx(truth, abs=0.005)


@pytest.mark.parametrize(
    "made",
    [
        tone_curve,
        lambda light: sharpened(tone_curve(light)),
        lambda light: tone_curve(bloomed(light)),
        lambda light: sharpened(tone_curve(bloomed(light))),
    ],
    ids=["tone curve", "and sharpening", "blooming", "all"],
)
def test_tone_sharpening_and_blooming_do_not_move_it(made: Change) -> None:
    steps = axes(turn_rad=0.3)
    for truth in ((MIDDLE + 0.1, MIDDLE + 0.4), (MIDDLE - 0.3, MIDDLE + 0.25)):
        found = fit(encoded(made(ideal(truth, steps))), (MIDDLE, MIDDLE), steps)
        assert found.good[0]
        assert found.points_px[0] == pytest.approx(truth, abs=0.02)


def test_the_same_as_the_readable_reference() -> None:
    rng = np.random.default_rng(1)
    for number in range(4):
        steps = axes(cell_px=rng.uniform(10, 16), turn_rad=rng.uniform(-0.5, 0.5), shear=rng.uniform(-0.2, 0.2))
        truth = tuple(MIDDLE + rng.uniform(-0.5, 0.5, 2))
        dark = number % 2 == 0
        light = ideal((truth[0], truth[1]), steps, dark_lower_right=dark)
        grey = encoded(tone_curve(light + rng.normal(0.0, 0.01, light.shape)))
        start = np.array([MIDDLE, MIDDLE])
        fast = fit(grey, (MIDDLE, MIDDLE), steps, polarity=1 if dark else -1)
        # the product of both signed distances is negative in the lower right cell: dark there is a positive contrast
        slow = fit_one_saddle(grey, start, steps, contrast=60.0 if dark else -60.0)
        assert fast.points_px[0] == pytest.approx(slow, abs=0.002)


def test_claimed_sigma_is_the_scatter_for_white_noise() -> None:
    """Independent noise: the covariance of a least squares fit is exact to first order (JCGM 100 G.3 for the idea)."""
    rng = np.random.default_rng(2)
    steps, truth = axes(turn_rad=0.2), (MIDDLE + 0.2, MIDDLE + 0.1)
    light = ideal(truth, steps)
    ratios = []
    for _ in range(150):
        found = fit(encoded(light + rng.normal(0.0, 0.02, light.shape)), truth, steps)
        ratios.append((found.points_px[0] - truth) / found.sigma_px[0])
    # 300 numbers: the deviation of a deviation is 1 / sqrt(600) = 4 %; four of them
    assert np.sqrt(np.mean(np.square(ratios))) == pytest.approx(1.0, abs=0.16)


def test_wrong_polarity_is_flagged() -> None:
    steps = axes()
    grey = encoded(ideal((MIDDLE, MIDDLE), steps, dark_lower_right=True))
    right, wrong = fit(grey, (MIDDLE, MIDDLE), steps, 1), fit(grey, (MIDDLE, MIDDLE), steps, -1)
    assert right.good[0]
    assert not wrong.good[0]


@pytest.mark.parametrize("grey_level", [20, 128, 240])
@pytest.mark.parametrize("side", ["left", "lower", "quarter", "whole"])
def test_covered_saddle_is_flagged_or_fits_much_worse(side: str, grey_level: int) -> None:
    """The finder leaves out what fits 2.5 times worse than the sheet's median."""
    steps = axes(turn_rad=0.05, shear=0.0)
    grey = encoded(tone_curve(ideal((MIDDLE, MIDDLE), steps)))
    clear = fit(grey, (MIDDLE, MIDDLE), steps)
    edge = int(MIDDLE) - 2  # the covering ends 2 px beyond the crossing
    rows, columns = np.indices(grey.shape)
    covered = {
        "left": columns < edge + 5,
        "lower": rows >= edge,
        "quarter": (rows >= edge) & (columns >= edge),
        "whole": rows >= 0,
    }[side]
    grey[covered] = grey_level
    found = fit(grey, (MIDDLE, MIDDLE), steps)
    assert clear.good[0]
    assert not found.good[0] or found.misfit[0] > 2.5 * clear.misfit[0]


def test_nothing_to_fit_is_flagged_not_raised() -> None:
    flat = np.full((61, 61), 90, dtype=np.uint8)
    assert not fit(flat, (MIDDLE, MIDDLE), axes()).good[0]


def test_an_edge_of_the_picture_is_no_error() -> None:
    steps = axes()
    grey = encoded(ideal((3.0, 3.0), steps))
    found = fit(grey, (3.2, 2.9), steps)
    assert found.points_px.shape == (1, 2)
