"""The reader of OpenCV's camera files against OpenCV's own, on what OpenCV writes."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calib.profile.opencv_text import MOST_VALUES, OpenCVText

MATRIX = np.random.default_rng(5).normal(scale=1e3, size=(9, 9)) * np.logspace(-9, 5, 9)


def written(form: int, suffix: str) -> str:
    storage = cv2.FileStorage(suffix, cv2.FileStorage_WRITE | cv2.FileStorage_MEMORY | form)
    storage.write("calibration_time", "Thu 26 Nov 2026")
    storage.write("image_width", 4000)
    storage.writeComment("a comment: camera_matrix: 3")
    storage.write("camera_matrix", MATRIX[:3, :3])
    storage.write("intrinsics_covariance", MATRIX)
    storage.write("whole", np.array([[1, 2], [3, -4]], dtype=np.int32))
    storage.write("single", np.array([[0.1, 1e-30]], dtype=np.float32))
    storage.write("avg_reprojection_error", 0.31415926535897932)
    storage.write("vector", np.array([0.5, -1.5, 2.0]))
    storage.write("broken", np.array([[np.nan, np.inf]]))
    return str(storage.releaseAndGetString())


@pytest.mark.parametrize("form,suffix", [(cv2.FileStorage_FORMAT_YAML, ".yml"), (cv2.FileStorage_FORMAT_XML, ".xml")])
def test_numbers_are_opencvs_to_the_last_bit(form: int, suffix: str) -> None:
    text = written(form, suffix)
    ours, theirs = OpenCVText(text), cv2.FileStorage(text, cv2.FileStorage_READ | cv2.FileStorage_MEMORY)
    for name in ("camera_matrix", "intrinsics_covariance", "whole", "single"):
        found = ours.matrix("not there", name)
        assert found is not None
        assert np.array_equal(found.astype(theirs.getNode(name).mat().dtype), theirs.getNode(name).mat()), name
    vector = ours.matrix("vector")  # a plain vector is written otherwise by OpenCV 5
    assert vector is not None and vector.ravel().tolist() == [0.5, -1.5, 2.0]
    for name in ("image_width", "avg_reprojection_error"):
        assert ours.number(name) == theirs.getNode(name).real()
    assert ours.number("gone") is None and ours.matrix("gone") is None and ours.number("calibration_time") is None
    with pytest.raises(ValueError, match="finite"):
        ours.matrix("broken")


def test_forms_that_others_write() -> None:
    """Without the tag, on one line or several, as robots' camera files are."""
    text = "image_width: 640\ncamera_matrix:\n  rows: 2\n  cols: 2\n  data: [1, 2.5,\n    3e2, -4.]\nnext: 1\n"
    found = OpenCVText(text).matrix("camera_matrix")
    assert found is not None and found.tolist() == [[1.0, 2.5], [300.0, -4.0]]


@pytest.mark.parametrize("part", ["rows: 100000", "rows: 2.5", "rows: -2", "rows: 1e400", "rows: x"])
def test_sizes_that_cannot_be(part: str) -> None:
    text = f"m: !!opencv-matrix\n   {part}\n   cols: 2\n   dt: d\n   data: [ 1., 2., 3., 4. ]\n"
    with pytest.raises(ValueError, match="has 4 numbers"):
        OpenCVText(text).matrix("m")
    assert MOST_VALUES >= 81
