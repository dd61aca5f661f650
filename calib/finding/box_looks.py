"""How each box of a found sheet looks: a small straightened picture of it and its surroundings, beside how it looks blank.

The picture is sampled on a grid that belongs to the page, three ways for every box: the ink that the photograph shows, from
the paper's level there to the sheet's own black; what a blank sheet prints there (outlines, words, board), blurred as the
sheet's own edges are; and the middle of what the picture shows of all boxes of that kind, nearly all of which are empty: how
this printer, this lens and this program draw an empty box.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.ink import black_share, dark_mm
from calib.finding.sheets import FoundSheet, apply_homography, cell_axes_px
from calib.kit.answers import Box
from calib.kit.boxes_outline import outlines_mm
from calib.kit.labels import labels_mm
from calib.kit.sheet import Paper, Sheet

Single = NDArray[np.float32]

GRID = 24  # samples across a look
SPAN_SIDES = 18.0 / 7.0  # what it shows across, in sides of a box
FINEST_PX_PER_MM = 1.3  # a finer picture is shrunk first: strokes of a pen are wider than that
RASTER_PX_PER_MM = 4.0
WORD_INK = 0.25  # of the rectangle around words
PAPER_QUANTILE = 0.7  # of the samples of a look: most of them show bare paper
PRINTED = 0.15  # ink of the blank sheet above which a sample shows print and no paper


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLooks:
    """looks: (N, 3, GRID, GRID) ink as seen, as printed, as seen of its kind, 0 paper to 1 black, row 0 at the top;
    seen: (N,) whether the picture shows the whole box; paper: (N,) grey of the paper there."""

    looks: Single
    seen: NDArray[np.bool_]
    paper: Single

    def excess(self) -> NDArray[np.float64]:  # (N,)
        """Ink inside each box beyond what its kind shows there."""
        inside = slice(GRID // 3, GRID - GRID // 3)
        over = self.looks[:, 0, inside, inside] - self.looks[:, 2, inside, inside]
        return np.asarray(over.mean(axis=(1, 2)), dtype=np.float64)


def box_looks(grey: NDArray[np.uint8], found: FoundSheet) -> BoxLooks:
    """Every box of the sheet, in its order. grey: (h, w)."""
    boxes = found.sheet.boxes
    places = np.array([_grid_mm(box) for box in boxes])  # (N, GRID, GRID, 2)
    small, factor = _coarse(grey, found)
    px = (apply_homography(found.px_from_page, places.reshape(-1, 2)) + 0.5) / factor - 0.5
    where = px.astype(np.float32).reshape(len(boxes) * GRID, GRID, 2)
    shown = sampled(small, where).reshape(len(boxes), GRID, GRID).astype(np.float32)
    printed = _printed(found, places, factor)
    bare = np.where(printed < PRINTED, shown, np.nan).reshape(len(boxes), -1)
    paper = np.nan_to_num(np.nanquantile(bare, PAPER_QUANTILE, axis=1), nan=255.0).astype(np.float32)
    step = np.maximum(paper * (1.0 - black_share(grey, found)), 1.0)
    ink = ((paper[:, None, None] - shown) / step[:, None, None]).astype(np.float32)
    usual = np.empty_like(ink)
    for members in _kinds(boxes):
        usual[members] = np.median(ink[members], axis=0)
    return BoxLooks(
        looks=np.stack([np.clip(ink, -1.0, 1.5), printed, np.clip(usual, -1.0, 1.5)], axis=1),
        seen=_inside(found, boxes, grey.shape),
        paper=paper,
    )


def sampled(picture: NDArray[Any], px: Single) -> NDArray[Any]:
    """The picture at pixels (R, C, 2), between its own by straight lines."""
    x, y = np.ascontiguousarray(px[..., 0]), np.ascontiguousarray(px[..., 1])
    return np.asarray(cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def _grid_mm(box: Box) -> NDArray[np.float64]:
    """Where a look is sampled, page mm, (GRID, GRID, 2); row 0 at the top."""
    steps = ((np.arange(GRID) + 0.5) / GRID - 0.5) * SPAN_SIDES
    x = box.centre_mm[0] + steps * box.width_mm
    y = box.centre_mm[1] - steps * box.height_mm
    return np.stack(np.meshgrid(x, y), axis=-1)


def _coarse(grey: NDArray[np.uint8], found: FoundSheet) -> tuple[NDArray[np.uint8], float]:
    """The picture no finer than needed, and the factor back to full size."""
    fine = found.cell_px / found.sheet.cell_mm / FINEST_PX_PER_MM
    if fine <= 1.05:
        return grey, 1.0
    height, width = grey.shape
    size = max(1, round(width / fine)), max(1, round(height / fine))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8), width / size[0]


def _printed(found: FoundSheet, places: NDArray[np.float64], factor: float) -> Single:
    """What the blank sheet prints at these places, blurred as the picture is."""
    sheet = found.sheet
    middle = np.mean([box.centre_mm for box in sheet.boxes], axis=0, keepdims=True)
    px_per_mm = np.linalg.norm(cell_axes_px(found.px_from_page, middle, 1.0)[0], axis=0)  # along x and y
    blur_px = np.hypot(found.blur_px, 0.29 * np.sqrt(max(factor**2 - 1.0, 0.0)))  # 0.29: a pixel's own width
    sx, sy = np.clip(blur_px / px_per_mm * RASTER_PX_PER_MM, 0.3, 60.0)
    raster = cv2.GaussianBlur(_raster(sheet.paper, sheet.edition), (0, 0), float(sx), sigmaY=float(sy))
    u = places[..., 0] * RASTER_PX_PER_MM - 0.5
    v = (sheet.height_mm - places[..., 1]) * RASTER_PX_PER_MM - 0.5
    where = np.stack([u, v], axis=-1).astype(np.float32).reshape(-1, GRID, 2)
    return np.asarray(sampled(raster, where).reshape(places.shape[:3]), dtype=np.float32)


@cache
def _raster(paper: Paper, edition: int) -> Single:
    """The blank upright sheet's ink, from its own rectangles."""
    from calib.kit.kit import kit

    sheet: Sheet = kit(paper, edition).upright
    raster = np.zeros(
        (round(sheet.height_mm * RASTER_PX_PER_MM), round(sheet.width_mm * RASTER_PX_PER_MM)), dtype=np.float32
    )
    outlines = [side for box in sheet.boxes for side in outlines_mm(box)]
    for sides, ink in ((dark_mm(sheet), 1.0), (np.array(outlines), 1.0), (np.array(labels_mm(sheet)), WORD_INK)):
        for left, bottom, right, top in sides:
            x0, x1 = left * RASTER_PX_PER_MM, right * RASTER_PX_PER_MM
            y0, y1 = (sheet.height_mm - top) * RASTER_PX_PER_MM, (sheet.height_mm - bottom) * RASTER_PX_PER_MM
            across, down = _cover(x0, x1, raster.shape[1]), _cover(y0, y1, raster.shape[0])
            rows, columns = np.flatnonzero(down), np.flatnonzero(across)
            window = np.ix_(rows, columns)
            raster[window] = np.maximum(raster[window], ink * np.outer(down[rows], across[columns]))
    return raster


