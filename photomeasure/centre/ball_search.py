"""Where a ball could be: a coarse map of round edges of the expected size, where the solved scene allows a ball.

Every edge votes, whatever its sign, for the point one expected radius away on either side. The votes are kept apart
by the side of the ball that they come from and each side counts once, so that one strong line cannot outvote an
arc. The lowest quarter, where a neck joins, does not vote.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.centre.sphere import Array

REACH_X_MM = 450.0
REACH_Y_MM = 60.0
REACH_Z_MM = (250.0, 900.0)
MIN_RADIUS_PX = 5.0
COARSE_RADIUS_PX = 8.0  # the ball's radius in the coarse picture
RADIUS_STEP = 1.07
SIDES = 20
NECK_HALF_ANGLE_RAD = np.pi / 4
CANDIDATES = 8
MIN_VOTES, MIN_SHARE = 0.16, 0.6  # at least, and of the best spot's
NECK_PLACES = ((0.57, 1.1), (0.57, 1.3), (0.57, 1.5))  # half-widths and depths, in radii, at which a neck's sides vote
_USUAL = 0.03  # how much the edges round about lower an edge's vote
_EDGE_FLOOR = 1.5  # grey levels per coarse pixel below which an edge counts for little

Float32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One picture and its solved camera: x_cam = rotation @ x_world + translation, mm."""

    grey: NDArray[np.uint8]  # (h, w)
    intrinsics: Array  # (9,)
    rotation: Array  # (3, 3)
    translation: Array  # (3,)
    radius_mm: float
    keep_out_px: tuple[Array, ...]

    def sheet_depth(self, rays: Array) -> Array:
        """Depth (...) at which rays (..., 3) of unit depth meet the upright plane y = 0."""
        normal = self.rotation[:, 1]
        with np.errstate(divide="ignore"):
            depth: Array = float(normal @ self.translation) / (rays @ normal)
        return depth

    def world(self, points_cam: Array) -> Array:
        """Camera-frame points (N, 3) in the world."""
        return (points_cam - self.translation) @ self.rotation


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A coarse candidate: px (2,), votes 0..1, error_px: how far off it may be."""

    px: Array
    votes: float
    error_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Part of the picture in which a ball's centre can be: hull_px (K, 2), and the crop that holds the whole ball."""

    hull_px: Array
    crop: tuple[int, int, int, int]  # x0, y0, x1, y1, ends excluded


def search_region(view: View) -> Region | None:
    """Picture of the box in which a centre can be; None where it lies outside the picture or behind the lens."""
    low, high = REACH_Z_MM
    box = np.array(
        [[x, y, z] for x in (-REACH_X_MM, REACH_X_MM) for y in (-REACH_Y_MM, REACH_Y_MM) for z in (low, high)]
    )
    in_cam = box @ view.rotation.T + view.translation
    if in_cam[:, 2].min() < 4.0 * view.radius_mm:
        return None
    fx, fy, cx, cy = view.intrinsics[:4]
    flat = in_cam[:, :2] / in_cam[:, 2:] * [fx, fy] + [cx, cy]  # lens distortion moves the border by a few pixels only
    hull = cv2.convexHull(flat.astype(np.float32)).reshape(-1, 2).astype(np.float64)
    margin = 1.8 * view.radius_mm * fx / float(in_cam[:, 2].min())
    rows, columns = view.grey.shape
    x0, y0 = np.floor(np.maximum(hull.min(axis=0) - margin, 0.0)).astype(int)
    x1, y1 = np.ceil(np.minimum(hull.max(axis=0) + margin, [columns, rows])).astype(int)
    if x1 - x0 < 4 * MIN_RADIUS_PX or y1 - y0 < 4 * MIN_RADIUS_PX:
        return None
    return Region(hull_px=hull, crop=(int(x0), int(y0), int(x1), int(y1)))


def radius_map(view: View, x_px: Array, y_px: Array) -> Array:
    """Expected radius in pixels of a ball in the sheet's plane, at pixels of any shape (lens taken as a pinhole)."""
    fx, fy, cx, cy = view.intrinsics[:4]
    rays = np.stack(np.broadcast_arrays((x_px - cx) / fx, (y_px - cy) / fy, 1.0), axis=-1)
    depth = view.sheet_depth(rays)
    stretch = np.linalg.norm(rays, axis=-1) ** 0.5  # mean of the two semi-axes off the optical axis
    return np.where(depth > 4.0 * view.radius_mm, fx * view.radius_mm / np.maximum(depth, 1.0) * stretch, np.nan)


