"""What is drawn over a photograph, as pixels of that photograph: numbers only, nothing is drawn here.

World and pixel conventions as in `photomeasure.scene.scene` and `calib.camera.camera`. Points that the lens cannot see (behind it,
or so far outside the field that the distortion polynomial means nothing there) are left out: a line may be shorter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import project
from photomeasure.scene.solved_camera import SolvedCamera

Array = NDArray[np.float64]

BAND_HALF_WIDTH_MM = 250.0
OPEN_BAND_MM = 160.0  # how far beyond its one end, and beyond the centre, a band without a second end is drawn
GROUND_REACH_MM = 620.0
RING_RADIUS_MM = 36.0  # clear of a 50 mm ball
FOOT_TICK_MM = 45.0
NEAREST_MM = 50.0
FIELD_MARGIN = 1.5  # how far outside the frame, in half diagonals, a point still projects sensibly
_STEPS = 61


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye(SolvedCamera):
    """One solved photograph: where the world is seen in a picture of size_px."""

    size_px: tuple[int, int]

    def see(self, world_mm: Array) -> Array:
        """(N, 3) world points to (N, 2) pixels; nan where the lens cannot see."""
        in_camera = self.in_camera_mm(np.atleast_2d(world_mm))
        fx, fy, cx, cy = self.intrinsics[:4]
        width, height = self.size_px
        field = FIELD_MARGIN * np.hypot(max(cx, width - cx) / fx, max(cy, height - cy) / fy)
        depth = in_camera[:, 2]
        with np.errstate(divide="ignore", invalid="ignore"):
            off_axis = np.hypot(in_camera[:, 0], in_camera[:, 1]) / depth
        seen = (depth > NEAREST_MM) & (off_axis < field)
        px = np.full((len(in_camera), 2), np.nan)
        if seen.any():
            px[seen] = project(self.intrinsics, in_camera[seen])[0]
        return px

    def line(self, start_mm: Array, end_mm: Array) -> Array:
        """(N, 2) the picture of a straight line, bent as the lens bends it; empty where nothing of it is seen."""
        along = np.linspace(0.0, 1.0, _STEPS)[:, None]
        px = self.see(start_mm + along * (end_mm - start_mm))
        return px[np.isfinite(px).all(axis=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heights:
    """What is to be shown: centre_mm (3,) in the world; base_z_mm: the ground's z from which the height counts.

    band_mm: (low, high), heights, an end None where the band is open; None: no band. foot_y_mm: the foot line's y, None
    where there is no upright sheet at the world's origin.
    """

    centre_mm: Array
    base_z_mm: float
    interval_mm: tuple[float, float]
    band_mm: tuple[float | None, float | None] | None
    foot_y_mm: float | None = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDraw:
    """Everything to draw, in pixels of the full photograph; lines are (N, 2) and may be empty.

    ring_px: radius of a ring that clears the ball. levels_px: the centre's level to the left and right of the ring.
    interval_px: the interval's two strips (N, 2), left and right of the ring. band_px: the strip's outline.
    band_ends_px: (low line, high line), each from left to right; empty where the band is open.
    """

    centre_px: Array | None
    ring_px: float
    height_px: Array
    foot_tick_px: Array
    ground_px: Array
    levels_px: tuple[Array, ...]
    interval_px: tuple[Array, ...]
    band_px: Array
    band_ends_px: tuple[Array, Array]

    def interest_px(self) -> Array:
        """(N, 2) what a crop has to keep."""
        parts = [self.height_px, self.foot_tick_px, self.band_px]
        if self.centre_px is not None:
            reach = np.array([[-1.0, -1.0], [1.0, 1.0]]) * self.ring_px
            parts.append(self.centre_px + reach)
        return np.concatenate([part.reshape(-1, 2) for part in parts])


def across(eye: Eye, centre_mm: Array) -> Array:
    """(3,) the horizontal world axis along which strips are drawn: x, or y where the lens looks along x."""
    view = (centre_mm - eye.lens_mm)[:2]
    along_x = abs(view[0]) > 1.8 * abs(view[1])
    return np.array([0.0, 1.0, 0.0]) if along_x else np.array([1.0, 0.0, 0.0])


def band_z_mm(heights: Heights) -> tuple[float, float] | None:
    """World z of the strip's lower and upper edge; an open end is drawn a hand beyond what has to be seen."""
    if heights.band_mm is None:
        return None
    low, high = heights.band_mm
    height = float(heights.centre_mm[2]) - heights.base_z_mm
    if low is None and high is None:
        return None
    bottom = low if low is not None else max(0.0, min(high or height, height) - OPEN_BAND_MM)
    top = high if high is not None else max(bottom, height) + OPEN_BAND_MM
    return heights.base_z_mm + bottom, heights.base_z_mm + top


