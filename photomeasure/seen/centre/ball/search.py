"""Where a ball could be: the part of the picture where the solved scene allows one, turned and scaled for those who look.

It is turned until down is down and scaled until the balls that the scene expects have one size.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.shrink import shrunk
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.centre.ball.sphere import Array

REACH_X_MM = 450.0
REACH_Y_MM = 60.0
REACH_Z_MM = (250.0, 900.0)
MIN_RADIUS_PX = 5.0
NECK_HALF_ANGLE_RAD = np.pi / 4

Float32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchedPicture(SolvedCamera):
    """One picture, grey (h, w), and its solved camera; keep_out_px: polygons (K, 2) of printed sheets and tags."""

    grey: NDArray[np.uint8]
    radius_mm: float
    keep_out_px: tuple[Array, ...]

    def sheet_depth(self, rays: Array) -> Array:
        """Depth (...) at which rays (..., 3) of unit depth meet the upright plane y = 0."""
        normal = self.cam_from_world[:, 1]
        with np.errstate(divide="ignore"):
            depth: Array = float(normal @ self.world_in_cam_mm) / (rays @ normal)
        return depth

    def world(self, points_cam: Array) -> Array:
        """Camera-frame points (N, 3) in the world."""
        return (points_cam - self.world_in_cam_mm) @ self.cam_from_world


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A coarse candidate: px (2,); likeness, close: logarithms of its odds from afar and by a close look (`nets`);
    error_px: how far off it may be."""

    px: Array
    likeness: float
    close: float
    error_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Part of the picture in which a ball's centre can be: hull_px (K, 2), and the crop that holds the whole ball."""

    hull_px: Array
    crop: tuple[int, int, int, int]  # x0, y0, x1, y1, ends excluded


def search_region(view: SearchedPicture) -> Region | None:
    """Picture of the box in which a centre can be; None where it lies outside the picture or behind the lens."""
    low, high = REACH_Z_MM
    box = np.array(
        [[x, y, z] for x in (-REACH_X_MM, REACH_X_MM) for y in (-REACH_Y_MM, REACH_Y_MM) for z in (low, high)]
    )
    in_cam = box @ view.cam_from_world.T + view.world_in_cam_mm
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


