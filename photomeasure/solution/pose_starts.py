"""Where a photograph may have been taken from, by one thing in it: both planar poses of a sheet, or the poses of markers."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix, unproject
from photomeasure.scene.scene import MarkerView, PlaneView, Scene
from photomeasure.solution.model import rotation_matrix, rotation_vector

# sheet points (u, v, w), w towards the viewer, from world (x, y, z)
_SHEET_FROM_WORLD = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


def planar_starts(view: PlaneView, intrinsics: NDArray[np.float64]) -> list[tuple[NDArray[np.float64], float]]:
    """Both planar poses (rx, ry, rz, tx, ty, tz), camera from world, of one view of the upright sheet; best first.

    The second value of each is the reprojection error in pixels.
    """
    on_plane = np.concatenate([view.local_mm, np.zeros((len(view.px), 1))], axis=1)
    rays = unproject(intrinsics, view.px)
    ideal = rays[:, :2] * intrinsics[:2] + intrinsics[2:4]
    count, rvecs, tvecs, errors = cv2.solvePnPGeneric(
        on_plane, ideal, matrix(intrinsics), None, flags=cv2.SOLVEPNP_IPPE
    )
    starts = []
    for i in range(count):
        rotation = rotation_matrix(np.asarray(rvecs[i], dtype=np.float64)) @ _SHEET_FROM_WORLD
        pose = np.concatenate([rotation_vector(rotation), np.asarray(tvecs[i], dtype=np.float64).ravel()])
        starts.append((pose, float(np.asarray(errors).ravel()[i])))
    return sorted(starts, key=lambda start: start[1])


def marker_starts(view: MarkerView, intrinsics: NDArray[np.float64]) -> list[tuple[NDArray[np.float64], float]]:
    """Poses (6,), camera from world, from surveyed points: one, or both planar ones where the points lie in a plane."""
    rays = unproject(intrinsics, view.px)
    ideal = rays[:, :2] * intrinsics[:2] + intrinsics[2:4]
    middle = view.world_mm.mean(axis=0)
    _, spread, axes = np.linalg.svd(view.world_mm - middle, full_matrices=True)
    flat = spread[2] < 0.02 * spread[1]
    if flat and np.linalg.det(axes) < 0:
        axes = axes * [[1.0], [1.0], [-1.0]]
    local_from_world = axes if flat else np.eye(3)
    local = (view.world_mm - middle) @ local_from_world.T
    if flat:
        local[:, 2] = 0.0
    method = cv2.SOLVEPNP_IPPE if flat else cv2.SOLVEPNP_SQPNP
    count, rvecs, tvecs, errors = cv2.solvePnPGeneric(local, ideal, matrix(intrinsics), None, flags=method)
    starts = []
    for i in range(count):
        rotation = rotation_matrix(np.asarray(rvecs[i], dtype=np.float64)) @ local_from_world
        move = np.asarray(tvecs[i], dtype=np.float64).ravel() - rotation @ middle
        error = float(np.asarray(errors).ravel()[i])
        starts.append((np.concatenate([rotation_vector(rotation), move]), error))
    return sorted(starts, key=lambda start: start[1])


def all_starts(scene: Scene) -> list[list[tuple[NDArray[np.float64], float]]]:
    """For each photograph its possible poses (6,), camera from world, the best first, with their reprojection errors in pixels."""
    starts = []
    for photo in range(scene.n_photos):
        intrinsics = scene.cameras[scene.camera_of[photo]].mean
        surveyed = next((view for view in scene.markers if view.photo == photo), None)
        if surveyed is not None:
            starts.append(marker_starts(surveyed, intrinsics))
        else:
            view = next(view for view in scene.planes if view.photo == photo and view.plane == "upright")
            starts.append(planar_starts(view, intrinsics))
    return starts


def turn_lean_roll(turned: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) turn, lean, roll of a rotation (3, 3); see `model.bar_turn`."""
    from scipy.spatial.transform import Rotation

    about_z, about_x, about_y = Rotation.from_matrix(turned).as_euler("ZXY")
    return np.array([about_z, -about_x, about_y])
