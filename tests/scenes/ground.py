"""What is always there: the ground, and behind the rig a wall with sky above it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import FloatArray
from .light import Light, edge_lit, irradiance
from .texture import look_up

Values = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """z = slope_x x + slope_y y + bump exp(-((x - bx)^2 + (y - by)^2) / (2 radius^2)), mm.

    The slopes are those relative to the upright sheet's ground; kind: "concrete", "gravel", "grass".
    """

    kind: str = "concrete"
    slope_x: float = 0.0
    slope_y: float = 0.0
    bump_mm: float = 0.0
    bump_at_mm: tuple[float, float] = (0.0, 0.0)
    bump_radius_mm: float = 300.0

    def z_mm(self, x: Values | float, y: Values | float) -> Any:
        """Ground's height at x, y."""
        z = self.slope_x * x + self.slope_y * y
        if self.bump_mm:
            r2 = (x - self.bump_at_mm[0]) ** 2 + (y - self.bump_at_mm[1]) ** 2
            z = z + self.bump_mm * np.exp(-0.5 * r2 / self.bump_radius_mm**2)
        return z

    def slope_at(self, x: float, y: float) -> tuple[float, float]:
        """dz/dx, dz/dy."""
        bump = self.z_mm(x, y) - self.slope_x * x - self.slope_y * y
        pull = bump / self.bump_radius_mm**2
        return (
            float(self.slope_x - pull * (x - self.bump_at_mm[0])),
            float(self.slope_y - pull * (y - self.bump_at_mm[1])),
        )

    def hit(self, origin: Values, direction: Values) -> Values:
        """Factor t of rays from (3, 1) along (3, N); infinite above the horizon.

        A bump takes three fixed-point steps, good to far less than its own height squared over its radius.
        """
        ox, oy, oz = (float(v) for v in origin[:, 0])
        dx, dy, dz = direction
        fall = self.slope_x * dx + self.slope_y * dy - dz
        room = oz - self.slope_x * ox - self.slope_y * oy
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where(fall > 1e-9, room / fall, np.inf).astype(direction.dtype)
            if self.bump_mm:
                off_x, off_y = ox + t * dx - self.bump_at_mm[0], oy + t * dy - self.bump_at_mm[1]
                at = np.flatnonzero(off_x * off_x + off_y * off_y < (6.0 * self.bump_radius_mm) ** 2)
                t[at] = self._on_bump(t[at], ox, oy, room, dx[at], dy[at], fall[at])
        return t

    def _on_bump(self, t: Values, ox: float, oy: float, room: float, dx: Values, dy: Values, fall: Values) -> Values:
        for _ in range(3):
            x, y = ox + t * dx, oy + t * dy
            t = (room - (self.z_mm(x, y) - self.slope_x * x - self.slope_y * y)) / fall
        return t


_GROUND_TINT = {"concrete": (0.97, 1.0, 1.02), "gravel": (0.9, 0.98, 1.06), "grass": (0.45, 1.1, 0.85)}
_GROUND_ALBEDO = {"concrete": 0.34, "gravel": 0.27, "grass": 0.13}


def ground_albedo(kind: str) -> float:
    """Mean reflectance."""
    return _GROUND_ALBEDO[kind]


def ground_tint(kind: str) -> tuple[float, float, float]:
    """Blue, green, red."""
    return _GROUND_TINT[kind]


def ground_radiance(ground: Ground, light: Light, points: Values, depth: Values, occluded: Values | float) -> Values:
    """Radiance of ground points (3, N) at camera depths (N,), which fade the grain before it aliases."""
    x, y = points[0], points[1]
    fade = np.minimum(2500.0 / depth, 1.0)
    if ground.kind == "concrete":
        grain = 0.16 * fade * look_up("fine", x, y, 1.6) + 0.22 * look_up("clouds", y, x, 9.0)
    elif ground.kind == "gravel":
        grain = 0.5 * fade * look_up("stones", x, y, 2.2) + 0.15 * look_up("clouds", y, x, 7.0)
    else:
        grain = 0.55 * fade * look_up("blades", x, y, 1.5) + 0.3 * look_up("clouds", y, x, 5.0)
    normal = np.array([[-ground.slope_x], [-ground.slope_y], [1.0]], dtype=points.dtype)
    level = irradiance(light, normal, edge_lit(light, points) * occluded)
    return np.asarray(_GROUND_ALBEDO[ground.kind] * np.maximum(1.0 + grain, 0.05) * level)


@dataclass(frozen=True, slots=True, kw_only=True)
class Backdrop:
    """A wall across the yard at y = wall_y_mm, wall_height_mm high, open sky above.

    kind: "brick", "cladding", "hedge".
    """

    kind: str = "brick"
    wall_y_mm: float = 6000.0
    wall_height_mm: float = 2600.0
    albedo: float = 0.3

    def hit(self, origin: Values, direction: Values) -> Values:
        """Factor t at the wall's plane where it is below its top, else infinite."""
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (self.wall_y_mm - float(origin[1, 0])) / direction[1]
            z = float(origin[2, 0]) + t * direction[2]
        return np.where((t > 0) & (z < self.wall_height_mm), t, np.inf).astype(direction.dtype)


WALL_TINT = {"brick": (0.6, 0.75, 1.15), "cladding": (1.05, 1.0, 0.95), "hedge": (0.4, 1.0, 0.7)}
SKY_TINT = (1.18, 1.02, 0.9)


def wall_radiance(backdrop: Backdrop, light: Light, points: Values) -> Values:
    """Radiance of wall points (3, N)."""
    x, z = points[0], points[2]
    if backdrop.kind == "brick":
        course = np.floor(z * (1 / 75.0))
        along = (x * (1 / 225.0) + 0.5 * (course % 2)) % 1.0
        joint = (along < 0.045) | (z * (1 / 75.0) - course < 0.13)
        grain = 0.25 * look_up("clouds", x, z, 6.0) + 0.5 * joint
    elif backdrop.kind == "cladding":
        rib = (x * (1 / 190.0)) % 1.0
        grain = np.where(rib < 0.12, -0.45, np.where(rib > 0.85, 0.25, 0.0)) + 0.1 * look_up("clouds", x, z, 8.0)
    else:
        grain = 0.7 * look_up("stones", x, z, 4.0) + 0.3 * look_up("clouds", z, x, 6.0)
    normal = np.array([[0.0], [-1.0], [0.0]], dtype=points.dtype)
    return np.asarray(
        backdrop.albedo * np.maximum(1.0 + grain, 0.05) * irradiance(light, normal, edge_lit(light, points))
    )


def sky_radiance(light: Light, direction: Values) -> Values:
    """Radiance of the sky in directions (3, N) of any length."""
    x, y, z = direction
    up = z / np.sqrt(x * x + y * y + z * z)
    return np.asarray(light.sky * (1.25 - 0.4 * np.clip(up, 0, 1)))


def footprint_normal(ground: Ground, x: float, y: float) -> FloatArray:
    """(3,) unit normal of the ground at x, y."""
    sx, sy = ground.slope_at(x, y)
    n = np.array([-sx, -sy, 1.0])
    return np.asarray(n / np.linalg.norm(n))
