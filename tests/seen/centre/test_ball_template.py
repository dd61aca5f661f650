"""The template of the ball's looks: its arithmetic against plain loops, and that it finds what it is for."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.feature import hog

from photomeasure.seen.centre.ball.template import (
    ABOVE,
    BELOW,
    CELL,
    COLUMNS,
    DIRECTIONS,
    STRIDE,
    cells,
    edge_maps,
    likeness,
    mirrored,
    peaks,
    sieved,
    template,
)


@pytest.fixture(scope="module")
def noise() -> np.ndarray:
    return (np.random.default_rng(3).random((160, 200)) * 255.0).astype(np.float32)


def test_the_sieve_is_the_sum_over_the_cells_at_every_place(noise: np.ndarray) -> None:
    maps = edge_maps(noise)
    weights = np.random.default_rng(4).normal(size=(DIRECTIONS, ABOVE + BELOW, COLUMNS)).astype(np.float32)
    odds = sieved(maps, weights, 0.25)
    for row, column in ((0, 0), (3, 60), (40, 50), (79, 99)):
        assert odds[row, column] == pytest.approx(0.25 + float((cells(maps, row, column) * weights).sum()), abs=1e-3)


def test_mirrored_cells_are_the_cells_of_the_mirrored_picture(noise: np.ndarray) -> None:
    """A column of cells about column c of the maps lies at 2 W - 1 - x in the mirrored picture."""
    smooth = np.asarray(cv2.GaussianBlur(noise, (0, 0), 3.0), dtype=np.float32)
    maps, other = edge_maps(smooth), edge_maps(np.ascontiguousarray(smooth[:, ::-1]))
    here = cells(maps, 40, 50)
    there = [cells(other, 40, column) for column in range(48, 52)]
    off = [float(np.abs(mirrored(here[None])[0] - one).mean()) for one in there]
    assert min(off) < 0.1 * float(here.mean())


@pytest.mark.parametrize("angle_deg", [0.0, 45.0, 90.0, 135.0])
def test_directions_are_those_of_scikit_images_histograms(angle_deg: float) -> None:
    """skimage.feature.hog on the same stripes: the strongest of eight unsigned directions is the same one."""
    y, x = np.mgrid[0:96, 0:96].astype(np.float32)
    across = x * np.cos(np.deg2rad(angle_deg)) + y * np.sin(np.deg2rad(angle_deg))
    stripes = (127.0 + 100.0 * np.sin(across / 4.0)).astype(np.float32)
    mine = edge_maps(stripes)[:, 8:-8, 8:-8].mean(axis=(1, 2))
    theirs = hog(stripes, orientations=8, pixels_per_cell=(16, 16), cells_per_block=(1, 1), feature_vector=False)
    # scikit-image's first bin runs from 0 to 22.5 degrees, so its middle lies half a bin further
    expected = theirs.mean(axis=(0, 1, 2, 3)).argmax()
    assert min((int(mine.argmax()) - int(expected)) % 8, (int(expected) - int(mine.argmax())) % 8) <= 1
    assert int(mine.argmax()) == round(angle_deg / 22.5)


def test_a_drawn_ball_on_its_neck_is_likelier_than_the_same_without_its_neck() -> None:
    def drawn(neck: bool) -> np.ndarray:
        picture = np.full((200, 240), 150, dtype=np.uint8)
        if neck:
            cv2.rectangle(picture, (115, 100), (125, 128), 60, -1)
            cv2.rectangle(picture, (108, 122), (132, 128), 70, -1)
            cv2.rectangle(picture, (60, 128), (140, 138), 40, -1)
        cv2.circle(picture, (120, 100), 8, 60, -1, cv2.LINE_AA)
        return np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.8), dtype=np.float32)

    fitted = template()
    row, column = 100 // STRIDE, 120 // STRIDE
    both = [likeness(cells(edge_maps(drawn(neck)), row, column)[None], fitted)[0] for neck in (True, False)]
    assert both[0] > both[1] + 1.0
    odds = sieved(edge_maps(drawn(True)), fitted.sieve, fitted.sieve_offset)
    rows, columns = peaks(odds, 3)
    assert np.hypot(rows[0] - row, columns[0] - column) <= CELL / STRIDE
