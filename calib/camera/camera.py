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
    k1, k2, p1, p2, k3 = intrinsics[4:]
    xx, yy, xy2 = x * x, y * y, 2.0 * x * y
    r2 = xx + yy
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    slope2 = 2.0 * (k1 + r2 * (2.0 * k2 + r2 * (3.0 * k3)))  # twice d radial / d r2
    if not intrinsics[6:8].any():
        return x * radial, y * radial, radial + xx * slope2, 0.5 * xy2 * slope2, radial + yy * slope2
    p1_x, p1_y, p2_x, p2_y = p1 * x, p1 * y, p2 * x, p2 * y
    xd = x * radial + p1 * xy2 + p2 * (r2 + 2.0 * xx)
    yd = y * radial + p1 * (r2 + 2.0 * yy) + p2 * xy2
    dxd_dx = radial + xx * slope2 + 2.0 * p1_y + 6.0 * p2_x
    dxd_dy = 0.5 * xy2 * slope2 + 2.0 * (p1_x + p2_y)
    dyd_dy = radial + yy * slope2 + 6.0 * p1_y + 2.0 * p2_x
    return xd, yd, dxd_dx, dxd_dy, dyd_dy


def project(intrinsics: Array, points_cam: Array) -> tuple[Array, Array, Array]:
    """Project camera-frame points (N, 3), any length unit.

    Returns pixels (N, 2), their derivative by the points (N, 2, 3) and by the intrinsics (N, 2, 9).
    """
    fx, fy, cx, cy = intrinsics[:4]
    per_depth = 1.0 / points_cam[:, 2]
    x, y = points_cam[:, 0] * per_depth, points_cam[:, 1] * per_depth
    xd, yd, dxd_dx, dxd_dy, dyd_dy = _distorted(intrinsics, x, y)
    pixels = np.empty((len(x), 2))
    pixels[:, 0], pixels[:, 1] = fx * xd + cx, fy * yd + cy

    by_point = np.empty((len(x), 2, 3))
    right, down = fx * per_depth, fy * per_depth
    by_point[:, 0, 0], by_point[:, 0, 1] = right * dxd_dx, right * dxd_dy
    by_point[:, 1, 0], by_point[:, 1, 1] = down * dxd_dy, down * dyd_dy
    by_point[:, :, 2] = -(by_point[:, :, 0] * x[:, None] + by_point[:, :, 1] * y[:, None])
    return pixels, by_point, _by_intrinsics(intrinsics, x, y, xd, yd)


def _by_intrinsics(intrinsics: Array, x: Array, y: Array, xd: Array, yd: Array) -> Array:
    """(N, 2, 9) of the pixels of rays (x, y, 1), which the lens puts at (xd, yd)."""
    fx, fy = intrinsics[:2]
    fx_x, fy_y, xy2 = fx * x, fy * y, 2.0 * x * y
    xx, yy = x * x, y * y
    power = r2 = xx + yy
    by_intrinsics = np.zeros((len(x), 2, N_INTRINSICS))
    by_intrinsics[:, 0, 0], by_intrinsics[:, 1, 1] = xd, yd
    by_intrinsics[:, 0, 2] = by_intrinsics[:, 1, 3] = 1.0
    for column in (4, 5, 8):
        by_intrinsics[:, 0, column], by_intrinsics[:, 1, column] = fx_x * power, fy_y * power
        power = power * r2
    by_intrinsics[:, 0, 6], by_intrinsics[:, 1, 6] = fx * xy2, fy * (r2 + 2.0 * yy)
    by_intrinsics[:, 0, 7], by_intrinsics[:, 1, 7] = fx * (r2 + 2.0 * xx), fy * xy2
    return by_intrinsics


# Newton's steps double the digits: one more after this leaves less than 1e-9 px. Two or three are usual; at the corner
# of a strong barrel, near where it folds over, eight were seen.
UNPROJECT_SETTLED_PX, UNPROJECT_STEPS = 1e-3, 20


