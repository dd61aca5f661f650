"""Whether the photographs of a calibration fall into two groups that two cameras took, where no EXIF says so.

Each view wants a focal length and a principal point of its own, told with some information once its pose is free. One
common camera and two (every view with the one that it wants) are compared by an F ratio against how the views of a group
still disagree: bent boards and stabilised lenses scatter views, but not in two heaps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.calibration.solve import Solved
from calib.camera.camera import matrix
from calib.camera.views import PointsSeen

Array = NDArray[np.float64]

FREE = 3  # focal length as a share, principal point in px
FEWEST = 2  # views of the smaller group: a single view that differs is another matter
FEWEST_VIEWS = 8  # with fewer, chance makes two heaps of any scatter
ROUNDS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoCameras:
    """second: (V,) which views are of the smaller group.

    focal_share, centre_px: by how much that group's camera differs. ratio: F of two cameras against one.
    """

    second: NDArray[np.bool_]
    focal_share: float
    centre_px: float
    ratio: float


def two_cameras(views: Sequence[PointsSeen], solved: Solved) -> TwoCameras | None:
    """The best split of the views into two cameras, whatever it is worth; None where there are too few views."""
    return best_split(*_own_cameras(views, solved)) if len(views) >= FEWEST_VIEWS else None


def best_split(information: Array, wish: Array) -> TwoCameras | None:
    """From each view's information (V, 3, 3) of its own camera less the common one, and its pull (V, 3)."""
    own = _solve(information, wish)
    common = _solve(information.sum(axis=0), wish.sum(axis=0))
    best: tuple[float, NDArray[np.bool_], Array] | None = None
    for start in own:
        split = _settled(information, wish, np.array([common, start]))
        if split is not None and (best is None or split[0] < best[0]):
            best = split
    if best is None:
        return None
    cost, second, cameras = best
    within = float((wish * own).sum()) + cost  # what is left where each view could have its own
    between = -float(common @ wish.sum(axis=0)) - cost
    apart = cameras[1] - cameras[0]
    return TwoCameras(
        second=~second if second.sum() > len(second) / 2 else second,
        focal_share=abs(float(apart[0])),
        centre_px=float(np.linalg.norm(apart[1:])),
        ratio=(between / FREE) / max(within / (FREE * (len(second) - 2)), 1.0),
    )


def _own_cameras(views: Sequence[PointsSeen], solved: Solved) -> tuple[Array, Array]:
    """Each view's information (V, 3, 3) of its own (f, cx, cy) less the common one, pose eliminated, and its pull (V, 3)."""
    information, wish = np.empty((len(views), FREE, FREE)), np.empty((len(views), FREE))
    intrinsics, adjusted = solved.intrinsics, solved.adjusted
    for index, (view, pose) in enumerate(zip(views, adjusted.poses, strict=True)):
        slopes = cv2.projectPoints(view.object_mm, pose[:3], pose[3:], matrix(intrinsics), intrinsics[4:])[1]
        weight = 1.0 / (adjusted.noise * np.repeat(view.sigma_px, 2))
        design = np.column_stack([slopes[:, :6], slopes[:, 6:8] @ intrinsics[:2], slopes[:, 8:10]]) * weight[:, None]
        normal, right = design.T @ design, design.T @ (adjusted.residuals[index].ravel() * weight)
        through = np.linalg.pinv(normal[:6, :6], hermitian=True) @ np.column_stack([normal[:6, 6:], right[:6]])
        information[index] = normal[6:, 6:] - normal[6:, :6] @ through[:, :FREE]
        wish[index] = right[6:] - normal[6:, :6] @ through[:, FREE]
    return information, wish


def _solve(information: Array, wish: Array) -> Array:
    """(..., 3) the camera that is wished for; a direction that nothing tells stays at the common one."""
    return np.asarray((np.linalg.pinv(information, hermitian=True) @ wish[..., None])[..., 0], dtype=np.float64)


def _settled(information: Array, wish: Array, cameras: Array) -> tuple[float, NDArray[np.bool_], Array] | None:
    """Two cameras from a start: every view to the one that it likes better, in turns. Cost, second group, cameras."""
    second: NDArray[np.bool_] | None = None
    for _ in range(ROUNDS):
        costs = np.einsum("ci,vij,cj->cv", cameras, information, cameras) - 2.0 * cameras @ wish.T  # (2, V)
        new = costs[1] < costs[0]
        if min(new.sum(), (~new).sum()) < FEWEST:
            return None
        if second is not None and np.array_equal(new, second):
            break
        second = new
        cameras = np.array([_solve(information[part].sum(axis=0), wish[part].sum(axis=0)) for part in (~new, new)])
    if second is None:
        return None
    return -sum(float(cameras[i] @ wish[part].sum(axis=0)) for i, part in enumerate((~second, second))), second, cameras
