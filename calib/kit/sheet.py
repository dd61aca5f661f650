"""What a sheet of the kit is, as data, and how a board of chequer patches and codes is laid out on a page.

A sheet is a board of large blocks, alternately a chequer patch and a code. The few large codes find the sheet and
say which kit, paper and sheet it is; the saddles of the patches, predicted from them, measure. The choice rests on
`tests/experiments/kit_candidates.py`.

Coordinates: *page* millimetres, x right, y up from the bottom-left corner of the page; *sheet* millimetres, x right,
y up from the sheet's origin (upright: middle of the foot line; ground: middle of the edge that is pushed against the
foot line; tags: the page's corner). Nothing depends on the paper's edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from calib.kit.answers import Box
from calib.kit.number import Strip
from calib.kit.paper import PAPERS as PAPERS
from calib.kit.paper import Paper as Paper

Role = Literal["upright", "ground", "centre-tag", "bar-tag"]
FIRST_BARS_MM = (150.0, 150.0)  # check bars of the first edition


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One printed code. centre_mm in page coordinates; size_mm is the black border's outer side."""

    id: int
    centre_mm: tuple[float, float]
    size_mm: float
    quiet_mm: float

    def corners_mm(self) -> NDArray[np.float64]:
        """(4, 2) page mm of the black border's corners, top-left first, clockwise as printed."""
        x, y, half = *self.centre_mm, self.size_mm / 2
        return np.array([[x - half, y + half], [x + half, y + half], [x + half, y - half], [x - half, y - half]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """How a sheet is laid out: columns x rows of cells, and the blocks (column, row, cells) that carry a code.

    Rows count from the top. A code fills `code_fraction` of its block; the rest is its quiet zone.
    """

    columns: int
    rows: int
    cell_mm: float
    left_mm: float  # page x of the board's left edge
    bottom_mm: float  # page y of the board's bottom edge
    blocks: tuple[tuple[int, int, int], ...]
    code_fraction: float = 0.84  # large codes live longest in full sun; see the experiment


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page of the kit that is measured on. Arrays are read-only.

    points_mm: saddles, page mm. polarity: +1 where the cell to the lower right of the saddle is dark, else -1.
    dark_mm: dark cells as (left, bottom, right, top), page mm. origin_mm: the sheet frame's origin, page mm.
    bars_mm: printed length of the check bars along x and y. boxes: to tick; strip: the print's number, coded.
    """

    role: Role
    paper: Paper
    page: int
    width_mm: float
    height_mm: float
    origin_mm: tuple[float, float]
    foot_line_mm: float | None
    cell_mm: float
    point_names: tuple[str, ...]
    points_mm: NDArray[np.float64]  # (N, 2)
    polarity: NDArray[np.int8]  # (N,)
    dark_mm: NDArray[np.float64]  # (M, 4)
    codes: tuple[Code, ...]
    edition: int = 1
    bars_mm: tuple[float, float] = FIRST_BARS_MM
    boxes: tuple[Box, ...] = ()
    strip: Strip | None = None

    def local_mm(self, page_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Page coordinates (N, 2) to sheet coordinates (N, 2)."""
        shifted: NDArray[np.float64] = page_mm - np.asarray(self.origin_mm)
        return shifted

    @property
    def code_ids(self) -> tuple[int, ...]:
        """Numbers of its codes in the dictionary of `calib.finding.codes`."""
        return tuple(code.id for code in self.codes)

    def extent_mm(self) -> NDArray[np.float64]:
        """(4, 2) page mm of the board's corners, clockwise from the top-left."""
        corners = np.concatenate([self.points_mm, *(code.corners_mm() for code in self.codes)])
        (left, bottom), (right, top) = corners.min(axis=0), corners.max(axis=0)
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """The same array, any shape, from now on read-only."""
    array.setflags(write=False)
    return array


def lay_out(
    board: Board,
    *,
    ids: tuple[int, ...],
    role: Role,
    paper: Paper,
    page: int,
    page_mm: tuple[float, float],
    origin_mm: tuple[float, float],
    foot_line_mm: float | None,
) -> Sheet:
    """Lay a board out on a page: dark cells, saddles (corners with four chequer cells around them) and codes."""
    in_block = np.zeros((board.columns, board.rows), dtype=bool)
    for column, row, cells in board.blocks:
        if cells > 1:  # a block of one cell is a white cell of the chequer that happens to carry a code
            in_block[column : column + cells, row : row + cells] = True

    def corner_mm(column: int, row: int) -> tuple[float, float]:
        return board.left_mm + column * board.cell_mm, board.bottom_mm + (board.rows - row) * board.cell_mm

    names, points, polarity = [], [], []
    for row in range(1, board.rows):
        for column in range(1, board.columns):
            if in_block[column - 1 : column + 1, row - 1 : row + 1].any():
                continue
            names.append(f"c{column}r{row}")
            points.append(corner_mm(column, row))
            polarity.append(1 if (column + row) % 2 == 0 else -1)
    dark = [
        (*corner_mm(column, row + 1), *corner_mm(column + 1, row))
        for row in range(board.rows)
        for column in range(board.columns)
        if (column + row) % 2 == 0 and not in_block[column, row]
    ]
    codes = []
    for code_id, (column, row, cells) in zip(ids, board.blocks, strict=True):
        (left, top), side = corner_mm(column, row), cells * board.cell_mm
        size = side * board.code_fraction
        codes.append(
            Code(id=code_id, centre_mm=(left + side / 2, top - side / 2), size_mm=size, quiet_mm=(side - size) / 2)
        )
    return Sheet(
        role=role,
        paper=paper,
        page=page,
        width_mm=page_mm[0],
        height_mm=page_mm[1],
        origin_mm=origin_mm,
        foot_line_mm=foot_line_mm,
        cell_mm=board.cell_mm,
        point_names=tuple(names),
        points_mm=frozen(np.array(points, dtype=np.float64).reshape(-1, 2)),
        polarity=frozen(np.array(polarity, dtype=np.int8)),
        dark_mm=frozen(np.array(dark, dtype=np.float64).reshape(-1, 4)),
        codes=tuple(codes),
    )
