"""Grey profiles straight across the outline of a ball, in the coordinates of its own cone.

A profile leaves the picture of the ball's centre at an angle `around` (from right towards up, in the world's sense
of up) and is read at offsets t in pixels from the expected outline, positive outwards. Places are rays of a cone
about the line of sight, so that neither the ellipse of a sphere off the axis nor the lens distortion bends the
outline: a ball is a circle here, and one that is off by (a, b) with its edge shifted by c lies at t = a cos(around)
+ b sin(around) + c.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import distorted, unproject
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array, SightLine, cone_rays, ray_px, sight_line

SRGB_KNEE, SRGB_SLOPE, SRGB_OFFSET, SRGB_EXPONENT = 0.04045, 12.92, 0.055, 2.4  # IEC 61966-2-1, from memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A supposed ball: the line to its centre in the sheet's plane, and the size of its picture.

    opening_rad: half the angle of its cone; radius_px: that angle in pixels; distance_mm from the lens.
    """

    centre_px: Array
    line: SightLine
    distance_mm: float
    opening_rad: float
    radius_px: float

    def places_px(self, view: SearchedPicture, around_rad: Array, t_px: Array) -> Array:
        """Pixels (P, n, 2) of offsets t_px, (n,) or (P, n), on the profiles around_rad (P,)."""
        opening = self.opening_rad * (1.0 + t_px / self.radius_px)
        return ray_px(view.intrinsics, cone_rays(self.line, opening, around_rad[:, None]))

    def moved(self, view: SearchedPicture, right_px: float, up_px: float) -> Sight | None:
        """The same ball with its centre moved across the line of sight."""
        scale = self.opening_rad / self.radius_px
        ray = self.line.forward + scale * (right_px * self.line.right + up_px * self.line.up)
        return _sight_along(view, ray / ray[2], ray_px(view.intrinsics, ray))


def sight_at(view: SearchedPicture, centre_px: Array) -> Sight | None:
    """The ball whose centre's picture is centre_px (2,); None where the sheet's plane is not there or too near."""
    return _sight_along(view, unproject(view.intrinsics, centre_px[None])[0], centre_px)


def _sight_along(view: SearchedPicture, ray: Array, centre_px: Array) -> Sight | None:
    depth = float(view.sheet_depth(ray))
    if not 4.0 * view.radius_mm < depth < 1e5:
        return None
    centre = ray * depth
    distance = float(np.linalg.norm(centre))
    line = sight_line(centre, view.cam_from_world[:, 2])
    opening = float(np.arcsin(view.radius_mm / distance))
    wide, tall = (
        _across_px(view, np.cos(opening) * line.forward, np.sin(opening) * axis) for axis in (line.right, line.up)
    )
    radius = 0.5 * math.sqrt(wide * tall)
    return Sight(centre_px=centre_px, line=line, distance_mm=distance, opening_rad=opening, radius_px=radius)


def _across_px(view: SearchedPicture, middle: Array, aside: Array) -> float:
    """From one side of the outline to the other: between the rays middle - aside and middle + aside, (3,) each.

    `sphere.ray_px` in plain numbers: a sixth of the time for two rays.
    """
    fx, fy, *_ = view.intrinsics.tolist()
    lens = view.intrinsics[4:].tolist()
    (x0, y0, _), (x1, y1, _) = (
        distorted(lens, x / z, y / z) for x, y, z in ((middle - aside).tolist(), (middle + aside).tolist())
    )
    return math.hypot(fx * (x1 - x0), fy * (y1 - y0))


@cache
def linear_light() -> Array:
    """Table (256,) from grey level to linear light, scaled to 255, by the standard's tone curve.

    Half-way up an edge is where the outline lies in linear light only: in encoded levels a bright side looks too large.
    """
    level = np.arange(256) / 255.0
    curved = ((level + SRGB_OFFSET) / (1.0 + SRGB_OFFSET)) ** SRGB_EXPONENT
    return np.asarray(255.0 * np.where(level <= SRGB_KNEE, level / SRGB_SLOPE, curved))


def read(grey: NDArray[np.uint8], places_px: Array, table: Array | None = None) -> tuple[Array, NDArray[np.bool_]]:
    """Bilinear values (...) at places (..., 2), and which of them are inside the picture; table maps levels first."""
    rows, columns = grey.shape
    x, y = places_px[..., 0], places_px[..., 1]
    if x.size and x.min() >= 0 and y.min() >= 0 and x.max() <= columns - 1.001 and y.max() <= rows - 1.001:
        inside = np.ones(x.shape, dtype=np.bool_)
    else:
        inside = (x >= 0) & (y >= 0) & (x <= columns - 1) & (y <= rows - 1)
        x, y = np.clip(x, 0, columns - 1.001), np.clip(y, 0, rows - 1.001)
    column, row = x.astype(np.int64), y.astype(np.int64)
    fx, fy = x - column, y - row
    flat, at = grey.reshape(-1), row * columns + column
    corners = [flat[at], flat[at + 1], flat[at + columns], flat[at + columns + 1]]
    if table is not None:
        corners = [table[corner] for corner in corners]
    top = corners[0] + fx * (corners[1].astype(np.float64) - corners[0])
    bottom = corners[2] + fx * (corners[3].astype(np.float64) - corners[2])
    return top + fy * (bottom - top), inside


def outside_all(polygons: tuple[Array, ...], places_px: Array) -> NDArray[np.bool_]:
    """Which places (..., 2) lie in none of the polygons (K, 2), by crossing number."""
    free = np.ones(places_px.shape[:-1], dtype=np.bool_)
    x, y = places_px[..., 0], places_px[..., 1]
    low, high = np.array([x.min(), y.min()]), np.array([x.max(), y.max()])
    for polygon in polygons:
        if (polygon.max(axis=0) < low).any() or (polygon.min(axis=0) > high).any():
            continue
        crossed = np.zeros(free.shape, dtype=np.bool_)
        for (x1, y1), (x2, y2) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
            if y1 != y2:
                crossed ^= ((y1 > y) != (y2 > y)) & (x < (x2 - x1) * (y - y1) / (y2 - y1) + x1)
        free &= ~crossed
    return free
