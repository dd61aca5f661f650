"""How much ink lies in rectangles of a found sheet, by one linear fit over the pixels around them.

    grey = paper (1 - T) - sum_i drop_i F_i,    paper = sum_k level_k B_k

Every printed rectangle is an area in page millimetres, blurred as the sheet's own edges were found to be: F of each
rectangle that is asked for, T of what is known to be black (cells, codes), F again of nuisances (outlines, words) whose ink
is fitted and not used. `paper` is a sheet of linear hats that may bend, but pays for it by the bend's size and not its
square: light that falls off costs little, a shadow's edge once. So a box of three pixels is read beside others at two
pixels' distance: blur does not mix what the fit takes apart. Ink is the drop over what black would be there: 0 blank, 1
black. The claimed sigma is that of the residuals, and a share of the depth of a shadow whose edge runs nearby.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.error_function import normal_below
from calib.finding.sheets import FoundSheet, apply_homography, cell_axes_px
from calib.kit.code_bits import CODE_MODULES
from calib.kit.sheet import Sheet

Array = NDArray[np.float64]
Rectangle = tuple[float, float, float, float]  # left, bottom, right, top, page mm

FINEST_PX_PER_MM = 1.1  # more pixels add time, not safety
NODE_MM = 6.5  # of the paper's level
_BEND_GREY = 1.5  # bends up to this are taken for light that falls off, larger ones for edges of shadows
_SMOOTH = 2.5  # weight of a small bend against one pixel
_RIDGE = 1e-3
AROUND_MM = 2.5  # how far around a rectangle a shadow's edge still disturbs it,
UNEVEN_SHARE = 0.2  # and how much of the edge's depth it may then read as ink (experiment)
_HUBER, _PASSES = 2.0, 4
_PIXEL_VARIANCE = 1.0 / 12.0
_REACH = 4.0  # of a rectangle's blurred edge, in blurs


@dataclass(frozen=True, slots=True, kw_only=True)
class InkRead:
    """ink, sigma: (N,), 0 blank to 1 black, NaN where the picture does not show the rectangle; paper: (N,) grey of the
    blank paper there; px_per_mm: of the picture that was read."""

    ink: Array
    sigma: Array
    paper: Array
    px_per_mm: float


def _unevenness(part: _Part, asked: Sequence[Rectangle], levels: Array) -> Array:
    """How far the paper's grey goes up and down around each rectangle: the depth of a shadow whose edge runs there."""
    around = []
    for left, bottom, right, top in asked:
        xs, ys = (
            np.linspace(left - AROUND_MM, right + AROUND_MM, 3),
            np.linspace(bottom - AROUND_MM, top + AROUND_MM, 3),
        )
        around.append(np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2))
    grey = _hats(np.concatenate(around), part.low_mm, part.high_mm)[0] @ levels
    spans: Array = np.ptp(grey.reshape(len(asked), -1), axis=1)
    return spans


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A part of the picture: values (R, C), page_mm (R, C, 2), blur_mm (2,), px_per_mm, and the window's homography."""

    values: Array
    page_mm: Array
    blur_mm: Array
    px_per_mm: float
    px_from_page: Array
    low_mm: Array
    high_mm: Array


def read_ink(
    grey: NDArray[np.uint8],
    found: FoundSheet,
    asked: Sequence[Rectangle],
    *,
    insides: Sequence[Rectangle] = (),
    words: Sequence[Rectangle] = (),
    margin_mm: float = 3.0,
) -> InkRead:
    """Ink of each rectangle of `asked`. insides: of their printed outlines, which share one unknown ink; words have one each."""
    part = _part(grey, found, asked, margin_mm)
    if part is None:
        nothing = np.full(len(asked), np.nan)
        return InkRead(ink=nothing, sigma=nothing, paper=nothing, px_per_mm=0.0)
    known = _areas(part, _near(dark_mm(found.sheet), asked, margin_mm + 12.0)).sum(axis=1)
    of_asked = _areas(part, np.array(asked))
    drops = [of_asked]
    if insides:
        outline = of_asked.sum(axis=1) - _areas(part, np.array(insides)).sum(axis=1)
        drops.append(outline[:, None])
    if words:
        drops.append(_areas(part, np.array(words)))
    page = part.page_mm.reshape(-1, 2)
    hats, bends = _hats(page, part.low_mm, part.high_mm)
    keep = np.flatnonzero((known < 0.35) & ((page >= part.low_mm) & (page <= part.high_mm)).all(axis=1))
    paper = (1.0 - known)[:, None] * hats
    design = np.hstack([paper, *(-columns for columns in drops)])[keep]
    count, asked_at = hats.shape[1], slice(hats.shape[1], hats.shape[1] + len(asked))
    fit = _fitted(design, part.values.ravel()[keep], bends, asked_at)
    middles = np.array([((left + right) / 2, (bottom + top) / 2) for left, bottom, right, top in asked])
    level = np.maximum(_hats(middles, part.low_mm, part.high_mm)[0] @ fit.solved[:count], 1.0)
    black = level * (1.0 - black_share(grey, found))
    look = of_asked[keep]
    uneven = _unevenness(part, asked, fit.solved[:count])
    seen = look.max(axis=0, initial=0.0) > 0.3
    return InkRead(
        ink=np.where(seen, fit.solved[asked_at] / black, np.nan),
        sigma=np.where(seen, np.hypot(fit.sigma, UNEVEN_SHARE * uneven) / black, np.nan),
        paper=level,
        px_per_mm=part.px_per_mm,
    )