def unproject(intrinsics: Array, pixels: Array) -> Array:
    """Pixels (N, 2) to rays (N, 3) with z = 1, the distortion inverted by Newton steps to far below 1e-6 px.

    intrinsics: (9,), or (9, N) of a lens for each pixel.
    """
    fx, fy, cx, cy = intrinsics[:4]
    rays = np.ones((len(pixels), 3))
    x = x0 = (pixels[:, 0] - cx) / fx
    y = y0 = (pixels[:, 1] - cy) / fy
    if not intrinsics[6:8].any():  # along its radius each pixel has one unknown
        if intrinsics[4:].any():
            share = _undistorted_share(intrinsics, x0, y0)
            x, y = x0 * share, y0 * share
        rays[:, 0], rays[:, 1] = x, y
        return rays
    for _ in range(UNPROJECT_STEPS):
        xd, yd, dxd_dx, dxd_dy, dyd_dy = _distorted(intrinsics, x, y)
        off_x, off_y = xd - x0, yd - y0
        size = dxd_dx * dyd_dy - dxd_dy * dxd_dy
        x = x - (dyd_dy * off_x - dxd_dy * off_y) / size
        y = y - (dxd_dx * off_y - dxd_dy * off_x) / size
        if max((fx * np.abs(off_x)).max(initial=0.0), (fy * np.abs(off_y)).max(initial=0.0)) < UNPROJECT_SETTLED_PX:
            break
    rays[:, 0], rays[:, 1] = x, y
    return rays


def _undistorted_share(intrinsics: Array, x: Array, y: Array) -> Array:
    """(N,) by what (x, y), which a lens without tangential distortion made, are to be multiplied for what they were before it.

    The same steps of Newton as in the plane: they stay on the radius.
    """
    k1, k2, k3 = intrinsics[4], intrinsics[5], intrinsics[8]
    reach_px = np.maximum(intrinsics[0] * np.abs(x), intrinsics[1] * np.abs(y))
    r2 = x * x + y * y
    share = np.ones(len(x))
    for _ in range(UNPROJECT_STEPS):
        s2 = r2 * share * share
        radial = 1.0 + s2 * (k1 + s2 * (k2 + s2 * k3))
        off = share * radial - 1.0
        share = share - off / (radial + s2 * (2.0 * k1 + s2 * (4.0 * k2 + s2 * (6.0 * k3))))
        if (reach_px * np.abs(off)).max(initial=0.0) < UNPROJECT_SETTLED_PX:
            break
    return share


def unproject_slope(intrinsics: Array, rays: Array, by_ray: Array) -> Array:
    """How anything that moves with rays (N, 3), z = 1, by by_ray (N, 2), or (N, 3) whose last column counts for nothing, moves
    with the intrinsics, (9,) or (9, N), where the pixels stay: (N, 9), by the implicit function."""
    fx, fy = intrinsics[:2]
    x, y = rays[:, 0], rays[:, 1]
    xd, yd, dxd_dx, dxd_dy, dyd_dy = _distorted(intrinsics, x, y)
    size = dxd_dx * dyd_dy - dxd_dy * dxd_dy
    # by the pixel, the intrinsics held
    across = (by_ray[:, 1] * dxd_dy - by_ray[:, 0] * dyd_dy) / (size * fx)
    down = (by_ray[:, 0] * dxd_dy - by_ray[:, 1] * dxd_dx) / (size * fy)
    xx, yy, xy2 = x * x, y * y, 2.0 * x * y
    r2, right, below = xx + yy, fx * across, fy * down
    moved = np.empty((len(rays), N_INTRINSICS))
    moved[:, 0], moved[:, 1], moved[:, 2], moved[:, 3] = across * xd, down * yd, across, down
    moved[:, 4] = r2 * (right * x + below * y)
    moved[:, 5] = r2 * moved[:, 4]
    moved[:, 8] = r2 * moved[:, 5]
    moved[:, 6] = right * xy2 + below * (r2 + 2.0 * yy)
    moved[:, 7] = right * (r2 + 2.0 * xx) + below * xy2
    return moved


def matrix(intrinsics: Array) -> Array:
    """The 3 x 3 camera matrix."""
    fx, fy, cx, cy = intrinsics[:4]
    return np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])