def find_spots(view: View, region: Region) -> list[Spot]:
    """The most ball-like places, best first; empty where the ball would be too small to be measured."""
    x0, y0, x1, y1 = region.crop
    corners = radius_map(view, np.array([x0, x1, x0, x1], dtype=float), np.array([y0, y0, y1, y1], dtype=float))
    if not np.isfinite(corners).all() or corners.max() < MIN_RADIUS_PX:
        return []
    scale = max(1.0, float(np.sqrt(corners.min() * corners.max())) / COARSE_RADIUS_PX)
    size = max(1, round((x1 - x0) / scale)), max(1, round((y1 - y0) / scale))
    step = np.array([(x1 - x0) / size[0], (y1 - y0) / size[1]])
    crop = view.grey[y0:y1, x0:x1]
    small = cv2.resize(crop, size, interpolation=cv2.INTER_AREA) if scale > 1.0 else crop
    votes = vote(view, small.astype(np.float32), step, np.array([x0, y0], dtype=float))
    allowed = np.zeros(small.shape, dtype=np.uint8)
    cv2.fillConvexPoly(allowed, np.rint(_to_small(region.hull_px, region, step)).astype(np.int32), 1)
    for polygon in view.keep_out_px:
        cv2.fillPoly(allowed, [np.rint(_to_small(polygon, region, step)).astype(np.int32)], 0)
    return _peaks(np.where(allowed > 0, votes, 0.0).astype(np.float32), step, region)


def _to_small(px: Array, region: Region, step: Array) -> Array:
    return (px - [region.crop[0], region.crop[1]] + 0.5) / step - 0.5


