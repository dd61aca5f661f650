"""Surfaces that rays hit: textured rectangles, ball, box, cylinder. Each in a local frame of its own.

Rays come as arrays: origin (3, 1) or (3, N), direction (3, N) or (3, 1), of any length; a hit is the factor
t with origin + t * direction on the surface, infinite where the ray misses. Float32 rays give float32 hits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .camera import FloatArray, read_only

Rays = NDArray[Any]  # float32 for the background, float64 where it is measured

NEAR_MM = 1e-3


def frame(origin_mm: ArrayLike, right: ArrayLike, up: ArrayLike) -> FloatArray:
    """(4, 4) world_from_local with x along right, y along up (made perpendicular), z towards right x up."""
    x = np.asarray(right, dtype=np.float64)
    x = x / np.linalg.norm(x)
    y = np.asarray(up, dtype=np.float64)
    y = y - (y @ x) * x
    y = y / np.linalg.norm(y)
    world_from_local = np.eye(4)
    world_from_local[:3, :3] = np.stack([x, y, np.cross(x, y)], axis=1)
    world_from_local[:3, 3] = np.asarray(origin_mm, dtype=np.float64)
    return world_from_local


def to_local(world_from_local: FloatArray, origin: Rays, direction: Rays) -> tuple[Rays, Rays]:
    """Rays in the local frame, in the precision in which they came."""
    local_from_world = world_from_local[:3, :3].T.astype(direction.dtype)
    shift = world_from_local[:3, 3:].astype(origin.dtype)
    return local_from_world @ (origin - shift), local_from_world @ direction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """A textured rectangle; outside it the ray passes.

    texture:           (rows, columns) uint8 reflectance scale, row 0 at the top.
    mm_per_texel:      along x and along y; a print scale goes in here.
    world_from_plane:  (4, 4); local x right, y up from the texture's bottom-left corner, z to the viewer.
    reflectance:       of texture values 0 and 255.
    """

    texture: NDArray[np.uint8]
    mm_per_texel: tuple[float, float]
    world_from_plane: FloatArray
    reflectance: tuple[float, float] = (0.04, 0.85)
    tint_bgr: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exact: bool = True

    def __post_init__(self) -> None:
        object.__setattr__(self, "world_from_plane", read_only(self.world_from_plane, (4, 4)))

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width, height."""
        rows, columns = self.texture.shape
        return columns * self.mm_per_texel[0], rows * self.mm_per_texel[1]

    def corners_mm(self) -> FloatArray:
        """(4, 3) bottom-left, bottom-right, top-right, top-left in the world."""
        w, h = self.size_mm
        local = np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], dtype=np.float64)
        return local @ self.world_from_plane[:3, :3].T + self.world_from_plane[:3, 3]

    def hit(self, origin: Rays, direction: Rays) -> Rays:
        """See the module."""
        o, d = to_local(self.world_from_plane, origin, direction)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -o[2] / d[2]
            x, y = o[0] + t * d[0], o[1] + t * d[1]
        w, h = self.size_mm
        inside = (x >= 0) & (x <= w) & (y >= 0) & (y <= h) & (t > NEAR_MM)
        return np.where(inside, t, np.inf).astype(direction.dtype)

    def normal(self, points: Rays) -> Rays:
        """(3, 1) towards the viewer's side."""
        return self.world_from_plane[:3, 2:3].astype(points.dtype)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ball:
    """A sphere; finish names a row of finish.FINISHES."""

    centre_mm: FloatArray
    diameter_mm: float
    finish: str
    tint_bgr: tuple[float, float, float] = (1.0, 1.0, 1.0)
    casts: bool = True
    exact: bool = True

    def __post_init__(self) -> None:
        object.__setattr__(self, "centre_mm", read_only(self.centre_mm, (3,)))

    def corners_mm(self) -> FloatArray:
        """(8, 3) corners of the box around it."""
        signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
        return self.centre_mm + 0.5 * self.diameter_mm * signs

    def hit(self, origin: Rays, direction: Rays) -> Rays:
        """Distance to the ray first, so that no two large squares are subtracted."""
        centre = self.centre_mm[:, None].astype(direction.dtype)
        to_centre = centre - origin
        dd = dot(direction, direction)
        t_mid = dot(to_centre, direction) / dd
        off = to_centre - t_mid * direction  # (3, N) from the nearest point of the ray to the centre
        room = (0.5 * self.diameter_mm) ** 2 - dot(off, off)
        t = t_mid - np.sqrt(np.maximum(room, 0) / dd)
        return np.where((room >= 0) & (t > NEAR_MM), t, np.inf).astype(direction.dtype)

    def normal(self, points: Rays) -> Rays:
        """(3, N) outward."""
        return np.asarray((points - self.centre_mm[:, None].astype(points.dtype)) / (0.5 * self.diameter_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Box:
    """A box about the origin of its frame; half_mm are its half sizes along its local axes."""

    world_from_box: FloatArray
    half_mm: tuple[float, float, float]
    finish: str
    tint_bgr: tuple[float, float, float] = (1.0, 1.0, 1.0)
    casts: bool = True
    exact: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "world_from_box", read_only(self.world_from_box, (4, 4)))

    def corners_mm(self) -> FloatArray:
        """(8, 3) in the world."""
        signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
        return (signs * self.half_mm) @ self.world_from_box[:3, :3].T + self.world_from_box[:3, 3]

    def hit(self, origin: Rays, direction: Rays) -> Rays:
        """Slab method."""
        o, d = to_local(self.world_from_box, origin, direction)
        half = np.asarray(self.half_mm, dtype=direction.dtype)[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            inverse = 1.0 / d
            a, b = (-half - o) * inverse, (half - o) * inverse
        near, far = np.minimum(a, b), np.maximum(a, b)
        enter = np.maximum(np.maximum(near[0], near[1]), near[2])
        leave = np.minimum(np.minimum(far[0], far[1]), far[2])
        return np.where((enter <= leave) & (enter > NEAR_MM), enter, np.inf).astype(direction.dtype)

    def normal(self, points: Rays) -> Rays:
        """(3, N) of the face that the point lies nearest to."""
        rotation = self.world_from_box[:3, :3].astype(points.dtype)
        local = rotation.T @ (points - self.world_from_box[:3, 3:].astype(points.dtype))
        depth = np.abs(local) - np.asarray(self.half_mm, dtype=points.dtype)[:, None]
        axis = depth.argmax(axis=0)
        sign = np.sign(np.take_along_axis(local, axis[None], axis=0)[0])
        return np.asarray(rotation[:, axis] * sign)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cylinder:
    """A capped cylinder about the local z axis of its frame."""

    world_from_cylinder: FloatArray
    radius_mm: float
    half_length_mm: float
    finish: str
    tint_bgr: tuple[float, float, float] = (1.0, 1.0, 1.0)
    casts: bool = True
    exact: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "world_from_cylinder", read_only(self.world_from_cylinder, (4, 4)))

    def corners_mm(self) -> FloatArray:
        """(8, 3) corners of the box around it."""
        signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
        half = [self.radius_mm, self.radius_mm, self.half_length_mm]
        return (signs * half) @ self.world_from_cylinder[:3, :3].T + self.world_from_cylinder[:3, 3]

    def hit(self, origin: Rays, direction: Rays) -> Rays:
        """The slab of the caps cut with the round wall."""
        o, d = to_local(self.world_from_cylinder, origin, direction)
        with np.errstate(divide="ignore", invalid="ignore"):
            a = d[0] * d[0] + d[1] * d[1]
            t_mid = -(o[0] * d[0] + o[1] * d[1]) / a
            ex, ey = o[0] + t_mid * d[0], o[1] + t_mid * d[1]
            room = self.radius_mm**2 - ex * ex - ey * ey
            reach = np.sqrt(np.maximum(room, 0) / a)
            cap_a, cap_b = (-self.half_length_mm - o[2]) / d[2], (self.half_length_mm - o[2]) / d[2]
        enter = np.maximum(t_mid - reach, np.minimum(cap_a, cap_b))
        leave = np.minimum(t_mid + reach, np.maximum(cap_a, cap_b))
        ok = (room >= 0) & (enter <= leave) & (enter > NEAR_MM)
        return np.where(ok, enter, np.inf).astype(direction.dtype)

    def normal(self, points: Rays) -> Rays:
        """(3, N) of the wall or of the cap, whichever the point lies nearest to."""
        rotation = self.world_from_cylinder[:3, :3].astype(points.dtype)
        local = rotation.T @ (points - self.world_from_cylinder[:3, 3:].astype(points.dtype))
        radius = np.hypot(local[0], local[1])
        on_cap = np.abs(local[2]) - self.half_length_mm > radius - self.radius_mm
        out = np.stack([local[0] / radius, local[1] / radius, np.zeros_like(radius)])
        out[:, on_cap] = np.stack([0 * radius, 0 * radius, np.sign(local[2])])[:, on_cap]
        return np.asarray(rotation @ out)


Solid = Ball | Box | Cylinder
Surface = Plane | Solid


def dot(a: Rays, b: Rays) -> Rays:
    """(N,) of (3, N) with (3, N) or (3, 1)."""
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])
