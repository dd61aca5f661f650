"""The bay's frame: z up from the ground by the heights that were taped, y away from the cameras, x to the right."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from calib.survey.data import Survey
from calib.survey.network import Unknowns
from calib.words.said import said

Array = NDArray[np.float64]

WORST_TILT_RAD = 0.02  # of the ground's slope across the bay, above which heights do not tell it


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """bay_from_start: rotation (3, 3) and shift (3,) mm, from the frame of the start to the bay's."""

    rotation: Array
    shift_mm: Array
    tilt_u_rad: float


def moved_state(state: Unknowns, datum: Datum) -> Unknowns:
    """The state in the bay's frame."""
    poses = state.poses.copy()
    for number, pose in enumerate(state.poses):
        rotation = cv2.Rodrigues(pose[:3])[0] @ datum.rotation.T
        poses[number, :3] = cv2.Rodrigues(rotation)[0].ravel()
        poses[number, 3:] = pose[3:] - rotation @ datum.shift_mm
    points = state.points @ datum.rotation.T + datum.shift_mm
    return Unknowns(points=points, sides=state.sides, poses=poses, lens=state.lens)


def ground_frame(survey: Survey, state: Unknowns, row: dict[str, int]) -> Datum | Refusal:
    """The frame in which the taped heights are z, as well as they tell it; refused where they do not."""
    heights = [height for height in survey.heights if height.point in row]
    points = state.points[[row[height.point] for height in heights]].reshape(-1, 3)
    values = np.array([height.height_mm for height in heights])
    sigmas = np.array([height.u_mm for height in heights])
    wall = _wall_normal(survey, state, row)
    plumb_u = survey.plumb.u_rad if survey.plumb is not None else np.inf
    found = _up(points, values, sigmas, wall, plumb_u, _camera_places(state))
    if found is None or found[2] > WORST_TILT_RAD:
        return Refusal(
            code="ground-not-told",
            reason=said(
                "{count} known heights do not tell where the ground is and which way is up.", count=len(heights)
            ),
            remedy=said(
                "Give the heights over the ground of three points or more not in one line seen from above (spots on "
                "the ground, height 0, picked in two photographs will do), or name markers on a plumb wall."
            ),
        )
    up, offset, tilt = found
    away = _away(state, up)
    right = np.cross(away, up)
    rotation = np.array([right, away, up])
    middle = rotation @ state.points[:4].mean(axis=0)
    return Datum(rotation=rotation, shift_mm=np.array([-middle[0], -middle[1], offset]), tilt_u_rad=tilt)


def _wall_normal(survey: Survey, state: Unknowns, row: dict[str, int]) -> Array | None:
    if survey.plumb is None:
        return None
    rows = [row[f"{m}.{k}"] for m in survey.plumb.markers for k in range(4) if f"{m}.{k}" in row]
    if len(rows) < 8:
        return None
    points = state.points[rows]
    return np.asarray(np.linalg.svd(points - points.mean(axis=0))[2][2], dtype=np.float64)


def _camera_places(state: Unknowns) -> Array:
    """(V, 3) where the cameras stood."""
    return np.array([-cv2.Rodrigues(pose[:3])[0].T @ pose[3:] for pose in state.poses])


def _up(
    points: Array, heights: Array, sigmas: Array, wall: Array | None, plumb_u: float, cameras: Array
) -> tuple[Array, float, float] | None:
    """Up (3,), offset with up . point + offset = height, and the worse tilt's uncertainty; from many first guesses.

    Spots on the ground alone fit a bay that hangs upside down below it just as well: the cameras were above the ground.
    """
    if len(points) < (2 if wall is not None else 3):
        return None
    guesses = [
        np.array([x, y, z], dtype=float) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1) if x or y or z
    ]
    best: tuple[float, Array, float, float] | None = None
    for guess in guesses:
        solved = _tilted(guess / np.linalg.norm(guess), points, heights, sigmas, wall, plumb_u)
        if solved is None or np.median(cameras @ solved[1]) + solved[2] <= 0:
            continue
        if best is None or solved[0] < best[0]:
            best = solved
    return None if best is None else best[1:]


def _tilted(
    up: Array, points: Array, heights: Array, sigmas: Array, wall: Array | None, plumb_u: float
) -> tuple[float, Array, float, float] | None:
    offset = 0.0
    for _ in range(30):
        across = np.linalg.svd(up[None, :])[2][1:]  # two directions level with the ground
        design = np.column_stack([points @ across.T, np.ones(len(points))]) / sigmas[:, None]
        residual = (heights - points @ up - offset) / sigmas
        if wall is not None:
            design = np.vstack([design, [*(across @ wall / plumb_u), 0.0]])
            residual = np.append(residual, -(wall @ up) / plumb_u)
        scale = np.maximum(np.linalg.norm(design, axis=0), 1e-12)
        step = np.linalg.lstsq(design / scale, residual, rcond=1e-10)[0] / scale
        turned = up + step[:2] @ across
        up, offset = turned / np.linalg.norm(turned), offset + float(step[2])
        if np.abs(step[:2]).max() < 1e-12:
            break
    normal = design.T @ design
    try:
        covariance = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    tilt = float(np.sqrt(max(np.linalg.eigvalsh(covariance[:2, :2])[-1], 0.0)))
    return float(residual @ residual), up, offset, tilt


def _away(state: Unknowns, up: Array) -> Array:
    """Level direction (3,) square to the bay's long side, pointing away from the cameras."""
    level = state.points - np.outer(state.points @ up, up)
    level = level - level.mean(axis=0)
    along = np.linalg.svd(level, full_matrices=False)[2][0]
    away = np.cross(up, along)
    looks = np.array([cv2.Rodrigues(pose[:3])[0][2] for pose in state.poses]).mean(axis=0)
    away = away if away @ looks >= 0 else -away
    return np.asarray(away / np.linalg.norm(away), dtype=np.float64)