def _cover(start: float, stop: float, count: int) -> NDArray[np.float64]:
    """How much of each of `count` samples lies between start and stop."""
    edges = np.arange(count)
    return np.asarray(np.clip(np.minimum(edges + 1.0, stop) - np.maximum(edges, start), 0.0, 1.0), dtype=np.float64)


def _kinds(boxes: tuple[Box, ...]) -> list[list[int]]:
    """Boxes with the same surroundings: rows and columns of the bars, and those of the other questions."""
    kinds: dict[str, list[int]] = {}
    for place, box in enumerate(boxes):
        of_bar = box.question in ("bar-x", "bar-y")
        kinds.setdefault(f"{box.question} {box.value[-2:]}" if of_bar else "choice", []).append(place)
    return list(kinds.values())


def _inside(found: FoundSheet, boxes: tuple[Box, ...], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    sides = np.array([box.sides_mm() for box in boxes])
    corners = sides[:, [0, 1, 2, 1, 2, 3, 0, 3]].reshape(-1, 2)
    px = apply_homography(found.px_from_page, corners).reshape(len(boxes), 4, 2)
    low, high = px.min(axis=1), px.max(axis=1)
    inside: NDArray[np.bool_] = (low > 0).all(axis=1) & (high < np.array([shape[1], shape[0]]) - 1).all(axis=1)
    return inside
