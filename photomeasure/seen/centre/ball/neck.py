"""What joins the ball from below: the two sides of a neck, which hub caps, lamps and holes do not have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photomeasure.seen.centre.ball.fit import Outline, median
from photomeasure.seen.centre.ball.profiles import Sight, outside_all, read
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array, ray_px

HALF_WIDTHS = (0.42, 0.7)  # of a neck, in ball radii: 21 to 35 mm for a 50 mm ball (common practice, no source)
ASYMMETRY = 0.3
DEPTHS = (1.04, 1.45)  # below the centre, in ball radii, where the sides are looked for
FOOT_DEPTHS = (1.25, 2.7)
CLEAR_PX = 1.2  # of the ball's own blurred rim
ROWS_SHARE = 0.3  # of the rows may lack it
BESIDE = 0.25  # an edge this near a side belongs to it
_COLUMN = 1 / 16  # of a radius
_EDGE_FLOOR = 1.5  # grey levels per pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """What shows below a ball, 0..1 each.

    left, right: share of the rows below the ball in which a side of a neck shows, at the best symmetrical pair;
    half_width: of that pair, in radii; above: the same share for the best pair above the ball, where nothing should be;
    between: the same for the strongest upright edge between the two sides; foot: how clearly a level edge (flange,
    tongue) ends the neck on both of its sides.
    """

    left: float
    right: float
    half_width: float
    above: float
    between: float
    foot: float


def find_neck(view: SearchedPicture, outline: Outline) -> Neck:
    """Look for a neck under a ball."""
    usual = _outline_slope(view, outline)
    left, right, width, between = _best_pair(_sides(view, outline.sight, -1.0, usual))
    up_left, up_right, _, _ = _best_pair(_sides(view, outline.sight, 1.0, usual))
    return Neck(
        left=left,
        right=right,
        half_width=width,
        above=min(up_left, up_right),
        between=between,
        foot=_foot(view, outline.sight, usual, width),
    )


def _outline_slope(view: SearchedPicture, outline: Outline) -> float:
    """Grey levels per pixel across the ball's own outline, the middle of the good profiles."""
    around = outline.around[outline.good]
    t = np.array([-1.0, 1.0]) + outline.shift_px
    values, _ = read(view.grey, outline.sight.places_px(view, around, t))
    return 0.5 * median(np.abs(values[:, 1] - values[:, 0]))


def _grid(view: SearchedPicture, sight: Sight, towards: float, depths: tuple[float, float]) -> tuple[Array, Array]:
    """Values (rows, columns) of the picture under (towards = -1) or over the ball, and the columns' places in radii.

    nan on printed sheets and outside the picture.
    """
    radius_mm = view.radius_mm
    columns = np.arange(-1.3, 1.3 + 0.5 * _COLUMN, _COLUMN)
    first = max(depths[0], 1.0 + CLEAR_PX / sight.radius_px)
    count = max(4, min(24, round((depths[1] - first) * sight.radius_px)))
    rows = np.linspace(first, depths[1], count)
    centre = sight.line.forward * sight.distance_mm
    vertical = towards * view.cam_from_world[:, 2]
    places = centre + radius_mm * (columns[None, :, None] * sight.line.right + rows[:, None, None] * vertical)
    px = ray_px(view.intrinsics, places)
    values, inside = read(view.grey, px)
    return np.where(inside & outside_all(view.keep_out_px, px), values, np.nan), columns


def _sides(view: SearchedPicture, sight: Sight, towards: float, usual: float) -> tuple[Array, Array]:
    """Signed strength (rows, columns), -1..1, of upright edges, and the columns' places."""
    values, columns = _grid(view, sight, towards, DEPTHS)
    half = max(1, round(0.75 / (_COLUMN * sight.radius_px)))  # difference over about 1.5 px
    values[1:-1] = 0.25 * values[:-2] + 0.5 * values[1:-1] + 0.25 * values[2:]
    slope = np.zeros_like(values)
    slope[:, half:-half] = (values[:, 2 * half :] - values[:, : -2 * half]) / (2 * half * _COLUMN * sight.radius_px)
    slope = np.nan_to_num(slope, nan=0.0)  # what is printed on a sheet is no neck
    strongest = np.abs(slope).max(axis=1, keepdims=True)
    return slope / (np.abs(slope) + 0.1 * strongest + 0.3 * usual + _EDGE_FLOOR), columns


def _foot(view: SearchedPicture, sight: Sight, usual: float, half_width: float) -> float:
    """The clearest level edge that is there, at one depth, on both sides of a neck of this half width."""
    values, columns = _grid(view, sight, -1.0, FOOT_DEPTHS)
    step_px = (FOOT_DEPTHS[1] - FOOT_DEPTHS[0]) * sight.radius_px / (len(values) - 1)
    slope = np.nan_to_num((values[2:] - values[:-2]) / (2.0 * step_px), nan=0.0)  # (rows, columns)
    strength = slope / (np.abs(slope) + 0.3 * usual + _EDGE_FLOOR)
    sides = []
    for side in (-1.0, 1.0):
        beside = (side * columns > half_width + 0.12) & (side * columns < half_width + 0.45)
        one = strength[:, beside].mean(axis=1)
        strong = np.abs(one)
        sides.append(np.maximum(strong[:-1], strong[1:]))  # brightening or darkening, within two neighbouring rows
    return float(np.minimum(sides[0], sides[1]).max(initial=0.0))


def _best_pair(sides: tuple[Array, Array]) -> tuple[float, float, float, float]:
    strength, columns = sides
    near = max(1, round(0.06 / _COLUMN))
    # an upright edge may drift a little from row to row, but keeps its sign
    shifted = np.stack([np.roll(strength, k, axis=1) for k in range(-near, near + 1)])
    brighter, darker = np.maximum(shifted.max(axis=0), 0.0), np.maximum(-shifted.min(axis=0), 0.0)
    # in most rows, not in the mean: the foot of a disc's rim is strong in one or two
    there = np.maximum(_in_most_rows(brighter), _in_most_rows(darker))
    sided = [(x, share) for x, share in zip(columns.tolist(), there.tolist(), strict=True)]
    left = [(x, share) for x, share in sided if -HALF_WIDTHS[1] <= x <= -HALF_WIDTHS[0]]
    right = [(x, share) for x, share in sided if HALF_WIDTHS[0] <= x <= HALF_WIDTHS[1]]
    best = (0.0, 0.0, 0.0, 0.0)
    for x0, at_left in left:
        for x1, at_right in right:
            if abs(x0 + x1) <= ASYMMETRY and min(at_left, at_right) > min(best[:2]):
                inner = max((share for x, share in sided if x0 + BESIDE < x < x1 - BESIDE), default=0.0)
                best = (at_left, at_right, 0.5 * (x1 - x0), max(inner, 0.0))
    return best


def _in_most_rows(strength: Array) -> Array:
    """What all but ROWS_SHARE of the rows (rows, columns) have: (columns,). As numpy's quantile, in a tenth of its time."""
    ordered, at = np.sort(strength, axis=0), ROWS_SHARE * (len(strength) - 1)
    low = int(at)
    return np.asarray(ordered[low] + (at - low) * (ordered[low + 1] - ordered[low]))
