"""The camera model against OpenCV's own projection and undistortion, and against its own inverse.

Reference: `cv2.projectPoints` and `cv2.undistortPoints` (OpenCV's documented pinhole model with radial and tangential
distortion): an implementation that is not ours.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from calib.camera.camera import INTRINSICS, matrix, project, unproject, unproject_slope

PHONE = np.array([2950.0, 2960.0, 2010.0, 1490.0, 0.06, -0.12, 3e-4, -5e-4, 0.05])


def points_cam(rng: np.random.Generator, count: int = 200) -> NDArray[np.float64]:
    """(count, 3) points in front of a camera, within its picture."""
    depth = rng.uniform(300.0, 5000.0, count)
    return np.stack([rng.uniform(-0.6, 0.6, count) * depth, rng.uniform(-0.45, 0.45, count) * depth, depth], axis=1)


def test_pixels_are_those_of_opencv() -> None:
    points = points_cam(np.random.default_rng(1))
    reference, _ = cv2.projectPoints(points, np.zeros(3), np.zeros(3), matrix(PHONE), PHONE[4:])
    assert np.abs(project(PHONE, points)[0] - reference.reshape(-1, 2)).max() < 1e-8


def test_derivatives_by_the_intrinsics_are_those_of_opencv() -> None:
    """OpenCV's columns: rotation 3, translation 3, focal 2, centre 2, then k1 k2 p1 p2 k3."""
    points = points_cam(np.random.default_rng(2))
    _, table = cv2.projectPoints(points, np.zeros(3), np.zeros(3), matrix(PHONE), PHONE[4:])
    reference = np.asarray(table).reshape(-1, 2, table.shape[1])
    _, by_point, by_intrinsics = project(PHONE, points)
    assert by_intrinsics == pytest.approx(reference[:, :, 6:15], rel=1e-9, abs=1e-9)
    # with no rotation, the derivative by the translation is the derivative by the point
    assert by_point == pytest.approx(reference[:, :, 3:6], rel=1e-9, abs=1e-12)


def test_rays_are_those_of_opencv() -> None:
    pixels = project(PHONE, points_cam(np.random.default_rng(3)))[0]
    closely = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-14)
    iterate = getattr(cv2, "undistortPointsIter", None)  # 4.x; in 5.x `undistortPoints` takes the criteria itself
    if iterate is not None:
        reference = iterate(pixels, matrix(PHONE), PHONE[4:], np.eye(3), np.eye(3), closely)
    else:
        reference = cv2.undistortPoints(pixels, matrix(PHONE), PHONE[4:], criteria=closely)
    assert np.abs(unproject(PHONE, pixels)[:, :2] - np.asarray(reference).reshape(-1, 2)).max() < 1e-9


@settings(max_examples=150, deadline=None)
@given(
    x=st.floats(-0.95, 0.95),
    y=st.floats(-0.7, 0.7),
    focal=st.floats(2200.0, 6000.0),
    k1=st.floats(-0.15, 0.15),
    k2=st.floats(-0.05, 0.05),
    p1=st.floats(-1e-3, 1e-3),
)
@example(x=-0.95, y=-0.7, focal=2200.0, k1=-0.15, k2=0.0, p1=0.0)
@example(x=-0.92, y=-0.68, focal=2200.0, k1=-0.125, k2=-0.03125, p1=0.0)  # six steps left 2e-5 px hereabouts
def test_a_ray_comes_back_from_its_pixel(x: float, y: float, focal: float, k1: float, k2: float, p1: float) -> None:
    """Wherever the lens does not fold over: the radius grows with the angle by a quarter of what a pinhole's does."""
    r2 = x * x + y * y
    assume(1.0 + 3.0 * k1 * r2 + 5.0 * k2 * r2**2 + 7.0 * 0.01 * r2**3 > 0.25)
    intrinsics = np.array([focal, focal * 1.002, 1999.5, 1499.5, k1, k2, p1, -p1, 0.01])
    pixel = project(intrinsics, 1234.5 * np.array([[x, y, 1.0]]))[0]
    ray = unproject(intrinsics, pixel)
    assert ray[0, 2] == 1.0
    assert np.abs(project(intrinsics, ray)[0] - pixel).max() < 1e-6
    assert np.abs(ray[0, :2] - [x, y]).max() < 1e-9


def test_rays_of_fixed_pixels_move_with_the_intrinsics_as_central_differences_say() -> None:
    pixels = project(PHONE, points_cam(np.random.default_rng(4), 30))[0]
    rays = unproject(PHONE, pixels)
    slopes = [unproject_slope(PHONE, rays, np.tile(axis, (len(rays), 1))) for axis in np.eye(2)]
    for column, name in enumerate(INTRINSICS):
        step = np.zeros(9)
        step[column] = 1e-2 if name in ("fx", "fy", "cx", "cy") else 1e-6
        numeric = (unproject(PHONE + step, pixels) - unproject(PHONE - step, pixels)) / (2 * step[column])
        slope = np.stack([by[:, column] for by in slopes], axis=1)
        assert slope == pytest.approx(numeric[:, :2], rel=1e-6, abs=1e-8 * max(1.0, np.abs(numeric).max())), name
