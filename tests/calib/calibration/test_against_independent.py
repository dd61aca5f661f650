"""Our saddles against detectors that this project did not write, on the same pictures.

- `pyapriltags` (the AprilTag 3 library): its tag centres against those that our saddles predict, on a sheet with
  tag36h11 codes in place of the kit's. Its (0, 0) is the corner of the picture: 0.5 is taken off.
- OpenCV's `cornerSubPix` on the chequer.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.sheets import FoundSheet, apply_homography
from tests.draws import draws
from tests.experiments.kit_candidates import measure
from tests.experiments.kit_designs import designs
from tests.experiments.kit_pictures import CONDITIONS, Picture, take

FEW, MANY = 3, 6  # pictures: a wrong convention moves every one of them by half a pixel


def measured(key: str, number: int, condition_index: int) -> tuple[Picture, FoundSheet]:
    picture = take(designs()[key], CONDITIONS[condition_index], np.random.default_rng([91, number]))
    found, _ = measure(designs()[key], picture)
    assert found is not None
    return picture, found


@pytest.mark.parametrize("pictures", draws(FEW, MANY))
@pytest.mark.parametrize("condition_index", [1, 2, 5], ids=lambda i: CONDITIONS[i].name)
def test_tag_centres_of_another_library(condition_index: int, pictures: int) -> None:
    """A tag's centre is the crossing of its diagonals, which no tone curve moves far; 18 or 36 tags, ours predicted."""
    apriltags = pytest.importorskip("pyapriltags", reason="pyapriltags has wheels for x86_64 only")
    detector = apriltags.Detector(families="tag36h11", quad_decimate=1.0)
    differences = []
    for number in range(pictures):
        picture, found = measured("D", number, condition_index)
        centres = {code.id: code.centre_mm for code in found.sheet.codes}
        for tag in detector.detect(picture.grey):
            if tag.tag_id in centres and tag.hamming == 0:
                predicted = apply_homography(found.px_from_page, np.array([centres[tag.tag_id]]))[0]
                differences.append(np.asarray(tag.center) - 0.5 - predicted)
    assert len(differences) >= pictures
    assert np.sqrt(np.mean(np.square(differences))) < 0.08
    # no shift: a wrong pixel convention would give 0.5
    assert np.abs(np.mean(differences, axis=0)).max() < 0.04


def corner_subpix(picture: Picture, found: FoundSheet) -> NDArray[np.float64]:
    """(N, 2) OpenCV's refinement, started at our points, in a window of a third of a cell."""
    half = max(2, int(found.cell_px / 3))
    corners = found.points_px.astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-4)
    refined = cv2.cornerSubPix(picture.grey, corners, (half, half), (-1, -1), stop)
    return np.asarray(refined, dtype=np.float64).reshape(-1, 2)


@pytest.mark.parametrize("pictures", draws(FEW, MANY))
@pytest.mark.parametrize("condition_index", [0, 2, 5], ids=lambda i: CONDITIONS[i].name)
def test_no_shift_against_corner_subpix_and_nearer_to_the_truth(condition_index: int, pictures: int) -> None:
    ours, theirs, apart = [], [], []
    for number in range(pictures):
        picture, found = measured("A", number, condition_index)
        other = corner_subpix(picture, found)
        truth = picture.truth_px[found.index]
        ours.append(found.points_px - truth)
        theirs.append(other - truth)
        apart.append(found.points_px - other)
    assert np.abs(np.concatenate(apart).mean(axis=0)).max() < 0.02
    rms_ours, rms_theirs = (float(np.sqrt(np.mean(np.square(np.concatenate(e))))) for e in (ours, theirs))
    assert rms_ours < rms_theirs
    assert rms_ours < 0.04
