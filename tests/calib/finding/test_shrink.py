"""Shrinking by halves says the same as OpenCV's own resize by area, and keeps places."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calib.finding.shrink import shrunk


@pytest.mark.parametrize("size", [(400, 300), (200, 150)])
def test_whole_blocks_are_the_mean_of_their_pixels(size: tuple[int, int]) -> None:
    """Against OpenCV's INTER_AREA, which is the mean over the block where the ratio is whole (rounding twice: 1 level)."""
    grey = np.random.default_rng(1).integers(0, 256, (600, 800)).astype(np.uint8)
    direct = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    assert np.abs(shrunk(grey, size).astype(int) - direct).max() <= 1


@pytest.mark.parametrize(
    ("shape", "size"), [((600, 800), (250, 187)), ((601, 799), (160, 120)), ((400, 600), (600, 400))]
)
def test_places_are_kept(shape: tuple[int, int], size: tuple[int, int]) -> None:
    """A blob's middle, taken back by the formula of the docstring, is where it was drawn."""
    height, width = shape
    x, y = np.arange(width), np.arange(height)[:, None]
    place = np.array([0.37 * width, 0.58 * height])
    blob = 250.0 * np.exp(-0.5 * ((x - place[0]) ** 2 + (y - place[1]) ** 2) / 25.0**2)
    small = shrunk(np.rint(blob).astype(np.uint8), size).astype(float)
    assert small.shape == (size[1], size[0])
    middle = (
        np.array([(small.sum(axis=0) @ np.arange(size[0])), (small.sum(axis=1) @ np.arange(size[1]))]) / small.sum()
    )
    back = (middle + 0.5) * np.array([width, height]) / np.array(size) - 0.5
    np.testing.assert_allclose(back, place, atol=0.05)
