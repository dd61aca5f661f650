"""From a scene to the light on the sensor: box pixels, integrated exactly where it is measured.

First every pixel gets one ray through its centre. Pixels on or beside exact surfaces (sheets, balls) and on
the outlines of the others then get many rays, on a lattice that looks fine from every direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import Camera, FloatArray, TileRays
from .ground import (
    SKY_TINT,
    WALL_TINT,
    Backdrop,
    Ground,
    ground_radiance,
    ground_tint,
    sky_radiance,
    wall_radiance,
)
from .light import FINISHES, Light, edge_lit, irradiance, shade
from .surfaces import Plane, Surface, dot
from .texture import sample

Values = NDArray[Any]

TILE_PX = 256
SKY, WALL, GROUND, NOTHING = 0, 1, 2, 3
FIRST_SURFACE = 4


class Stage:
    """One scene seen by one camera."""

    def __init__(
        self,
        camera: Camera,
        surfaces: Sequence[Surface],
        light: Light,
        ground: Ground | None,
        backdrop: Backdrop | None,
        *,
        grey: bool,
    ) -> None:
        self.camera, self.surfaces, self.light = camera, tuple(surfaces), light
        self.ground, self.backdrop, self.grey = ground, backdrop, grey
        self.origin = camera.position_mm[:, None]  # (3, 1)
        self.bounds = [_bounds(camera, s) for s in self.surfaces]  # normalised xmin, ymin, xmax, ymax
        self.casters = [s for s in self.surfaces if not isinstance(s, Plane) and s.casts] if light.sun > 0 else []
        corners = np.array([s.corners_mm() for s in self.casters]).reshape(-1, 8, 3)  # of solids: boxes round them
        self.caster_centres = corners.mean(axis=1)  # (casters, 3)
        self.caster_radii = np.linalg.norm(corners - self.caster_centres[:, None], axis=2).max(axis=1, initial=0.0)

    def rays(self, ideal: Values) -> Values:
        """(3, N) world directions of unit depth from (2, N) normalised coordinates."""
        back = self.camera.rotation.T.astype(ideal.dtype)  # world from camera
        return np.asarray(back[:, :2] @ ideal + back[:, 2:])

    def near(self, ideal: Values) -> list[int]:
        """Indices of the surfaces whose box in the picture touches these rays."""
        x0, y0 = ideal.min(axis=1)
        x1, y1 = ideal.max(axis=1)
        return [i for i, b in enumerate(self.bounds) if b[0] <= x1 and b[2] >= x0 and b[1] <= y1 and b[3] >= y0]

    def identify(self, direction: Values, candidates: Sequence[int]) -> tuple[Values, NDArray[np.int16]]:
        """Depth (N,) and what is seen (N,): SKY, WALL, GROUND, NOTHING or FIRST_SURFACE + index."""
        origin = self.origin.astype(direction.dtype)
        n = direction.shape[1]
        depth = np.full(n, np.inf, dtype=direction.dtype)
        seen = np.full(n, NOTHING if self.backdrop is None else SKY, dtype=np.int16)
        hits: list[tuple[int, Values]] = []
        if self.backdrop is not None:
            hits.append((WALL, self.backdrop.hit(origin, direction)))
        if self.ground is not None:
            hits.append((GROUND, self.ground.hit(origin, direction)))
        hits += [(FIRST_SURFACE + i, self.surfaces[i].hit(origin, direction)) for i in candidates]
        for name, t in hits:
            nearer = t < depth
            np.copyto(depth, t, where=nearer)
            seen[nearer] = name
        return depth, seen

    def radiance(self, direction: Values, depth: Values, seen: NDArray[np.int16]) -> Values:
        """(channels, N) radiance of identified rays."""
        out = np.zeros((1 if self.grey else 3, direction.shape[1]), dtype=np.float32)
        counts = np.bincount(seen, minlength=FIRST_SURFACE)
        for name in np.flatnonzero(counts):
            if name == NOTHING:
                continue
            whole = counts[name] == len(seen)
            at = slice(None) if whole else np.flatnonzero(seen == name)
            values, tint = self._part(int(name), direction[:, at], depth[at])
            out[:, at] = _channels(values, tint, self.grey)
        return out

    def _part(self, name: int, direction: Values, depth: Values) -> tuple[Values, tuple[float, float, float]]:
        if name == SKY:
            return sky_radiance(self.light, direction), SKY_TINT
        points = self.origin.astype(direction.dtype) + depth * direction
        if name == WALL:
            assert self.backdrop is not None
            return wall_radiance(self.backdrop, self.light, points), WALL_TINT[self.backdrop.kind]
        if name == GROUND:
            assert self.ground is not None
            sunlit = self._sunlit(points, None)
            return ground_radiance(self.ground, self.light, points, depth, sunlit), ground_tint(self.ground.kind)
        surface = self.surfaces[name - FIRST_SURFACE]
        lit = edge_lit(self.light, points) * self._sunlit(points, surface)
        normal = surface.normal(points)
        if isinstance(surface, Plane):
            return self._printed(surface, points, float(np.median(depth))) * irradiance(
                self.light, normal, lit
            ), surface.tint_bgr
        view = direction / np.sqrt(dot(direction, direction))
        return shade(self.light, FINISHES[surface.finish], points, normal, view, lit), surface.tint_bgr

    def _printed(self, plane: Plane, points: Values, depth_mm: float) -> Values:
        """Reflectance of points on a plane, from a pyramid level a little finer than a third of a pixel."""
        local_from_world = plane.world_from_plane[:3, :3].T.astype(points.dtype)
        x, y, _ = local_from_world @ (points - plane.world_from_plane[:3, 3:].astype(points.dtype))
        mx, my = plane.mm_per_texel
        texels_per_px = depth_mm / float(self.camera.intrinsics[0]) / max(mx, my)
        level = int(np.clip(np.floor(np.log2(max(0.3 * texels_per_px, 1.0))), 0, 6))
        value = sample(plane.texture, x / mx - 0.5, plane.texture.shape[0] - y / my - 0.5, level)
        low, high = plane.reflectance
        return np.asarray(low + (high - low) / 255.0 * value)

    def _sunlit(self, points: Values, own: Surface | None) -> Values | float:
        """1 where the sun arrives, 0 behind a solid."""
        if not self.casters:
            return 1.0
        low, high = points.min(axis=1), points.max(axis=1)
        middle, room = 0.5 * (low + high), 0.5 * float(np.linalg.norm(high - low))
        along, off2 = _from_axis(self.caster_centres, middle, self.light.sun_direction)
        near = (off2 < (self.caster_radii + room) ** 2) & (along > -self.caster_radii - room)
        if not near.any():
            return 1.0
        lit = np.ones(points.shape[1], dtype=points.dtype)
        sun = np.asarray(self.light.sun_direction, dtype=points.dtype)[:, None]
        for i in np.flatnonzero(near):
            if self.casters[i] is own:
                continue  # convex: its own dark side is in the cosine
            reach = float(self.caster_radii[i])
            along, off2 = _from_axis(points.T, self.caster_centres[i].astype(points.dtype), -sun[:, 0])
            at = np.flatnonzero((off2 < reach * reach) & (along > -reach))
            if at.size:
                lit[at[np.isfinite(self.casters[i].hit(points[:, at], sun))]] = 0
        return lit


def _from_axis(points: Values, origin: Values, direction: Values) -> tuple[Values, Values]:
    """(N,) distance of points (N, 3) along an axis through an origin, and their squared distance from it."""
    x, y, z = points[:, 0] - origin[0], points[:, 1] - origin[1], points[:, 2] - origin[2]
    along = direction[0] * x + direction[1] * y + direction[2] * z
    return along, x * x + y * y + z * z - along * along


def _bounds(camera: Camera, surface: Surface) -> tuple[float, float, float, float]:
    """Box of a surface in normalised coordinates; the whole plane where it reaches behind the lens."""
    in_cam = surface.corners_mm() @ camera.rotation.T + camera.cam_from_world[:3, 3]
    if in_cam[:, 2].min() < 1.0:
        return (-np.inf, -np.inf, np.inf, np.inf)
    xy = in_cam[:, :2] / in_cam[:, 2:]
    return (*xy.min(axis=0), *xy.max(axis=0))


def _channels(values: Values, tint: tuple[float, float, float], grey: bool) -> Values:
    if grey:
        return np.asarray(values[None] * (0.114 * tint[0] + 0.587 * tint[1] + 0.299 * tint[2]))
    return np.asarray(values[None] * np.array(tint, dtype=np.float32)[:, None])


@lru_cache(maxsize=8)
def lattice(samples: int) -> FloatArray:
    """(samples, 2) offsets within a pixel, -0.5 to 0.5, symmetrical, each row and column used once.

    Of the rank-1 lattices the one whose nearest points are farthest apart.
    """
    i = np.arange(samples)
    best, best_gap = 1, -1.0
    for step in range(1, samples, 2):
        if np.gcd(step, samples) != 1:
            continue
        d = np.stack([i[1:], (step * i[1:]) % samples]).astype(float) / samples
        gap = float(np.hypot(*(d - np.rint(d))).min())
        if gap > best_gap + 1e-12:
            best, best_gap = step, gap
    x = (i + 0.5) / samples
    points = np.stack([x, (best * x) % 1.0], axis=1) - 0.5  # an odd step: symmetrical
    points.setflags(write=False)
    return points


def trace(stage: Stage, *, samples: int) -> NDArray[np.float32]:
    """(h, w, channels) mean radiance over each pixel."""
    width, height = stage.camera.size_px
    image = np.empty((height, width, 1 if stage.grey else 3), dtype=np.float32)
    seen = np.empty((height, width), dtype=np.int16)
    tiles = [
        TileRays.of(stage.camera, x, y, min(TILE_PX, width - x), min(TILE_PX, height - y))
        for y in range(0, height, TILE_PX)
        for x in range(0, width, TILE_PX)
    ]
    for tile in tiles:
        _coarse(stage, tile, image, seen)
    fine = _fine_mask(seen, [s.exact for s in stage.surfaces])
    for tile in tiles:
        _refine(stage, tile, image, fine, samples)
    return image


def _window(tile: TileRays) -> tuple[slice, slice]:
    return slice(tile.y0, tile.y0 + tile.height), slice(tile.x0, tile.x0 + tile.width)


def _coarse(stage: Stage, tile: TileRays, image: NDArray[np.float32], seen: NDArray[np.int16]) -> None:
    ideal = tile.at(0.0, 0.0).reshape(2, -1).astype(np.float32)
    direction = stage.rays(ideal)
    depth, names = stage.identify(direction, stage.near(ideal))
    values = stage.radiance(direction, depth, names)
    window = _window(tile)
    image[window] = values.T.reshape(tile.height, tile.width, -1)
    seen[window] = names.reshape(tile.height, tile.width)


def _fine_mask(seen: NDArray[np.int16], exact: Sequence[bool]) -> NDArray[np.uint8]:
    """Pixels to integrate: exact surfaces with a margin of 3 px, and the outlines of everything else."""
    table = np.zeros(FIRST_SURFACE + len(exact), dtype=np.uint8)
    table[FIRST_SURFACE:] = exact
    on_exact = np.asarray(cv2.dilate(table[seen], np.ones((7, 7), np.uint8)), dtype=np.bool_)
    edge = np.zeros(seen.shape, dtype=np.bool_)
    across, down = seen[:, 1:] != seen[:, :-1], seen[1:] != seen[:-1]
    edge[:, 1:] |= across
    edge[:, :-1] |= across
    edge[1:] |= down
    edge[:-1] |= down
    return np.asarray(on_exact | edge, dtype=np.uint8)


def _refine(stage: Stage, tile: TileRays, image: NDArray[np.float32], fine: NDArray[np.uint8], samples: int) -> None:
    window = _window(tile)
    at = np.flatnonzero(fine[window])
    if at.size == 0:
        return
    total = np.zeros((image.shape[2], at.size), dtype=np.float64)
    for dx, dy in lattice(samples):
        ideal = tile.at(dx, dy).reshape(2, -1)[:, at]
        direction = stage.rays(ideal)
        depth, names = stage.identify(direction, stage.near(ideal))
        total += stage.radiance(direction, depth, names)
    block = image[window].reshape(-1, image.shape[2])
    block[at] = (total / samples).T.astype(np.float32)
    image[window] = block.reshape(tile.height, tile.width, -1)
