"""Where a card lies on the upright sheet's board: roughly, from dark cells that are not dark."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.box_looks import sampled
from calib.kit.code_areas import code_rectangles_mm
from calib.kit.sheet import Sheet
from photomeasure.seen.card.plane import Array, PrintPlane

ROUGH_PX_PER_MM = 1.5
CARD_IN_PRINT_MM = (86.6, 54.6)  # as a print sees it, from 100 % down to 97 %
TURNS_DEG = np.arange(-15.0, 15.1, 3.0)
CELL_EDGE_MM = 1.2  # nearer to a cell's edge nothing is judged
COVERED_SHARE = 0.75  # of the dark that a card covers has to be bright


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPlace:
    """centre_mm, page; turn_rad: of its long side against the page's x (long_is_x) or y."""

    centre_mm: Array
    turn_rad: float
    long_is_x: bool


def dark_raster(sheet: Sheet, px_per_mm: float) -> NDArray[np.float32]:
    """1 where the board is black, row 0 at the page's top."""
    raster = np.zeros((round(sheet.height_mm * px_per_mm), round(sheet.width_mm * px_per_mm)), dtype=np.float32)
    for left, bottom, right, top in np.concatenate([sheet.dark_mm, *map(code_rectangles_mm, sheet.codes)]):
        rows = slice(round((sheet.height_mm - top) * px_per_mm), round((sheet.height_mm - bottom) * px_per_mm))
        raster[rows, round(left * px_per_mm) : round(right * px_per_mm)] = 1.0
    return raster


def card_place(grey: NDArray[np.uint8], plane: PrintPlane, sheet: Sheet) -> CardPlace | None:
    """None where no card of the usual size, brighter than the print's black, lies square on the board."""
    size = ROUGH_PX_PER_MM
    dark = dark_raster(sheet, size)
    seen = from_above(grey, plane, sheet, size)
    edge = 2 * round(CELL_EDGE_MM * size) + 1
    inner = cv2.erode(dark, np.ones((edge, edge), dtype=np.uint8)) > 0.5
    inner &= np.isfinite(seen)
    if inner.sum() < 100:
        return None
    white, black = np.nanpercentile(seen[dark == 0.0], 80), np.nanpercentile(seen[inner], 10)
    if white - black < 25:
        return None
    bright = np.where(inner, np.clip(2.0 * (seen - black) / (0.6 * (white - black)) - 1.0, -1.0, 1.0), 0.0)
    signed, judged = bright.astype(np.float32), inner.astype(np.float32)
    best: tuple[float, CardPlace] | None = None
    for long_is_x in (True, False):
        for turn in np.deg2rad(TURNS_DEG):
            kernel = _kernel(float(turn), long_is_x, size)
            score = cv2.filter2D(signed, -1, kernel, borderType=cv2.BORDER_CONSTANT)
            row, column = np.unravel_index(int(np.argmax(score)), score.shape)
            if best is None or score[row, column] > best[0]:
                covered = float(cv2.filter2D(judged, -1, kernel, borderType=cv2.BORDER_CONSTANT)[row, column])
                if score[row, column] < (2 * COVERED_SHARE - 1) * covered or covered < 150 * size**2:
                    continue
                centre = np.array([(column + 0.5) / size, sheet.height_mm - (row + 0.5) / size])
                place = CardPlace(centre_mm=centre, turn_rad=float(turn), long_is_x=long_is_x)
                best = float(score[row, column]), place
    return None if best is None else best[1]


def from_above(grey: NDArray[np.uint8], plane: PrintPlane, sheet: Sheet, px_per_mm: float) -> Array:
    """The page straightened, (rows, columns); NaN where the picture does not show it."""
    rows, columns = round(sheet.height_mm * px_per_mm), round(sheet.width_mm * px_per_mm)
    v, u = np.mgrid[:rows, :columns].reshape(2, -1)
    page = np.column_stack([(u + 0.5) / px_per_mm, sheet.height_mm - (v + 0.5) / px_per_mm])
    where = plane.px(page)
    step = float(np.linalg.norm(where[columns // 2 + 1] - where[columns // 2]))
    fine = max(1.0, step)
    small = cv2.resize(grey, None, fx=1 / fine, fy=1 / fine, interpolation=cv2.INTER_AREA) if fine > 1 else grey
    at = ((where + 0.5) / fine - 0.5).astype(np.float32).reshape(rows, columns, 2)
    shown = sampled(small, at).astype(np.float64)
    height, width = small.shape
    outside = (at < 0).any(axis=2) | (at[..., 0] > width - 1) | (at[..., 1] > height - 1)
    shown[outside] = np.nan
    return np.asarray(shown, dtype=np.float64)


def _kernel(turn: float, long_is_x: bool, size: float) -> NDArray[np.float32]:
    """A card as a filter: 1 inside; turned counter-clockwise on the page, so clockwise in rows that run down."""
    wide, high = CARD_IN_PRINT_MM if long_is_x else CARD_IN_PRINT_MM[::-1]
    half = int(np.ceil(np.hypot(wide, high) / 2 * size))
    v, u = np.mgrid[-half : half + 1, -half : half + 1] / size
    x, y = u * np.cos(turn) - v * np.sin(turn), -u * np.sin(turn) - v * np.cos(turn)
    return np.asarray((np.abs(x) <= wide / 2) & (np.abs(y) <= high / 2), dtype=np.float32)
