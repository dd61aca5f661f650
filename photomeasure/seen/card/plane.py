"""From a close picture's pixels to the print's own millimetres: the sheet's saddles through a lens with one distortion."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import distorted, unproject
from calib.finding.sheets import FoundSheet, apply_homography

Array = NDArray[np.float64]

DISTORTION_U = 0.01  # k1 of phones' main cameras about nothing; the saddles tell it better
LEAST_SIGMA_PX = 0.05  # a saddle's claim, with what a sheet of paper lacks to be flat


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintPlane:
    """rays_from_page: (3, 3) homography, page mm to undistorted rays (x / z, y / z); intrinsics (9,) as `calib.camera.camera`.

    lens_mm: (3,) where the lens is, page x and y and its height over the print; residual_mm: of the saddles, root mean square.
    """

    rays_from_page: Array
    intrinsics: Array
    lens_mm: Array
    residual_mm: float

    def page_mm(self, px: Array) -> Array:
        """(N, 2) pixels to page mm."""
        rays = unproject(self.intrinsics, px)[:, :2]
        return apply_homography(np.asarray(np.linalg.inv(self.rays_from_page)), rays)

    def px(self, page_mm: Array) -> Array:
        """(N, 2) page mm to pixels."""
        return _seen(apply_homography(self.rays_from_page, page_mm), self.intrinsics)


def print_plane(found: FoundSheet, intrinsics: Array) -> PrintPlane:
    """intrinsics (9,): of the camera as far as it is known; the distortion is fitted."""
    focal, middle = intrinsics[0], intrinsics[2:4]
    page = found.sheet.points_mm[found.index]
    start, _ = cv2.findHomography(page, (found.points_px - middle) / focal, 0)
    sigma = np.hypot(found.sigma_px, LEAST_SIGMA_PX)[:, None]
    scale = np.array(start / start[2, 2]).ravel()

    def camera(k1: float) -> Array:
        lens = np.zeros(9)
        lens[:4], lens[4] = (focal, focal, *middle), k1
        return lens

    def off(x: Array) -> Array:
        rays = apply_homography(np.append(x[:8] * np.abs(scale[:8]), 1.0).reshape(3, 3), page)
        seen = _seen(rays, camera(x[8]))
        return np.append(((seen - found.points_px) / sigma).ravel(), x[8] / DISTORTION_U)

    from scipy.optimize import least_squares  # slow to load, and few sheets have a card on them

    sized = np.where(np.abs(scale[:8]) > 0, np.abs(scale[:8]), 1.0)
    scale[:8] = np.where(scale[:8] == 0, 1e-12, scale[:8])
    fit = least_squares(off, np.append(scale[:8] / sized, 0.0), method="lm")
    matrix = np.append(fit.x[:8] * np.abs(scale[:8]), 1.0).reshape(3, 3)
    plane = PrintPlane(
        rays_from_page=matrix, intrinsics=camera(float(fit.x[8])), lens_mm=_lens_mm(matrix), residual_mm=0.0
    )
    away = plane.page_mm(found.points_px) - page
    residual = float(np.sqrt((away**2).sum() / max(2 * len(page) - 9, 1)))
    return PrintPlane(rays_from_page=matrix, intrinsics=plane.intrinsics, lens_mm=plane.lens_mm, residual_mm=residual)


def _seen(rays: Array, intrinsics: Array) -> Array:
    """(N, 2) undistorted rays to pixels."""
    x, y, _ = distorted(intrinsics[4:], rays[:, 0], rays[:, 1])
    return np.column_stack([x, y]) * intrinsics[:2] + intrinsics[2:4]


def _lens_mm(rays_from_page: Array) -> Array:
    """Where a camera with these rays stands over the page: the columns of the homography are two axes and the page's origin."""
    size = np.sqrt(np.linalg.norm(rays_from_page[:, 0]) * np.linalg.norm(rays_from_page[:, 1]))
    along, up, origin = (rays_from_page / size).T
    turned, _, back = np.linalg.svd(np.column_stack([along, up, np.cross(along, up)]))
    rotation = turned @ np.diag([1.0, 1.0, np.linalg.det(turned @ back)]) @ back
    lens = -rotation.T @ origin
    return np.array([lens[0], lens[1], abs(lens[2])])
