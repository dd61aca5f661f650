"""Where lenses are and what they see of the kit."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import cam_from_world, intrinsics_of


def pose_looking(lens_mm: NDArray[np.float64], target_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """(6,) rotation vector and translation, camera from world, of an upright camera at lens_mm looking at target_mm."""
    forward = (target_mm - lens_mm) / np.linalg.norm(target_mm - lens_mm)
    right = np.array([forward[1], -forward[0], 0.0])  # forward x up
    right /= np.linalg.norm(right)
    down = np.array([-forward[2] * right[1], forward[2] * right[0], forward[0] * right[1] - forward[1] * right[0]])
    rotation = np.stack([right, down, forward])
    return np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), -rotation @ lens_mm])


def outline_px(
    intrinsics: NDArray[np.float64], centre_cam: NDArray[np.float64], radius_mm: float, count: int
) -> NDArray[np.float64]:
    """(count, 2) points on the upper three quarters of a sphere's outline; centre_cam (3,) in the camera frame."""
    length = float(np.linalg.norm(centre_cam))
    axis, opening = centre_cam / length, np.arcsin(radius_mm / length)
    across = np.array([-axis[2], 0.0, axis[0]])  # axis x the camera's y
    across /= np.linalg.norm(across)
    up = np.array([-across[2] * axis[1], across[2] * axis[0] - across[0] * axis[2], across[0] * axis[1]])
    around = np.linspace(-0.25 * np.pi, 1.25 * np.pi, count)
    sign = 1.0 if up[1] < 0 else -1.0  # camera y is down
    ring = np.cos(around)[:, None] * across + sign * np.sin(around)[:, None] * up
    rim = np.cos(opening) * axis + np.sin(opening) * ring
    at_lens = np.zeros(3)
    px = cv2.projectPoints(rim, at_lens, at_lens, matrix(intrinsics), intrinsics[4:])[0]
    return np.asarray(px, dtype=np.float64).reshape(-1, 2)


def solved_camera(solved: Estimate, photo: int) -> SolvedCamera:
    """Where the camera of a photograph stood."""
    turn, move_mm = cam_from_world(solved.where, solved.x, photo)
    return SolvedCamera(
        intrinsics=intrinsics_of(solved.scene, solved.where, solved.x, photo),
        cam_from_world=turn,
        world_in_cam_mm=move_mm,
    )


def lens_mm(solved: Estimate, photo: int) -> NDArray[np.float64]:
    """(3,) where the lens of a photograph stood, world millimetres."""
    return solved_camera(solved, photo).lens_mm


def turned_rad(solved: Estimate) -> float:
    """By how much the world's up, as the upright sheet has it, is turned clockwise against the pictures' up: their median.

    About the lens's axis: beside the middle of a picture that was taken from above, upright things lean outwards, and that is no turn.
    """
    found = []
    for photo in range(solved.scene.n_photos):
        up = cam_from_world(solved.where, solved.x, photo)[0][:, 2]
        found.append(float(np.arctan2(up[0], -up[1])))
    return float(np.median(found))
