"""A page as it comes out of a printer: the print shrinks or grows, the paper it is on does not, and somebody cuts it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bitmap = NDArray[np.float32]
PAPER, INK = 0.80, 0.045  # reflectance


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """One printed piece: its reflectance (H, W, 1), row 0 at the top, and its true size."""

    ink: Bitmap
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A whole page as it was drawn: share of paper white (H, W), row 0 at the top, its size, and where it is cut."""

    white: Bitmap
    width_mm: float
    height_mm: float
    cut_mm: float  # from the page's lower edge to the line that it is cut along


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet of paper as it came out of the printer: its own size, and where and how large the page is on it.

    scale: of the print along x and y; off_mm: of the page's middle from the paper's; the paper's size no printer changes.
    """

    width_mm: float = 210.0
    height_mm: float = 297.0
    scale: tuple[float, float] = (1.0, 1.0)
    off_mm: tuple[float, float] = (0.0, 0.0)


def on_paper(page: Page, sheet: Sheet, *, below_mm: float = 0.0) -> Print:
    """The page on that paper, cut: the margins grow where the print shrinks, for the paper keeps its size.

    below_mm: how much paper was left below the line that it is cut along (less than 0: cut into the print); to a pixel of the
    page's raster, 0.03 mm at most. The piece's width and height are the paper's, to such a pixel too.
    """
    rows, columns = page.white.shape
    px = (columns / page.width_mm / sheet.scale[0], rows / page.height_mm / sheet.scale[1])  # a millimetre of the paper
    wide = round(sheet.width_mm * px[0])
    left = round((sheet.width_mm / 2 + sheet.off_mm[0]) * px[0] - columns / 2)  # of the page on the paper
    above = round((sheet.height_mm / 2 - sheet.off_mm[1]) * px[1] - rows / 2)
    cut = rows - round(page.cut_mm * rows / page.height_mm) + round(below_mm * px[1])  # a row of the page
    paper = np.ones((above + cut, wide), np.float32)
    high, low = max(0, -above), min(rows, cut)
    first, last = max(0, -left), min(columns, wide - left)
    paper[above + high : above + low, left + first : left + last] = page.white[high:low, first:last]
    return Print(
        ink=INK + (PAPER - INK) * paper[..., None], width_mm=wide / px[0], height_mm=paper.shape[0] / px[1]
    )