def vote(view: View, small: Float32, step: Array, origin: Array) -> Float32:
    """Share of a ball's free outline that is there, 0..1, for a centre at every pixel of the coarse picture."""
    rows, columns = small.shape
    px_x = (np.array([0.0, columns - 1.0]) + 0.5) * step[0] - 0.5 + origin[0]
    px_y = (np.array([0.0, rows - 1.0]) + 0.5) * step[1] - 0.5 + origin[1]
    corner_radius = (radius_map(view, px_x[None, :], px_y[:, None]) / float(step.mean())).astype(np.float32)
    radius = _bilinear_sheet(corner_radius, rows, columns)
    smooth = cv2.GaussianBlur(small, (0, 0), 0.7)
    gx = cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32)
    gy = cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32)
    for polygon in view.keep_out_px:
        inside = np.rint((polygon - origin + 0.5) / step - 0.5).astype(np.int32)
        cv2.fillPoly(gx, [inside], 0.0)
        cv2.fillPoly(gy, [inside], 0.0)
    strength = gx * gx + gy * gy
    reach = 2 * round(2.5 * COARSE_RADIUS_PX) + 1
    weight = 1.0 / (strength + np.float32(_USUAL) * cv2.blur(strength, (reach, reach)) + np.float32(_EDGE_FLOOR**2))
    even, odd = (gx * gx - gy * gy) * weight, 2.0 * gx * gy * weight
    downward = _downward(view, origin + 0.5 * step * [columns, rows])
    places = [(float(np.cos(angle)), float(np.sin(angle))) for angle in _free_sides(downward)]
    lines: dict[int, Float32] = {}  # opposite sides ask for the same lines
    fields = []
    for number, (x, y) in enumerate(places):
        line = number % (SIDES // 2)
        if line not in lines:
            lines[line] = _aligned(even, odd, x, y)
        fields.append(lines[line])
    right, down = (-np.sin(downward), np.cos(downward)), (np.cos(downward), np.sin(downward))
    widened = cv2.dilate(_aligned(even, odd, float(right[0]), float(right[1])), np.ones((1, 3), np.uint8))
    upright = np.asarray(widened, dtype=np.float32)
    for wide, deep in NECK_PLACES:
        for side in (-wide, wide):
            fields.append(upright)
            places.append((float(side * right[0] + deep * down[0]), float(side * right[1] + deep * down[1])))
    # round(place) is off by half a pixel: shared by the neighbours
    return np.asarray(cv2.blur(_gather(fields, places, radius), (3, 3)), dtype=np.float32)


def _aligned(even: Float32, odd: Float32, x: float, y: float) -> Float32:
    """Strength of edges across the direction (x, y), of either sign: times cos(2 x angle between them), 0 or more."""
    aligned = np.float32(x * x - y * y) * even + np.float32(2.0 * x * y) * odd
    return np.asarray(np.maximum(aligned, np.float32(0.0)), dtype=np.float32)


def _bilinear_sheet(corners: Float32, rows: int, columns: int) -> Float32:
    """(rows, columns) from values at the four corners."""
    down = np.linspace(0.0, 1.0, rows, dtype=np.float32)[:, None]
    right = np.linspace(0.0, 1.0, columns, dtype=np.float32)[None, :]
    left_edge = corners[0, 0] + (corners[1, 0] - corners[0, 0]) * down
    right_edge = corners[0, 1] + (corners[1, 1] - corners[0, 1]) * down
    return np.asarray(left_edge + (right_edge - left_edge) * right, dtype=np.float32)


def _downward(view: View, at_px: Array) -> float:
    """Picture direction (radians, from x right towards y down) in which a weight would fall at a pixel (2,)."""
    fx, fy, cx, cy = view.intrinsics[:4]
    ray = np.array([(at_px[0] - cx) / fx, (at_px[1] - cy) / fy, 1.0])
    down = -view.rotation[:, 2]
    fall = down[:2] - ray[:2] * down[2]  # how the picture point moves when the world point sinks
    return float(np.arctan2(fall[1], fall[0]))


def _free_sides(downward: float) -> Array:
    """Picture directions of the sides of a ball that no neck covers."""
    angles = downward + (np.arange(SIDES) + 0.5) * (2.0 * np.pi / SIDES)
    off = np.abs(np.angle(np.exp(1j * (angles - downward))))
    return np.asarray(angles[off > NECK_HALF_ANGLE_RAD - 1e-6])


def _gather(fields: list[Float32], places: list[tuple[float, float]], radius: Float32) -> Float32:
    """Add up, for every centre, the fields at their places, which are in units of the centre's own radius."""
    low, high = float(radius.min()), float(radius.max())
    levels = max(1, round(np.log(high / low) / np.log(RADIUS_STEP)) + 1)
    radii = np.geomspace(low, high, levels) if levels > 1 else np.array([np.sqrt(low * high)])
    nearest = np.zeros(radius.shape, dtype=np.int16) if levels == 1 else np.rint(
        np.log(radius / low) / np.log(high / low) * (levels - 1)
    ).astype(np.int16)
    pad = int(np.ceil(1.7 * high)) + 1
    padded: dict[int, Float32] = {}
    for field in fields:
        if id(field) not in padded:
            framed = np.zeros((field.shape[0] + 2 * pad, field.shape[1] + 2 * pad), dtype=np.float32)
            framed[pad:-pad, pad:-pad] = field
            padded[id(field)] = framed
    votes = np.zeros(radius.shape, dtype=np.float32)
    for level, r in enumerate(radii):
        here = nearest == level
        row, column = np.flatnonzero(here.any(axis=1)), np.flatnonzero(here.any(axis=0))
        if not len(row):
            continue
        y0, y1, x0, x1 = int(row[0]), int(row[-1]) + 1, int(column[0]), int(column[-1]) + 1
        total = np.zeros((y1 - y0, x1 - x0), dtype=np.float32)
        for field, (x, y) in zip(fields, places, strict=True):
            dx, dy = pad + round(r * x), pad + round(r * y)
            total += padded[id(field)][y0 + dy : y1 + dy, x0 + dx : x1 + dx]
        np.copyto(votes[y0:y1, x0:x1], total, where=here[y0:y1, x0:x1])
    return np.asarray(votes / len(places), dtype=np.float32)


def _peaks(votes: Float32, step: Array, region: Region) -> list[Spot]:
    apart = 2 * round(0.4 * COARSE_RADIUS_PX) + 1
    highest = cv2.dilate(votes, np.ones((apart, apart), np.uint8))
    row, column = np.nonzero((votes >= highest) & (votes > max(MIN_VOTES, MIN_SHARE * float(votes.max()))))
    order = np.argsort(-votes[row, column], kind="stable")[:CANDIDATES]
    found = []
    for i in order:
        at = (np.array([column[i], row[i]], dtype=float) + 0.5) * step - 0.5 + [region.crop[0], region.crop[1]]
        found.append(Spot(px=at, votes=float(votes[row[i], column[i]]), error_px=1.5 * float(step.mean())))
    return found