def dark_mm(sheet: Sheet) -> Array:  # (M, 4)
    """Everything black of the board; a code counts as its black border, which is what lies nearest to anything else."""
    borders = []
    for code in sheet.codes:
        (x, y), half, module = code.centre_mm, code.size_mm / 2, code.size_mm / CODE_MODULES
        borders += [
            (x - half, y + half - module, x + half, y + half),
            (x - half, y - half, x + half, y - half + module),
            (x - half, y - half + module, x - half + module, y + half - module),
            (x + half - module, y - half + module, x + half, y + half - module),
        ]
    return np.concatenate([sheet.dark_mm, np.array(borders)])


def _near(rectangles: Array, asked: Sequence[Rectangle], margin_mm: float) -> Array:
    places = np.array(asked)
    low, high = places[:, :2].min(axis=0) - margin_mm, places[:, 2:].max(axis=0) + margin_mm
    touch = (rectangles[:, 2:] > low).all(axis=1) & (rectangles[:, :2] < high).all(axis=1)
    near: Array = rectangles[touch]
    return near


def _part(grey: NDArray[np.uint8], found: FoundSheet, asked: Sequence[Rectangle], margin_mm: float) -> _Part | None:
    """The pixels around the rectangles, coarse enough; None where the picture does not show them."""
    places = np.array(asked)
    low, high = places[:, :2].min(axis=0) - margin_mm, places[:, 2:].max(axis=0) + margin_mm
    corners = np.asarray([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]], dtype=np.float64)
    px = apply_homography(found.px_from_page, corners)
    height, width = grey.shape
    left, top = np.clip(np.floor(px.min(axis=0)).astype(int), 0, [width, height])
    right, bottom = np.clip(np.ceil(px.max(axis=0)).astype(int) + 1, 0, [width, height])
    step = np.linalg.norm(
        cell_axes_px(found.px_from_page, (low + high)[None] / 2, 1.0)[0], axis=0
    )  # px per mm, x and y
    block = max(1, int(step.min() / FINEST_PX_PER_MM))
    rows, columns = int((bottom - top) // block), int((right - left) // block)
    if rows < 4 or columns < 4:
        return None
    window = grey[top : top + rows * block, left : left + columns * block]
    small = cv2.resize(window, (columns, rows), interpolation=cv2.INTER_AREA) if block > 1 else window
    v, u = np.mgrid[:rows, :columns].reshape(2, -1).astype(np.float64)
    small_from_px = np.array(
        [[1 / block, 0, (0.5 - left) / block - 0.5], [0, 1 / block, (0.5 - top) / block - 0.5], [0, 0, 1]]
    )
    small_from_page = small_from_px @ found.px_from_page
    page_mm = apply_homography(np.asarray(np.linalg.inv(small_from_page), dtype=np.float64), np.column_stack([u, v]))
    blur_px = float(np.sqrt(found.blur_px**2 + _PIXEL_VARIANCE * (block**2 - 1)))
    return _Part(
        values=np.asarray(small, dtype=np.float64),
        page_mm=page_mm.reshape(rows, columns, 2),
        blur_mm=np.maximum(blur_px / step, 0.05),
        px_per_mm=float(step.min() / block),
        px_from_page=small_from_page,
        low_mm=low,
        high_mm=high,
    )


def _areas(part: _Part, rectangles: Array) -> Array:  # (pixels, N)
    """How much of each pixel's blurred look falls into each rectangle; nothing further than a few blurs from it."""
    rows, columns = part.values.shape
    areas = np.zeros((rows, columns, len(rectangles)))
    for number, (left, bottom, right, top) in enumerate(rectangles):
        reach = _REACH * part.blur_mm
        corners = [(x, y) for x in (left - reach[0], right + reach[0]) for y in (bottom - reach[1], top + reach[1])]
        px = apply_homography(part.px_from_page, np.array(corners))
        u0, v0 = np.clip(np.floor(px.min(axis=0)).astype(int), 0, [columns, rows])
        u1, v1 = np.clip(np.ceil(px.max(axis=0)).astype(int) + 1, 0, [columns, rows])
        if u0 >= u1 or v0 >= v1:
            continue
        x, y = np.moveaxis(part.page_mm[v0:v1, u0:u1], 2, 0)
        sx, sy = part.blur_mm
        share = (normal_below((right - x) / sx) - normal_below((left - x) / sx)) * (
            normal_below((top - y) / sy) - normal_below((bottom - y) / sy)
        )
        areas[v0:v1, u0:u1, number] = np.where(share > 1e-4, share, 0.0)
    return areas.reshape(rows * columns, len(rectangles))


def _hats(page_mm: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Bilinear hats (P, K) on a grid over the part, and its second differences (S, K)."""
    counts = np.maximum(3, np.ceil((high - low) / NODE_MM).astype(int) + 1)
    place = np.clip((page_mm - low) / (high - low), 0, 1) * (counts - 1)
    base = np.minimum(place.astype(int), counts - 2)
    share = place - base
    number = np.arange(len(page_mm))
    hats = np.zeros((len(page_mm), int(counts[0] * counts[1])))
    for right in (0, 1):
        for up in (0, 1):
            across = share[:, 0] if right else 1 - share[:, 0]
            along = share[:, 1] if up else 1 - share[:, 1]
            hats[number, (base[:, 0] + right) * counts[1] + base[:, 1] + up] = across * along
    bend_x, bend_y = (np.diff(np.eye(count), 2, axis=0) for count in counts)
    smooth = np.vstack([np.kron(bend_x, np.eye(counts[1])), np.kron(np.eye(counts[0]), bend_y)])
    return hats, smooth


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """solved: all parameters; sigma: of those asked for; residual: of each pixel, and their robust spread."""

    solved: Array
    sigma: Array
    residual: Array
    spread: float


def _fitted(design: Array, values: Array, bends: Array, asked: slice) -> _Fit:
    """Least squares, pixels and bends weighed by how far they are off: Huber's weights for both."""
    columns = design.shape[1]
    smooth = np.hstack([bends, np.zeros((len(bends), columns - bends.shape[1]))])
    weights, stiff = np.ones(len(values)), np.full(len(bends), _SMOOTH**2)
    normal, solved, residual, spread = np.eye(columns), np.zeros(columns), values, 1.0
    for _ in range(_PASSES):
        normal = (design * weights[:, None]).T @ design + (smooth * stiff[:, None]).T @ smooth
        normal[range(columns), range(columns)] += _RIDGE
        solved = np.linalg.solve(normal, design.T @ (weights * values))
        residual = values - design @ solved
        spread = max(1.4826 * float(np.median(np.abs(residual))), 0.3)
        weights = np.minimum(1.0, _HUBER * spread / np.maximum(np.abs(residual), 1e-9))
        stiff = _SMOOTH**2 * np.minimum(1.0, _BEND_GREY / np.maximum(np.abs(smooth @ solved), 1e-9))
    variance = np.diag(np.linalg.inv(normal))[asked]
    return _Fit(solved=solved, sigma=spread * np.sqrt(variance), residual=residual, spread=spread)


def black_share(grey: NDArray[np.uint8], found: FoundSheet) -> float:
    """Grey of the sheet's black over that of its white, by the four cells around each measured saddle."""
    sheet = found.sheet
    half = sheet.cell_mm / 2
    below = np.where(sheet.polarity[found.index] == 1, 1.0, -1.0)[
        :, None
    ]  # a dark cell at the lower right, else the left
    middles = sheet.points_mm[found.index]
    greys = []
    for side in (below, -below):
        places = middles + np.concatenate([side * half, np.full_like(side, -half)], axis=1)
        px = np.rint(apply_homography(found.px_from_page, places)).astype(int)
        px = np.clip(px, 0, [grey.shape[1] - 1, grey.shape[0] - 1])
        greys.append(grey[px[:, 1], px[:, 0]].astype(np.float64))
    return float(np.clip(np.median(greys[0] / np.maximum(greys[1], 1.0)), 0.0, 0.9))