def radius_map(view: SearchedPicture, x_px: Array, y_px: Array) -> Array:
    """Expected radius in pixels of a ball in the sheet's plane, at pixels of any shape (lens taken as a pinhole)."""
    fx, fy, cx, cy = view.intrinsics[:4]
    rays = np.stack(np.broadcast_arrays((x_px - cx) / fx, (y_px - cy) / fy, 1.0), axis=-1)
    depth = view.sheet_depth(rays)
    stretch = np.linalg.norm(rays, axis=-1) ** 0.5  # mean of the two semi-axes off the optical axis
    return np.where(depth > 4.0 * view.radius_mm, fx * view.radius_mm / np.maximum(depth, 1.0) * stretch, np.nan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coarse:
    """A part of the region turned upright and scaled so that a ball has the radius that was asked for.

    picture (H, W); ignored (H, W): printed sheets.
    """

    picture: Float32
    ignored: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """How the region is turned upright and scaled; the picture itself is made where it is looked at.

    shrunk (h, w): the crop, made smaller; shrunk_from_turned, px_from_turned (2, 3): affine maps from pixels of what is turned;
    size: its width and height; hull (K, 2) and keep_out: where a centre can be, and printed sheets, in its pixels.
    """

    shrunk: NDArray[np.uint8]
    shrunk_from_turned: Array
    px_from_turned: Array
    size: tuple[int, int]
    hull: NDArray[np.int32]
    keep_out: tuple[NDArray[np.int32], ...]

    def part(self, low: tuple[int, int] = (0, 0), high: tuple[int, int] | None = None) -> Coarse:
        """From column and row `low` to `high`, this excluded; all of it at first."""
        right, bottom = self.size if high is None else high
        size = right - low[0], bottom - low[1]
        turn, origin = self.shrunk_from_turned[:, :2], self.shrunk_from_turned[:, 2]
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        picture = cv2.warpAffine(
            self.shrunk,
            np.column_stack([turn, origin + turn @ low]),
            size,
            flags=flags,
            borderMode=cv2.BORDER_REPLICATE,
        )
        ignored = np.zeros(size[::-1], dtype=np.uint8)
        for polygon in self.keep_out:
            cv2.fillPoly(ignored, [polygon - np.array(low, dtype=np.int32)], 1)
        return Coarse(picture=picture.astype(np.float32), ignored=ignored > 0)

    def allowed(self) -> NDArray[np.bool_]:
        """(H, W) where a centre can be, printed sheets or not."""
        allowed = np.zeros(self.size[::-1], dtype=np.uint8)
        cv2.fillConvexPoly(allowed, self.hull, 1)
        return allowed > 0


def turned(view: SearchedPicture, region: Region, ball_px: float) -> Turned | None:
    """The region with balls of the radius ball_px; None where the ball would be too small to be measured."""
    x0, y0, x1, y1 = region.crop
    corners = radius_map(view, np.array([x0, x1, x0, x1], dtype=float), np.array([y0, y0, y1, y1], dtype=float))
    if not np.isfinite(corners).all() or corners.max() < MIN_RADIUS_PX:
        return None
    scale = float(np.sqrt(corners.min() * corners.max())) / ball_px
    block = 2 ** max(int(np.log2(scale)), 0)  # whole blocks are quick to shrink
    x1, y1 = x0 + (x1 - x0) // block * block, y0 + (y1 - y0) // block * block
    crop = view.grey[y0:y1, x0:x1]
    step = np.array([max(scale, 1.0)] * 2)
    if scale > 1.0:
        size = max(1, round((x1 - x0) / scale)), max(1, round((y1 - y0) / scale))
        step = np.array([(x1 - x0) / size[0], (y1 - y0) / size[1]])
        crop = shrunk(crop, size)
    # photograph from shrunk, then shrunk from turned: about the middle, down is down
    shrink = np.array([[step[0], 0.0, 0.5 * step[0] - 0.5 + x0], [0.0, step[1], 0.5 * step[1] - 0.5 + y0]])
    rows, columns = crop.shape
    turn = _downward(view, 0.5 * np.array([x0 + x1, y0 + y1], dtype=float)) - 0.5 * np.pi
    grow = min(scale, 1.0)
    spin = grow * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    wide, tall = round(columns / grow), round(rows / grow)
    middle, here = 0.5 * np.array([columns - 1, rows - 1]), 0.5 * np.array([wide - 1, tall - 1])
    inner = np.column_stack([spin, middle - spin @ here])
    px_from_turned = np.column_stack([shrink[:, :2] @ inner[:, :2], shrink[:, :2] @ inner[:, 2] + shrink[:, 2]])
    turned_from_px, origin = np.linalg.inv(px_from_turned[:, :2]), px_from_turned[:, 2]
    hull, *keep_out = (
        np.rint((polygon - origin) @ turned_from_px.T).astype(np.int32)
        for polygon in (region.hull_px, *view.keep_out_px)
    )
    return Turned(
        shrunk=crop,
        shrunk_from_turned=inner,
        px_from_turned=px_from_turned,
        size=(wide, tall),
        hull=hull,
        keep_out=tuple(keep_out),
    )


def _downward(view: SearchedPicture, at_px: Array) -> float:
    """Picture direction (radians, from x right towards y down) in which a weight would fall at a pixel (2,)."""
    fx, fy, cx, cy = view.intrinsics[:4]
    ray = np.array([(at_px[0] - cx) / fx, (at_px[1] - cy) / fy, 1.0])
    down = -view.cam_from_world[:, 2]
    fall = down[:2] - ray[:2] * down[2]  # how the picture point moves when the world point sinks
    return float(np.arctan2(fall[1], fall[0]))
