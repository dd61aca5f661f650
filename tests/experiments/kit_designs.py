"""Candidate patterns for the upright sheet: the same printed area and paper, other cells, blocks and codes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.codes import FoundCode, detector_settings, dictionary
from calib.kit.kit import Board, Code, Sheet, kit, lay_out
from calib.kit.papers import PLANS
from tests.experiments.boxes_pictures import answers_of, draw_mark, printed

TEXELS_PER_MM = 10
_PAGE_MM = (210.0, 297.0)
_CODES = 26  # as many as the first edition had: a larger dictionary is easier to read by mistake

_predefined: Callable[[int], cv2.aruco.Dictionary] = cv2.aruco.getPredefinedDictionary


def _first_codes(name: int) -> cv2.aruco.Dictionary:
    whole = _predefined(name)
    return cv2.aruco.Dictionary(whole.bytesList[:_CODES], whole.markerSize, whole.maxCorrectionBits)


@dataclass(frozen=True, kw_only=True, eq=False)
class Design:
    """One candidate.

    border:   black modules around the bits; inverted: white border on a black block.
    reach:    share of a cell on each side of a saddle that is free of codes (None: what the finder uses).
    printed:  the sheet of a kit as it is printed, with everything around it, in place of the bare board.
    family:   "kit" for the kit's own 5 x 5 codes, else the name of a predefined OpenCV dictionary.
    """

    key: str
    what: str
    board: Board
    family: str = "kit"
    border: int = 1
    inverted: bool = False
    reach: float | None = None
    printed: Sheet | None = None

    @cached_property
    def sheet(self) -> Sheet:
        if self.printed is not None:
            return self.printed
        return lay_out(
            self.board,
            ids=tuple(range(len(self.board.blocks))),
            role="upright",
            paper="a4",
            page=2,
            page_mm=_PAGE_MM,
            origin_mm=(105.0, 12.0),
            foot_line_mm=12.0,
        )

    @cached_property
    def dictionary(self) -> cv2.aruco.Dictionary:
        return dictionary() if self.family == "kit" else _first_codes(getattr(cv2.aruco, self.family))

    @cache  # noqa: B019 - designs live as long as the experiment
    def detector(self, keen: bool) -> cv2.aruco.ArucoDetector:
        settings = detector_settings()
        settings.markerBorderBits = self.border
        settings.detectInvertedMarker = self.inverted
        if keen:
            settings.errorCorrectionRate = 1.0
        return cv2.aruco.ArucoDetector(self.dictionary, settings)

    def find_codes(self, grey: NDArray[np.uint8], *, keen: bool = False) -> tuple[FoundCode, ...]:
        """As calib.finding.codes.find_codes, with the design's own codes."""
        corners, ids, _ = self.detector(keen).detectMarkers(grey)
        if ids is None or len(ids) == 0:
            return ()
        return tuple(
            FoundCode(id=int(i), corners_px=np.asarray(quad, dtype=np.float64).reshape(4, 2))
            for quad, i in zip(corners, np.asarray(ids).ravel(), strict=True)
        )

    def modules(self, code_id: int) -> NDArray[np.bool_]:
        """(n, n) True is white, border included, as printed."""
        size = int(self.dictionary.markerSize)
        bits = cv2.aruco.Dictionary.getBitsFromByteList(self.dictionary.bytesList[code_id : code_id + 1], size)
        framed = np.pad(np.asarray(bits, dtype=bool), self.border)
        return ~framed if self.inverted else framed

    @cached_property
    def texture(self) -> NDArray[np.uint8]:
        """The page as drawn, 0 black, 255 white, exact area coverage per texel; a printed sheet is ticked and numbered."""
        if self.printed is not None:
            return _ticked_page()
        black = np.zeros((round(_PAGE_MM[1] * TEXELS_PER_MM), round(_PAGE_MM[0] * TEXELS_PER_MM)))
        for rectangle in self.sheet.dark_mm:
            _fill(black, rectangle, 1.0)
        for code in self.sheet.codes:
            self._draw_code(black, code)
        return np.asarray(np.rint(255 * (1 - np.clip(black, 0, 1))), dtype=np.uint8)

    def _draw_code(self, black: NDArray[np.float64], code: Code) -> None:
        modules = self.modules(code.id)
        step = code.size_mm / len(modules)
        left, top = code.centre_mm[0] - code.size_mm / 2, code.centre_mm[1] + code.size_mm / 2
        if self.inverted:
            quiet = code.quiet_mm
            _fill(black, (left - quiet, top - code.size_mm - quiet, left + code.size_mm + quiet, top + quiet), 1.0)
            _fill(black, (left, top - code.size_mm, left + code.size_mm, top), -1.0)
        for row, column in np.argwhere(~modules):
            x, y = left + column * step, top - row * step
            _fill(black, (x, y - step, x + step, y), 1.0)


