"""The pinhole camera with lens distortion, and exact rays through any point of a pixel.

World: x right, y away from the viewer, z up, millimetres. Camera: x right, y down, z forward; pixel
(0, 0) is the centre of the top-left pixel.
Distortion is the five-coefficient model of OpenCV (k1, k2, p1, p2, k3).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

NODES_PER_TILE = 12  # Chebyshev nodes on each axis of a tile


def read_only(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """A read-only float64 copy of the given shape; ValueError where it does not fit."""
    array = np.array(values, dtype=np.float64)
    if array.shape != shape:
        raise ValueError(f"array of shape {shape} expected, got {array.shape}")
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Camera:
    """One photograph's camera.

    intrinsics:      (9,) fx, fy, cx, cy in px, k1, k2, p1, p2, k3.
    size_px:         width, height.
    cam_from_world:  (4, 4) rigid.
    """

    intrinsics: FloatArray
    size_px: tuple[int, int]
    cam_from_world: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "intrinsics", read_only(self.intrinsics, (9,)))
        object.__setattr__(self, "cam_from_world", read_only(self.cam_from_world, (4, 4)))

    @property
    def rotation(self) -> FloatArray:
        """(3, 3) part of cam_from_world."""
        return self.cam_from_world[:3, :3]

    @property
    def position_mm(self) -> FloatArray:
        """(3,) lens centre in the world."""
        return -self.rotation.T @ self.cam_from_world[:3, 3]

    @property
    def matrix(self) -> FloatArray:
        """(3, 3) camera matrix, for the reference library."""
        fx, fy, cx, cy = self.intrinsics[:4]
        return np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])


def pose_looking_at(position_mm: ArrayLike, target_mm: ArrayLike, *, roll_rad: float = 0.0) -> FloatArray:
    """(4, 4) cam_from_world of a camera at a position, its axis through a target, z up turned by a roll."""
    position = np.asarray(position_mm, dtype=np.float64)
    forward = np.asarray(target_mm, dtype=np.float64) - position
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(roll_rad), np.sin(roll_rad)
    cam_from_world = np.eye(4)
    cam_from_world[:3, :3] = np.stack([c * right + s * down, -s * right + c * down, forward])
    cam_from_world[:3, 3] = -cam_from_world[:3, :3] @ position
    return cam_from_world


def distort(camera: Camera, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ideal to distorted normalised coordinates; any shape."""
    k1, k2, p1, p2, k3 = camera.intrinsics[4:]
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return (
        x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x),
        y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y,
    )


def project(camera: Camera, points_mm: ArrayLike) -> FloatArray:
    """(N, 3) world points in mm -> (N, 2) pixels; a point behind the lens gives nan."""
    points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 3)
    in_cam = points @ camera.rotation.T + camera.cam_from_world[:3, 3]  # (N, 3)
    depth = np.where(in_cam[:, 2] > 0.0, in_cam[:, 2], np.nan)
    x, y = distort(camera, in_cam[:, 0] / depth, in_cam[:, 1] / depth)
    fx, fy, cx, cy = camera.intrinsics[:4]
    return np.stack([fx * x + cx, fy * y + cy], axis=1)


def undistort(camera: Camera, pixels_px: ArrayLike) -> FloatArray:
    """(N, 2) pixels -> (N, 2) ideal normalised coordinates, by Newton's method to 1e-12.

    ArithmeticError where the distortion cannot be inverted (the picture folds over inside the frame).
    """
    k1, k2, p1, p2, k3 = camera.intrinsics[4:]
    fx, fy, cx, cy = camera.intrinsics[:4]
    pixels = np.asarray(pixels_px, dtype=np.float64).reshape(-1, 2)
    xd, yd = (pixels[:, 0] - cx) / fx, (pixels[:, 1] - cy) / fy
    x, y = xd.copy(), yd.copy()
    for _ in range(20):
        fx_now, fy_now = distort(camera, x, y)
        ex, ey = fx_now - xd, fy_now - yd
        r2 = x * x + y * y
        radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
        slope = k1 + r2 * (2.0 * k2 + 3.0 * k3 * r2)  # d radial / d r2
        xx = radial + 2.0 * x * x * slope + 2.0 * p1 * y + 6.0 * p2 * x
        yy = radial + 2.0 * y * y * slope + 6.0 * p1 * y + 2.0 * p2 * x
        xy = 2.0 * x * y * slope + 2.0 * p1 * x + 2.0 * p2 * y
        det = xx * yy - xy * xy
        det[det == 0.0] = np.nan
        x -= (yy * ex - xy * ey) / det
        y -= (xx * ey - xy * ex) / det
        if max(np.abs(ex).max(initial=0.0), np.abs(ey).max(initial=0.0)) < 1e-12:
            if (det > 0.0).all() and (xx > 0.0).all():  # on the branch through the axis
                return np.stack([x, y], axis=1)
            break
    raise ArithmeticError("the lens distortion cannot be inverted over the whole picture")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TileRays:
    """Exact rays of a rectangular tile: the inverse distortion as a polynomial through Chebyshev nodes.

    The inverse is smooth, so twelve nodes on each axis of a 256 px tile reproduce Newton's
    method to far below 1e-6 px.
    """

    x0: int
    y0: int
    width: int
    height: int
    node_x: FloatArray  # (n,) pixel columns of the nodes
    node_y: FloatArray  # (n,)
    ideal: FloatArray  # (2, n rows, n columns)
    weights: FloatArray  # (n,) barycentric

    @classmethod
    def of(cls, camera: Camera, x0: int, y0: int, width: int, height: int) -> TileRays:
        """Solve the nodes of one tile."""
        n = NODES_PER_TILE
        k = np.arange(n)
        unit = -np.cos((2 * k + 1) * np.pi / (2 * n))
        node_x = x0 - 0.5 + 0.5 * width * (unit + 1.0)
        node_y = y0 - 0.5 + 0.5 * height * (unit + 1.0)
        grid = np.stack(np.meshgrid(node_x, node_y), axis=-1).reshape(-1, 2)
        ideal = undistort(camera, grid).T.reshape(2, n, n)
        weights = np.asarray((-1.0) ** k * np.sin((2 * k + 1) * np.pi / (2 * n)), dtype=np.float64)
        return cls(
            x0=x0,
            y0=y0,
            width=width,
            height=height,
            node_x=node_x,
            node_y=node_y,
            ideal=ideal,
            weights=weights,
        )

    def at(self, dx_px: float, dy_px: float) -> FloatArray:
        """(2, height, width) ideal normalised coordinates at every pixel's centre plus an offset."""
        columns = _lagrange(self.node_x, self.weights, self.x0 + np.arange(self.width) + dx_px)
        rows = _lagrange(self.node_y, self.weights, self.y0 + np.arange(self.height) + dy_px)
        return np.asarray(rows @ self.ideal @ columns.T)


def _lagrange(nodes: FloatArray, weights: FloatArray, at: ArrayLike) -> FloatArray:
    """(m, n) barycentric interpolation matrix."""
    gap = np.asarray(at, dtype=np.float64)[:, None] - nodes[None, :]
    gap[gap == 0.0] = 1e-300
    terms = weights / gap
    return np.asarray(terms / terms.sum(axis=1, keepdims=True))
