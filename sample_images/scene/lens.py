"""The camera: exact projection of world points, and the ray of any place in the picture.

Pixel (0, 0) is the centre of the top-left pixel; camera x right, y down, z forward; distortion
x_d = x (1 + k1 r^2 + k2 r^4) on normalised coordinates (the usual radial model).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scene.mesh import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """One photograph's camera; `cam_from_world` is (4, 4), world in mm with z up and y away from the viewer."""

    width_px: int
    height_px: int
    focal_px: float
    cx_px: float
    cy_px: float
    k1: float
    k2: float
    cam_from_world: Array

    def project(self, points_mm: Array) -> Array:
        """Pixel coordinates (N, 2) of world points (N, 3); raises ValueError for a point behind the camera."""
        points = np.atleast_2d(points_mm) @ self.cam_from_world[:3, :3].T + self.cam_from_world[:3, 3]
        if np.any(points[:, 2] <= 0):
            raise ValueError("a point lies behind the camera")
        flat = points[:, :2] / points[:, 2:]
        square = np.sum(flat**2, axis=1, keepdims=True)
        bent = flat * (1 + self.k1 * square + self.k2 * square**2)
        return np.asarray(self.focal_px * bent + [self.cx_px, self.cy_px])

    @property
    def place_mm(self) -> Array:
        """Where the lens is in the world (3,)."""
        rotation = self.cam_from_world[:3, :3]
        return np.asarray(-rotation.T @ self.cam_from_world[:3, 3])

    def upright(self) -> Lens:
        """The same lens in a phone held upright: the landscape sensor turned so that its picture is a portrait."""
        return replace(
            self,
            width_px=self.height_px,
            height_px=self.width_px,
            cx_px=self.height_px - 1 - self.cy_px,
            cy_px=self.cx_px,
        )


def aimed(
    place_mm: tuple[float, float, float], at_mm: tuple[float, float, float], *, roll_deg: float = 0.0
) -> Array:
    """cam_from_world (4, 4) of a camera at one point looking at another; positive roll turns the camera clockwise."""
    forward = np.array(at_mm, dtype=float) - place_mm
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    cos, sin = np.cos(np.deg2rad(roll_deg)), np.sin(np.deg2rad(roll_deg))
    rotation = np.stack([cos * right + sin * down, -sin * right + cos * down, forward])
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rotation, -rotation @ np.array(place_mm, dtype=float)
    return matrix


def focal_px(focal_35mm: float, width_px: int, height_px: int) -> float:
    """Focal length in pixels from a 35 mm-equivalent one, by the picture's diagonal (36 x 24 mm: 43.27 mm)."""
    return float(focal_35mm * np.hypot(width_px, height_px) / np.hypot(36.0, 24.0))
