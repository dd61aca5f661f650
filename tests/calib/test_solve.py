"""The solve of intrinsics against OpenCV's projection (independent), against OpenCV's own solve, and by sampling."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from calib.adjust import Bend, Shared, _linearise, _residual
from calib.calibration import Calibration, calibrate
from calib.lens_models import LENS_MODELS, folds_within, frame_corners_px, model_named
from calib.outcome import Refusal
from calib.solve import solve_intrinsics, solve_pose
from calib.views import View, survey_views, what_next
from tests.calib.board_views import PHONE, SIZE_PX, grid_mm, poses, seen, views

BROWN = model_named("fx+fy+k1+k2+p1+p2")


def test_exact_points_give_the_exact_camera() -> None:
    # Truth: the camera that cv2.projectPoints (OpenCV's documented model) was given.
    camera = np.array([2950.0, 2960.0, 2010.0, 1490.0, 0.06, -0.12, 3e-4, -5e-4, 0.05])
    solved = solve_intrinsics(views(np.random.default_rng(1), intrinsics=camera, noise_px=0.0), SIZE_PX)
    assert solved is not None
    assert np.abs(solved.intrinsics - camera)[:4].max() < 1e-3
    assert np.abs(solved.intrinsics - camera)[4:].max() < 1e-5


@pytest.mark.parametrize("focal_px", [None, 900.0, 3000.0, 20000.0])
def test_any_first_guess_leads_to_the_same_camera(focal_px: float | None) -> None:
    seen_views = views(np.random.default_rng(2))
    solved = solve_intrinsics(seen_views, SIZE_PX, focal_px=focal_px, model=BROWN)
    reference = solve_intrinsics(seen_views, SIZE_PX, focal_px=2950.0, model=BROWN)
    assert solved is not None and reference is not None
    assert solved.intrinsics == pytest.approx(reference.intrinsics, rel=1e-5, abs=1e-6)


def test_agrees_with_opencv_where_opencv_does_well() -> None:
    # Reference: cv2.calibrateCamera over many well-spread views, the same five-term model. Huber weights and the loose hold on the
    # principal point are the differences; both stay far below the noise.
    seen_views = views(np.random.default_rng(3), count=14)
    solved = solve_intrinsics(seen_views, SIZE_PX, model=LENS_MODELS[-1])
    assert solved is not None
    rms, matrix, distortion, *_ = cv2.calibrateCamera(
        [np.asarray(view.object_mm, np.float32) for view in seen_views],
        [np.asarray(view.image_px, np.float32) for view in seen_views],
        SIZE_PX,
        None,
        None,
    )
    reference = np.array([matrix[0, 0], matrix[1, 1], matrix[0, 2], matrix[1, 2], *distortion.ravel()[:5]])
    sigma = np.sqrt(np.diag(solved.covariance))
    assert np.all(np.abs(solved.intrinsics - reference) < 0.3 * sigma)
    assert solved.rms_px() == pytest.approx(rms, rel=0.01)


def test_the_design_is_the_derivative_of_the_residual() -> None:
    # Numeric derivatives (central differences) of the residual, pose, lens and bend.
    view = views(np.random.default_rng(4), count=1)[0]
    pose = poses(1, np.random.default_rng(4))[0]
    scheme = Shared(
        base=np.zeros(9),
        basis=np.eye(9),
        prior_mean=np.zeros(12),
        prior_sigma=np.full(12, np.inf),
        bend=Bend(centre_mm=np.array([100.0, 75.0]), reach_mm=100.0),
    )
    shared = np.concatenate([PHONE, [0.5, -0.3, 0.2]])
    line = _linearise(view, pose, shared, scheme)
    steps = np.array([1e-2] * 4 + [1e-6] * 5 + [1e-4] * 3)
    for column, step in enumerate(steps):
        delta = np.zeros(12)
        delta[column] = step
        high, low = (_residual(view, pose, shared + sign * delta, scheme) for sign in (1, -1))
        assert high is not None and low is not None
        numeric = -(high - low) / (2 * step)
        assert line.shared[:, column] == pytest.approx(numeric, rel=1e-4, abs=1e-4 * np.abs(numeric).max() + 1e-6)
    for column in range(6):
        delta = np.zeros(6)
        delta[column] = 1e-5
        high, low = (_residual(view, pose + sign * delta, shared, scheme) for sign in (1, -1))
        assert high is not None and low is not None
        assert line.pose[:, column] == pytest.approx(-(high - low) / 2e-5, rel=1e-4, abs=1e-2)


def near_planar_views(rng: np.random.Generator) -> list[View]:
    """Points on a wall and on low things before it: a 3-D object that is nearly flat, seen in ten views."""
    flat = rng.uniform(-1500, 1500, (60, 3)) * np.array([1.0, 0.6, 0.0])
    flat[:, 2] = rng.uniform(0, 40, 60)
    found = []
    for number in range(10):
        angle = np.deg2rad(np.array([rng.uniform(-25, 25), rng.uniform(-40, 40), rng.uniform(-90, 90)]))
        rotation = cv2.Rodrigues(np.array([0, 0, angle[2]]))[0] @ cv2.Rodrigues(np.array([angle[0], angle[1], 0]))[0]
        pose = np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), [0, 0, rng.uniform(3500, 6000)]])
        image = seen(flat, pose, PHONE) + rng.normal(0, 0.03, (60, 2))
        found.append(View(name=f"view{number}", object_mm=flat, image_px=image, sigma_px=np.full(60, 0.03)))
    return found


def test_a_bad_minimum_of_the_plain_solve_is_avoided() -> None:
    """Points that are nearly in a plane: OpenCV's solve with a fair first guess stays pixels off, ours reaches the noise."""
    seen_views = near_planar_views(np.random.default_rng(5))
    guess = np.array([[4000.0 * 26 / 36 * 1.2, 0, 1999.5], [0, 4000.0 * 26 / 36 * 1.2, 1499.5], [0, 0, 1]])
    plain_rms, *_ = cv2.calibrateCamera(
        [np.asarray(view.object_mm, np.float32) for view in seen_views],
        [np.asarray(view.image_px, np.float32) for view in seen_views],
        SIZE_PX,
        guess,
        None,
        flags=cv2.CALIB_USE_INTRINSIC_GUESS,
    )
    solved = solve_intrinsics(seen_views, SIZE_PX, model=BROWN)
    assert solved is not None
    assert solved.rms_px() == pytest.approx(0.03 * np.sqrt(2), rel=0.1)
    assert solved.intrinsics[0] == pytest.approx(PHONE[0], abs=4 * np.sqrt(solved.covariance[0, 0]))
    print("plain", plain_rms)