def _ticked_page() -> NDArray[np.uint8]:
    """The second edition's upright sheet with a number, and one box of each question filled."""
    light, sheet, rng = printed("a4", 468_779), kit("a4").upright, np.random.default_rng(3)
    answers = answers_of(sheet, rng)
    for box in sheet.boxes:
        if box.value in answers[box.question]:
            draw_mark(light, sheet, box, "fill", 2.0, rng)
    size = round(_PAGE_MM[0] * TEXELS_PER_MM), round(_PAGE_MM[1] * TEXELS_PER_MM)
    raster = np.rint(255 * np.clip((light - 0.05) / 0.95, 0, 1)).astype(np.uint8)
    return np.asarray(cv2.resize(raster, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)


def _fill(black: NDArray[np.float64], rectangle: NDArray[np.float64] | tuple[float, ...], value: float) -> None:
    """Add the exact coverage of (left, bottom, right, top) in page mm."""
    left, bottom, right, top = (float(v) * TEXELS_PER_MM for v in rectangle)
    rows, columns = black.shape
    across = _coverage(left, right, columns)
    down = _coverage(rows - top, rows - bottom, rows)
    x, y = np.flatnonzero(across), np.flatnonzero(down)
    black[y[0] : y[-1] + 1, x[0] : x[-1] + 1] += value * np.outer(down[y[0] : y[-1] + 1], across[x[0] : x[-1] + 1])


def _coverage(start: float, stop: float, count: int) -> NDArray[np.float64]:
    edges = np.arange(count, dtype=np.float64)
    covered: NDArray[np.float64] = np.clip(np.minimum(edges + 1, stop) - np.maximum(edges, start), 0.0, 1.0)
    return covered


def _board(columns: int, rows: int, cell: float, blocks: tuple[tuple[int, int, int], ...], **more: float) -> Board:
    return Board(
        columns=columns,
        rows=rows,
        cell_mm=cell,
        left_mm=(_PAGE_MM[0] - columns * cell) / 2,
        bottom_mm=28.0,
        blocks=blocks,
        **more,
    )


@cache
def designs() -> dict[str, Design]:
    three = ((0, 0, 4), (4, 4, 4), (0, 8, 4))
    plain = _board(8, 12, 21.5, three)
    dense = tuple((c, r, 1) for r in range(7) for c in range(5) if (c + r) % 2 == 1)
    listed = (
        Design(key="A", what="three 4-cell blocks, 5x5 codes of 72.2 mm, cells 21.5 mm (the kit)", board=plain),
        Design(
            key="B",
            what="dense board 5 x 7 of 36 mm, 17 5x5 codes of 25.9 mm in the white squares",
            board=_board(5, 7, 36.0, dense, code_fraction=0.72),
            reach=0.13,
        ),
        Design(key="C", what="as A, two blocks only", board=_board(8, 12, 21.5, ((0, 0, 4), (4, 8, 4)))),
        Design(key="D", what="as A, 6x6 codes (36h11)", board=plain, family="DICT_APRILTAG_36h11"),
        Design(key="E", what="as A, 4x4 codes", board=plain, family="DICT_4X4_50"),
        Design(key="F", what="as A, white border on a black block", board=plain, inverted=True),
        Design(key="G", what="as A, black border of two modules", board=plain, border=2),
        Design(
            key="H",
            what="three 3-cell blocks, codes of 60.5 mm, cells 24 mm",
            board=_board(7, 11, 24.0, ((0, 0, 3), (4, 4, 3), (0, 8, 3))),
        ),
        Design(
            key="I",
            what="as A, codes of 66.9 mm: a quiet zone of one module",
            board=_board(8, 12, 21.5, three, code_fraction=7 / 9),
        ),
        Design(
            key="K",
            what="the kit's second edition as it is printed: cells of 19 mm, codes of 63.8 mm, boxes ticked, number, bars",
            board=Board(
                columns=8,
                rows=12,
                cell_mm=PLANS["a4"].cell_mm,
                left_mm=PLANS["a4"].board_left_mm,
                bottom_mm=PLANS["a4"].board_bottom_mm,
                blocks=three,
            ),
            printed=kit("a4").upright,
        ),
    )
    return {design.key: design for design in listed}


def current_sheet() -> Sheet:
    """The kit's own upright sheet, to be sure that A is what is printed."""
    return kit("a4").upright
