"""What can be wrong with a set of calibration photographs, worked out from how they disagree.

A board that is not flat, a zoom or focus that changed, views too alike to tell focal length from distance, corners or
whole
views that do not belong: each has its own signature in the residuals, and its own remedy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.calibration.adjust import ObjectBend, adjust, noise_scale
from calib.calibration.solve import Solved, shared_scheme
from calib.camera.camera import matrix
from calib.camera.views import PointsSeen

Array = NDArray[np.float64]

STRAY_CORNER = 6.0  # robust noise scales: a corner further off than this is left out
STRAY_VIEW = 3.0  # times the median view's: a view whose median miss is larger is dropped


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """The object's bend, solved together with the camera.

    sag_mm:       greatest departure from its best plane; u_mm: its standard uncertainty.
    reach_mm:     half the object's longer side, to compare the sag with.
    shift:        (9,) change of the intrinsics when the bend is allowed; focal_shift: that of the focal length, a share.
    rms_ratio:    RMS with the bend allowed over RMS without.
    views, solved: the views of the object as bent as it was found, and the camera that goes with it.
    """

    sag_mm: float
    u_mm: float
    reach_mm: float
    shift: Array
    focal_shift: float
    rms_ratio: float
    views: tuple[PointsSeen, ...]
    solved: Solved


def stray_corners(views: Sequence[PointsSeen], solved: Solved) -> tuple[list[PointsSeen], int]:
    """The views without corners far outside the noise, and how many were left out."""
    whitened = [r / view.sigma_px[:, None] for view, r in zip(views, solved.adjusted.residuals, strict=True)]
    limit = STRAY_CORNER * noise_scale(whitened)
    kept, count = [], 0
    for view, residual in zip(views, whitened, strict=True):
        near = np.linalg.norm(residual, axis=1) < limit
        count += int((~near).sum())
        kept.append(
            PointsSeen(
                name=view.name,
                object_mm=view.object_mm[near],
                image_px=view.image_px[near],
                sigma_px=view.sigma_px[near],
            )
        )
    return kept, count


def stray_view(solved: Solved) -> int | None:
    """Index of the view that fits worst, where it is far worse than the others; None where none is.

    Medians are compared, so that a few stray corners do not cost a whole view.
    """
    miss = view_misses_px(solved)
    worst = int(np.argmax(miss))
    return worst if len(miss) > 3 and miss[worst] > STRAY_VIEW * float(np.median(miss)) else None


def view_misses_px(solved: Solved) -> Array:
    """(V,) median distance of each view's points, px."""
    return np.array([float(np.median(np.linalg.norm(r, axis=1))) for r in solved.adjusted.residuals])


def flatness(views: Sequence[PointsSeen], size_px: tuple[int, int], solved: Solved) -> Flatness | None:
    """How bent a planar object looks; None where it cannot be told."""
    points = np.concatenate([view.object_mm for view in views])
    low, high = points.min(axis=0), points.max(axis=0)
    reach = float((high - low)[:2].max()) / 2
    bend = ObjectBend(centre_mm=(low + high)[:2] / 2, reach_mm=reach)
    scheme = shared_scheme(solved.model, size_px, bend)
    adjusted = adjust(views, solved.adjusted.poses, np.concatenate([solved.adjusted.shared, np.zeros(3)]), scheme)
    if adjusted is None:
        return None
    amounts = scheme.bend_mm(adjusted.shared)
    covariance = adjusted.noise**2 * np.linalg.pinv(adjusted.normal, hermitian=True)[-3:, -3:]
    shapes = bend.shapes(points)
    flat = np.column_stack([np.ones(len(points)), points[:, :2] / reach])
    shapes = shapes - flat @ np.linalg.lstsq(flat, shapes, rcond=None)[0]  # a tilt or shift is no bend
    worst = shapes[int(np.argmax(np.abs(shapes @ amounts)))]
    squares = [sum(float((r**2).sum()) for r in result.residuals) for result in (adjusted, solved.adjusted)]
    shift = scheme.intrinsics(adjusted.shared) - solved.intrinsics
    return Flatness(
        sag_mm=abs(float(worst @ amounts)),
        u_mm=math.sqrt(float(worst @ covariance @ worst)),
        reach_mm=reach,
        shift=shift,
        focal_shift=float(shift[0] / solved.intrinsics[0]),
        rms_ratio=math.sqrt(squares[0] / max(squares[1], 1e-30)),
        views=tuple(_bent(view, bend, amounts) for view in views),
        solved=replace(solved, intrinsics=scheme.intrinsics(adjusted.shared), adjusted=adjusted),
    )


def _bent(view: PointsSeen, bend: ObjectBend, amounts: Array) -> PointsSeen:
    return replace(
        view,
        object_mm=view.object_mm + np.outer(bend.shapes(view.object_mm) @ amounts, [0.0, 0.0, 1.0]),
    )


def own_focals(views: Sequence[PointsSeen], solved: Solved) -> tuple[Array, Array]:
    """Each view's own focal length relative to the common one (V,) and its uncertainty (V,), by one Gauss-Newton step.

    A zoom, a crop or a focus that changed between photographs shows here even where the residuals hardly tell.
    """
    shift, uncertainty = np.empty(len(views)), np.empty(len(views))
    intrinsics = solved.intrinsics
    for index, (view, pose) in enumerate(zip(views, solved.adjusted.poses, strict=True)):
        jacobian = cv2.projectPoints(view.object_mm, pose[:3], pose[3:], matrix(intrinsics), intrinsics[4:])[1]
        scaled = jacobian[:, 6:8] @ intrinsics[:2]
        weight = 1.0 / np.repeat(view.sigma_px, 2)
        design = np.column_stack([jacobian[:, :6], scaled]) * weight[:, None]
        inverse = np.linalg.pinv(design.T @ design, hermitian=True)
        shift[index] = (inverse @ design.T @ (solved.adjusted.residuals[index].ravel() * weight))[6]
        uncertainty[index] = solved.adjusted.noise * math.sqrt(max(float(inverse[6, 6]), 1e-30))
    return shift, uncertainty
