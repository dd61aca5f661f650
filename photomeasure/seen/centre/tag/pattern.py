"""What a camera makes of a printed code: the grey value of every point, and its exact derivative.

    I(x, y) = white(x, y) - contrast(x, y) T(B(u, v)),    T(B) = B / (B + k (1 - B))

B is the black share of the printed modules after a Gaussian blur: every module is a rectangle in the code's own
coordinates (u, v), so B is a sum of products of normal distribution functions, one along each axis. (u, v) come from
the pixel by a homography; white and contrast are linear in x and y (light falls off). T is what a tone curve, a
saturated white or spread ink do to a blurred edge: edges of either direction move by one and the same distance towards
black. (For a logistic edge T is a shift and nothing else: L / (L + k (1 - L)) is L moved by its scale times ln k; a
blurred edge is nearly logistic.) A code has edges of both directions at many places, so that this shift and the code's
size are told apart, which its four corners alone never do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import CODE_BITS, CODE_CELLS, CODE_MODULES

Array = NDArray[np.float64]
Modules = NDArray[np.bool_]

N_PARAMETERS = 17
HOMOGRAPHY, BLUR, TONE, WHITE, CONTRAST = slice(0, 8), slice(8, 10), 10, slice(11, 14), slice(14, 17)
LEVELS = slice(11, 17)
HALF = CODE_MODULES / 2
CORNERS_UV = np.array([[-HALF, -HALF], [HALF, -HALF], [HALF, HALF], [-HALF, HALF]])  # as printed, clockwise
_LINES = np.arange(CODE_MODULES + 1) - HALF  # (8,) module borders
_FAR = 5.0  # standard deviations from an edge at which it is black or white to 3e-7
_INV_ROOT_2PI = 1.0 / np.sqrt(2.0 * np.pi)


def black_modules(code_id: int) -> Modules:
    """(7, 7) which modules of a code of the kit are black, row 0 at the top: the frame, and the bits that are 0."""
    black = np.ones((CODE_MODULES, CODE_MODULES), dtype=bool)
    bits = np.array([bit == "0" for bit in CODE_BITS[code_id]]).reshape(CODE_CELLS, CODE_CELLS)
    black[1:-1, 1:-1] = bits
    return black


def code_coordinates(homography: Array, x: Array, y: Array) -> tuple[Array, Array, Array]:
    """u, v in modules from the code's middle (v down the print), and the depth they were divided by.

    homography: (8,) g with u = (g0 x + g1 y + g2) / (1 + g6 x + g7 y), v = (g3 x + g4 y + g5) / (1 + g6 x + g7 y).
    """
    g = homography
    depth = 1.0 + g[6] * x + g[7] * y
    return (g[0] * x + g[1] * y + g[2]) / depth, (g[3] * x + g[4] * y + g[5]) / depth, depth


def corners_of(homography: Array) -> Array | None:
    """(4, 2) where the code's corners are; None where the homography has no inverse there."""
    forward = np.append(homography, 1.0).reshape(3, 3)
    if abs(np.linalg.det(forward)) < 1e-6:
        return None
    mapped = np.column_stack([CORNERS_UV, np.ones(4)]) @ np.linalg.inv(forward).T
    if not np.isfinite(mapped).all() or (np.abs(mapped[:, 2]) < 1e-6).any():
        return None
    corners: Array = mapped[:, :2] / mapped[:, 2:]
    return corners


def corner_slope(homography: Array, corners: Array) -> Array:
    """(8, 8) derivative of corners.ravel() by the homography, by the implicit function: u(corner, g) stays fixed."""
    g, slope = homography, np.empty((8, 8))
    for i, ((x, y), (u, v)) in enumerate(zip(corners, CORNERS_UV, strict=True)):
        by_place = np.array([[g[0] - u * g[6], g[1] - u * g[7]], [g[3] - v * g[6], g[4] - v * g[7]]])
        by_g = np.array([[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]])
        slope[2 * i : 2 * i + 2] = -np.linalg.solve(by_place, by_g)
    return slope


def light_terms(x: Array, y: Array) -> Array:
    """(N, 3) constant and linear terms of white and contrast."""
    return np.stack([np.ones_like(x), x, y], axis=1)


def black_share(parameters: Array, x: Array, y: Array, black: Modules) -> Array:
    """(N,) how much of each blurred point is black, before the tone curve."""
    u, v, _ = code_coordinates(parameters[HOMOGRAPHY], x, y)
    of_u, of_v = _shares(u, float(parameters[8]))[0], _shares(v, float(parameters[9]))[0]
    result: Array = ((of_u @ black.T.astype(np.float64)) * of_v).sum(axis=1)
    return result


def pattern(parameters: Array, x: Array, y: Array, black: Modules) -> tuple[Array, Array]:
    """Grey value (N,) and its derivative (N, 17) at points x, y (N,), any unit that is about a module.

    parameters: homography (8), standard deviation of the blur along u and v in modules (2), ln k, white: constant and
    slopes by x and y (3), contrast: the same (3). black: (7, 7), row 0 at the top.
    """
    u, v, depth = code_coordinates(parameters[HOMOGRAPHY], x, y)
    of_u, of_v = _shares(u, float(parameters[8])), _shares(v, float(parameters[9]))
    printed = black.astype(np.float64)  # (row v, column u)
    in_row = of_u[0] @ printed.T  # (N, 7) what is black of each row at this u
    in_column = of_v[0] @ printed  # (N, 7) what is black of each column at this v
    share = (in_row * of_v[0]).sum(axis=1)
    k = np.exp(parameters[TONE])
    bottom = 1.0 / (share + k * (1.0 - share))
    toned = share * bottom
    light = light_terms(x, y)
    contrast = light @ parameters[CONTRAST]
    by_share = -contrast * k * bottom**2
    by_u = by_share * (in_column * of_u[1]).sum(axis=1) / depth
    by_v = by_share * (in_row * of_v[1]).sum(axis=1) / depth
    by_depth = -(by_u * u + by_v * v)

    slope = np.empty((len(x), N_PARAMETERS))
    slope[:, 0], slope[:, 1], slope[:, 2] = by_u * x, by_u * y, by_u
    slope[:, 3], slope[:, 4], slope[:, 5] = by_v * x, by_v * y, by_v
    slope[:, 6], slope[:, 7] = by_depth * x, by_depth * y
    slope[:, 8] = by_share * (in_column * of_u[2]).sum(axis=1)
    slope[:, 9] = by_share * (in_row * of_v[2]).sum(axis=1)
    slope[:, TONE] = contrast * toned * (1.0 - share) * k * bottom
    slope[:, WHITE] = light
    slope[:, CONTRAST] = -light * toned[:, None]
    return light @ parameters[WHITE] - contrast * toned, slope


def _shares(at: Array, blur: float) -> tuple[Array, Array, Array]:
    """(N, 7) share of each module's span in a blurred point, its derivative by the place and by the blur."""
    from scipy.special import ndtr  # slow to load, and few pictures have a tag

    z = (at[:, None] - _LINES) / blur
    near = np.abs(z) < _FAR
    edge, bell = (z > 0.0).astype(np.float64), np.zeros_like(z)
    close = z[near]
    edge[near] = ndtr(close)
    bell[near] = np.exp(-0.5 * close * close) * (_INV_ROOT_2PI / blur)
    skew = bell * z
    return edge[:, :-1] - edge[:, 1:], bell[:, :-1] - bell[:, 1:], skew[:, 1:] - skew[:, :-1]