def marks(eye: Eye, heights: Heights) -> ToDraw:
    """Project everything that is drawn of one measurement into one photograph."""
    centre, way = heights.centre_mm, across(eye, heights.centre_mm)
    foot = np.array([centre[0], centre[1], heights.base_z_mm])
    px = eye.see(centre[None])[0]
    seen = bool(np.isfinite(px).all())
    return ToDraw(
        centre_px=px if seen else None,
        ring_px=_ring_px(eye, centre) if seen else 0.0,
        height_px=eye.line(foot, centre),
        foot_tick_px=eye.line(foot - FOOT_TICK_MM * way, foot + FOOT_TICK_MM * way),
        ground_px=_ground(eye, heights, way),
        levels_px=tuple(eye.line(*side) for side in _sides(centre, way)),
        interval_px=_interval(eye, heights, way),
        band_px=_strip(eye, heights, way),
        band_ends_px=_band_ends(eye, heights, way),
    )


def _ring_px(eye: Eye, centre_mm: Array) -> float:
    depth = float(eye.in_camera_mm(centre_mm)[2])
    return float(eye.intrinsics[0]) * RING_RADIUS_MM / depth


def _ground(eye: Eye, heights: Heights, way: Array) -> Array:
    """Along the foot line where there is one, else through the ground under the centre."""
    centre = heights.centre_mm
    if heights.foot_y_mm is None:
        under = np.array([centre[0], centre[1], heights.base_z_mm])
        return eye.line(under - GROUND_REACH_MM * way, under + GROUND_REACH_MM * way)
    left, right = min(-GROUND_REACH_MM, centre[0] - GROUND_REACH_MM), max(GROUND_REACH_MM, centre[0] + GROUND_REACH_MM)
    return eye.line(np.array([left, heights.foot_y_mm, 0.0]), np.array([right, heights.foot_y_mm, 0.0]))


def _sides(centre_mm: Array, way: Array) -> tuple[tuple[Array, Array], ...]:
    """From the ring outwards, to the left and to the right, at the centre's level."""
    return tuple(
        (centre_mm + sign * RING_RADIUS_MM * way, centre_mm + sign * BAND_HALF_WIDTH_MM * way) for sign in (-1.0, 1.0)
    )


def _between(eye: Eye, from_mm: Array, to_mm: Array, low_z_mm: float, high_z_mm: float) -> Array:
    """Outline of an upright strip between two world points, from one z to another."""
    low_from, low_to = (np.array([point[0], point[1], low_z_mm]) for point in (from_mm, to_mm))
    high_from, high_to = (np.array([point[0], point[1], high_z_mm]) for point in (from_mm, to_mm))
    low, high = eye.line(low_from, low_to), eye.line(high_from, high_to)
    if len(low) < 2 or len(high) < 2:
        return np.empty((0, 2))
    return np.concatenate([low, high[::-1]])


def _interval(eye: Eye, heights: Heights, way: Array) -> tuple[Array, ...]:
    low, high = (heights.base_z_mm + value for value in heights.interval_mm)
    return tuple(_between(eye, start, end, low, high) for start, end in _sides(heights.centre_mm, way))


def _strip(eye: Eye, heights: Heights, way: Array) -> Array:
    ends = band_z_mm(heights)
    if ends is None:
        return np.empty((0, 2))
    reach = BAND_HALF_WIDTH_MM * way
    return _between(eye, heights.centre_mm - reach, heights.centre_mm + reach, *ends)


def _band_ends(eye: Eye, heights: Heights, way: Array) -> tuple[Array, Array]:
    """The strip's lower and upper edge, from the picture's left to its right; empty where the band is open."""
    lines = []
    for value in heights.band_mm or (None, None):
        if value is None:
            lines.append(np.empty((0, 2)))
            continue
        middle = np.array([heights.centre_mm[0], heights.centre_mm[1], heights.base_z_mm + value])
        line = eye.line(middle - BAND_HALF_WIDTH_MM * way, middle + BAND_HALF_WIDTH_MM * way)
        lines.append(line[::-1] if len(line) > 1 and line[0, 0] > line[-1, 0] else line)
    return lines[0], lines[1]
