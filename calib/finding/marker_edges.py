"""A marker's corners where its four outer edges cross, each edge fitted as a blurred step over all its pixels.

    I(u, v) = low + step Phi((v - o - s u - c u^2) / w)

with u along the edge, v outwards, offset o, slope s, bend c (by the lens; long edges only), blur w. A corner finder looks
at the corner itself, which blur rounds off and the nearest bits pull; the middle of an edge feels neither. On the room's
photographs the scatter of one corner falls from 0.20 to 0.07 px (tests/experiments/calibration_figures.md).

What stays is the tone curve: a step that is Gaussian in light crosses the middle of its grey step elsewhere. Under the
sRGB curve (IEC 61966-2-1) that is at 21 % of the light, Phi^-1 (0.21) = -0.79 blurs: black shrinks by 0.79 w. Cameras do
anything from none to more than that, so u = 0.79 w / sqrt(12) is added, and a survey solves for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

CELLS = 6.0  # a marker of 4 x 4 bits is the coarsest: border and bits make six cells, whose side bounds the window
INWARDS_CELLS, OUTWARDS_CELLS, FARTHEST_PX = 0.75, 0.9, 4.0  # how far from the edge pixels are used
ENDS = 0.14  # of the edge at each end: rounded by blur, left out
BENDS_FROM_PX = 60.0  # shorter edges show no bend, and would only lose by one more unknown
LEAST_BLUR_PX, MOST_BLUR_CELLS = 0.3, 0.6
LEAST_STEP = 20.0  # grey levels
MOST_MISFIT = 0.2  # rms left over as a share of the step
FARTHEST_MOVE_PX, FARTHEST_MOVE_CELLS = 2.5, 0.4  # OpenCV's outline lies within the border, 0.7 px at a corner and more
WORST_SIGMA_PX = 0.5
TONE_SHARE = 0.79 / math.sqrt(12.0)
LEAST_PIXELS, ITERATIONS = 12, 10
_ROOT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corners:
    """corners_px (4, 2) in the order given; sigma_px (4,) standard uncertainty of each coordinate, tone included."""

    corners_px: Array
    sigma_px: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edge:
    """v = o + s u + c u^2 about `middle`, `along` and `out`; covariance (3, 3) of o, s, c in px; blur_px."""

    middle: Array
    along: Array
    out: Array
    line: Array  # (3,)
    covariance: Array
    blur_px: float


def edge_corners(grey: Grey, quad_px: Array) -> Corners | None:
    """Corners of the black marker whose outline is about quad_px (4, 2); None where an edge is no clean step."""
    sides = np.linalg.norm(quad_px - np.roll(quad_px, -1, axis=0), axis=1)
    x, y = quad_px.T
    clockwise = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) > 0  # with y down
    edges = []
    for k in range(4):
        ends = quad_px[[k, (k + 1) % 4]]
        cell = float(sides[k - 1] + sides[(k + 1) % 4]) / 2 / CELLS
        edge = _fit_edge(grey, ends if clockwise else ends[::-1], cell)
        if edge is None:
            return None
        edges.append(edge)
    crossings = [_crossing(edges[k - 1], edges[k], quad_px[k]) for k in range(4)]
    corners = np.array([corner for corner, _ in crossings])
    sigmas = np.array([sigma for _, sigma in crossings])
    limit = min(FARTHEST_MOVE_PX, FARTHEST_MOVE_CELLS * float(sides.min()) / CELLS + 1.0)
    moved = np.linalg.norm(corners - quad_px, axis=1)
    if not (np.isfinite(corners).all() and moved.max() < limit and sigmas.max() < WORST_SIGMA_PX):
        return None
    return Corners(corners_px=corners, sigma_px=sigmas)


def inward_shift(quad_px: Array) -> Array:
    """(4, 2) how each corner moves where all four edges of a convex outline (4, 2) move inwards by 1 px."""
    along = np.roll(quad_px, -1, axis=0) - quad_px
    across = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
    inwards = across * np.sign(np.sum(across * (quad_px.mean(axis=0) - quad_px), axis=1))[:, None]
    rows = np.stack([np.roll(inwards, 1, axis=0), inwards], axis=1)  # (4, 2, 2) the two edges that meet in a corner
    if np.abs(np.linalg.det(rows)).min() < 0.1:
        return np.zeros((4, 2))
    return np.asarray(np.linalg.solve(rows, np.ones((4, 2, 1)))[..., 0], dtype=np.float64)


def _pixels(grey: Grey, ends: Array, reach_px: float) -> tuple[Array, Array]:
    """Places (N, 2) and values (N,) of the pixels about an edge."""
    low = np.maximum(np.floor(ends.min(axis=0) - reach_px - 1).astype(int), 0)
    high = np.minimum(np.ceil(ends.max(axis=0) + reach_px + 1).astype(int) + 1, grey.shape[::-1])
    rows, columns = np.mgrid[low[1] : high[1], low[0] : high[0]]
    places = np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64)
    return places, grey[low[1] : high[1], low[0] : high[0]].ravel().astype(np.float64)


def _fit_edge(grey: Grey, ends: Array, cell_px: float) -> _Edge | None:
    """Gauss-Newton from the outline's edge; `ends` run clockwise, so that outwards is to the left of the way."""
    length = float(np.linalg.norm(ends[1] - ends[0]))
    along = (ends[1] - ends[0]) / max(length, 1e-9)
    out, middle = np.array([along[1], -along[0]]), ends.mean(axis=0)
    inwards, outwards = min(INWARDS_CELLS * cell_px, FARTHEST_PX), min(OUTWARDS_CELLS * cell_px, FARTHEST_PX)
    places, values = _pixels(grey, ends, max(inwards, outwards))
    u, v = (places - middle) @ along, (places - middle) @ out
    inner = np.abs(u) < length * (0.5 - ENDS)
    terms = 3 if length >= BENDS_FROM_PX else 2
    line, blur = np.zeros(3), 0.8
    powers = np.column_stack([np.ones_like(u), u, u * u])[:, :terms]
    for _ in range(ITERATIONS):
        off = v - powers @ line[:terms]
        use = inner & (off > -inwards) & (off < outwards)
        if use.sum() < LEAST_PIXELS:
            return None
        solved = _step(off[use], values[use], powers[use], blur)
        if solved is None:
            return None
        move, blur_move, covariance, step, rms = solved
        line[:terms] += move
        blur = float(np.clip(blur + blur_move, LEAST_BLUR_PX, max(MOST_BLUR_CELLS * cell_px, 1.0)))
        if float(np.abs(powers[use] @ move).max()) < 1e-3:
            break
    if step < LEAST_STEP or rms > MOST_MISFIT * step:
        return None
    full = np.zeros((3, 3))
    full[:terms, :terms] = covariance
    return _Edge(middle=middle, along=along, out=out, line=line, covariance=full, blur_px=blur)


