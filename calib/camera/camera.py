"""The camera model: a pinhole with radial and tangential distortion, and its exact derivatives.

Nine intrinsics in OpenCV's order and meaning: fx, fy, cx, cy (pixels; pixel (0, 0) is the centre of the top-left pixel)
and k1, k2, p1, p2, k3. Camera frame: x right, y down, z forward. Source of the model: OpenCV's documentation of
`projectPoints`; tests compare with it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

INTRINSICS = ("fx", "fy", "cx", "cy", "k1", "k2", "p1", "p2", "k3")
N_INTRINSICS = len(INTRINSICS)


Array = NDArray[np.float64]


def distorted(lens: Array, x: Array, y: Array) -> tuple[Array, Array, Array]:
    """Where a lens puts undistorted (x, y), and the radial factor there.

    lens: (5, ...) k1, k2, p1, p2, k3, broadcast against x and y: one lens for all points, or one for each draw.
    """
    k1, k2, p1, p2, k3 = lens
    r2, xy2 = x * x + y * y, 2.0 * x * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return x * radial + p1 * xy2 + p2 * (r2 + 2.0 * x * x), y * radial + p1 * (r2 + 2.0 * y * y) + p2 * xy2, radial


def _distorted(intrinsics: Array, x: Array, y: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Where the lens puts undistorted (x, y), any shape, and the derivative: xd, yd, dxd/dx, dxd/dy = dyd/dx, dyd/dy."""
    xd, yd, radial = distorted(intrinsics[4:], x, y)
    k1, k2, p1, p2, k3 = intrinsics[4:]
    r2, xy2 = x * x + y * y, 2.0 * x * y
    radial_slope = k1 + r2 * (2.0 * k2 + r2 * 3.0 * k3)  # d radial / d r2
    dxd_dx = radial + 2.0 * x * x * radial_slope + 2.0 * p1 * y + 6.0 * p2 * x
    dxd_dy = xy2 * radial_slope + 2.0 * p1 * x + 2.0 * p2 * y
    dyd_dy = radial + 2.0 * y * y * radial_slope + 6.0 * p1 * y + 2.0 * p2 * x
    return xd, yd, dxd_dx, dxd_dy, dyd_dy


def project(intrinsics: Array, points_cam: Array) -> tuple[Array, Array, Array]:
    """Project camera-frame points (N, 3), any length unit.

    Returns pixels (N, 2), their derivative by the points (N, 2, 3) and by the intrinsics (N, 2, 9).
    """
    fx, fy, cx, cy = intrinsics[:4]
    z = points_cam[:, 2]
    x, y = points_cam[:, 0] / z, points_cam[:, 1] / z
    xd, yd, dxd_dx, dxd_dy, dyd_dy = _distorted(intrinsics, x, y)
    pixels = np.stack([fx * xd + cx, fy * yd + cy], axis=1)

    by_point = np.empty((len(z), 2, 3))
    by_point[:, 0, 0], by_point[:, 0, 1] = fx * dxd_dx / z, fx * dxd_dy / z
    by_point[:, 1, 0], by_point[:, 1, 1] = fy * dxd_dy / z, fy * dyd_dy / z
    by_point[:, :, 2] = -(by_point[:, :, 0] * x[:, None] + by_point[:, :, 1] * y[:, None])

    r2, xy2 = x * x + y * y, 2.0 * x * y
    by_intrinsics = np.zeros((len(z), 2, N_INTRINSICS))
    by_intrinsics[:, 0, 0], by_intrinsics[:, 1, 1] = xd, yd
    by_intrinsics[:, 0, 2] = by_intrinsics[:, 1, 3] = 1.0
    for column, power in ((4, r2), (5, r2 * r2), (8, r2 * r2 * r2)):
        by_intrinsics[:, 0, column], by_intrinsics[:, 1, column] = fx * x * power, fy * y * power
    by_intrinsics[:, 0, 6], by_intrinsics[:, 1, 6] = fx * xy2, fy * (r2 + 2.0 * y * y)
    by_intrinsics[:, 0, 7], by_intrinsics[:, 1, 7] = fx * (r2 + 2.0 * x * x), fy * xy2
    return pixels, by_point, by_intrinsics


# Newton's steps double the digits: one more after this leaves less than 1e-9 px. Three or four are usual; at the corner
# of a strong barrel, near where it folds over, eight were seen.
UNPROJECT_SETTLED_PX, UNPROJECT_STEPS = 1e-4, 20


def unproject(intrinsics: Array, pixels: Array) -> Array:
    """Pixels (N, 2) to rays (N, 3) with z = 1, the distortion inverted by Newton steps to far below 1e-6 px."""
    fx, fy, cx, cy = intrinsics[:4]
    rays = np.ones((len(pixels), 3))
    x, y = (pixels[:, 0] - cx) / fx, (pixels[:, 1] - cy) / fy
    rays[:, 0], rays[:, 1] = x, y
    if not intrinsics[4:].any():
        return rays
    for _ in range(UNPROJECT_STEPS):
        xd, yd, dxd_dx, dxd_dy, dyd_dy = _distorted(intrinsics, rays[:, 0], rays[:, 1])
        off_x, off_y = xd - x, yd - y
        size = dxd_dx * dyd_dy - dxd_dy * dxd_dy
        rays[:, 0] -= (dyd_dy * off_x - dxd_dy * off_y) / size
        rays[:, 1] -= (dxd_dx * off_y - dxd_dy * off_x) / size
        if max(fx * np.abs(off_x).max(initial=0.0), fy * np.abs(off_y).max(initial=0.0)) < UNPROJECT_SETTLED_PX:
            break
    return rays


def unproject_slope(intrinsics: Array, rays: Array) -> Array:
    """How rays (N, 3), z = 1, of fixed pixels move with the intrinsics: (N, 3, 9), by the implicit function."""
    _, by_point, by_intrinsics = project(intrinsics, rays)
    (a, b), (c, d) = by_point[:, :, :2].transpose(1, 2, 0)[..., None]
    slope = np.zeros((len(rays), 3, N_INTRINSICS))
    slope[:, 0] = (b * by_intrinsics[:, 1] - d * by_intrinsics[:, 0]) / (a * d - b * c)
    slope[:, 1] = (c * by_intrinsics[:, 0] - a * by_intrinsics[:, 1]) / (a * d - b * c)
    return slope


def matrix(intrinsics: Array) -> Array:
    """The 3 x 3 camera matrix."""
    fx, fy, cx, cy = intrinsics[:4]
    return np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])