def _step(off: Array, values: Array, powers: Array, blur: float) -> tuple[Array, float, Array, float, float] | None:
    """Moves of the line (p,) and the blur, the line's covariance (p, p), the grey step and the rms left over."""
    z = off / blur
    from scipy.special import ndtr  # slow to load, and only bays need it

    rise = ndtr(z)
    levels = np.linalg.lstsq(np.column_stack([np.ones_like(rise), rise]), values, rcond=None)[0]
    low, step = float(levels[0]), float(levels[1])
    if step <= 0:
        return None
    left = values - low - step * rise
    slope = -step * np.exp(-0.5 * z * z) / (_ROOT_2PI * blur)
    design = np.column_stack([slope[:, None] * powers, slope * z, np.ones_like(rise), rise])
    scale = np.maximum(np.linalg.norm(design, axis=0), 1e-9)
    normal = (design / scale).T @ (design / scale)
    normal[np.diag_indices_from(normal)] += 1e-9
    inverse = np.linalg.inv(normal) / np.outer(scale, scale)
    moves = inverse @ (design.T @ left)
    rms = float(np.sqrt(left @ left / max(len(left) - len(moves), 1)))
    count = powers.shape[1]
    longest = float(np.abs(powers @ moves[:count]).max())
    shrink = min(1.0, 0.7 / max(longest, 1e-9))  # a bold step would leave the window
    blur_move = float(np.clip(moves[count], -0.3, 0.3))
    return moves[:count] * shrink, blur_move, rms**2 * inverse[:count, :count], step, rms


def _crossing(one: _Edge, two: _Edge, near_px: Array) -> tuple[Array, float]:
    """Where two edges cross near `near_px`, and the root mean square of the coordinates' uncertainties."""
    corner = near_px
    for _ in range(4):  # the bend is small: a fixed-point iteration settles at once
        places = [(corner - edge.middle) @ edge.along for edge in (one, two)]
        rows = np.array([edge.out - edge.line[1] * edge.along for edge in (one, two)])
        ahead = [
            rows[k] @ edge.middle + edge.line[0] + edge.line[2] * places[k] ** 2 for k, edge in enumerate((one, two))
        ]
        if abs(np.linalg.det(rows)) < 0.1:  # edges that hardly cross: no corner
            return np.full(2, np.nan), math.inf
        corner = np.linalg.solve(rows, np.array(ahead))
    variances = []
    for place, edge in zip(places, (one, two), strict=True):
        by_line = np.array([1.0, place, place**2])
        variances.append(float(by_line @ edge.covariance @ by_line) + (TONE_SHARE * edge.blur_px) ** 2)
    inverse = np.linalg.inv(rows)
    spread = inverse @ np.diag(variances) @ inverse.T
    return corner, math.sqrt(float(np.trace(spread)) / 2)
