"""The printed kit as data: sheets, their chequer patches, saddles and codes.

A sheet is a board of large blocks, alternately a chequer patch and a code. The few large codes find the sheet and
say which kit, paper and sheet it is; the saddles of the patches, predicted from them, measure. The choice rests on
`tests/experiments/kit_candidates.py`.

Coordinates: *page* millimetres, x right, y up from the bottom-left corner of the page; *sheet* millimetres, x right,
y up from the sheet's origin (upright: middle of the foot line; ground: middle of the edge that is pushed against the
foot line; centre tag: the middle of the tag). Nothing depends on the paper's edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

Paper = Literal["a4", "a3", "letter"]
Role = Literal["upright", "ground", "centre-tag"]
PAPERS: tuple[Paper, ...] = get_args(Paper)

KIT_NAME = "photomeasure-kit-1"

# 5 x 5 bits, row by row from the top-left, 1 is white. Found by a random search for codes that differ from each other,
# in all four rotations, in at least 9 bits, and from their own rotations in at least 10; no row or column of one colour.
CODE_BITS = (
    "0101011101101101001101101", "1010001000000101011110101", "0010011011011011100111100", "1111001110000010110010110",
    "0101101101010101010100100", "1001111001001110011010100", "0110111000011011010100111", "0011010001100011110100111",
    "1000110111001110101000010", "1000010101010010101111001", "0000111110011000011001011", "0111111000101000110010101",
    "0011110100110010111110000", "0110100100001011100010010", "0010001011100001011101110", "1011101110101000100001001",
    "1100010010100110011110011", "1101000010000101101101100", "1000100111010011010000111", "0101111000010101010011011",
    "1000010111111000111011110", "1101010001111100100100001", "0000111001001001000001110", "0101101010010011101010101",
    "0010010000001100110101101", "0110110011000100010000001",
)  # fmt: skip
CODE_CELLS = 5
CODE_MODULES = 7  # the bits and a black border of one module
CODE_MIN_DISTANCE = 9

CHECK_BAR_MM = 150.0
ID1_CARD_MM = (85.60, 53.98)  # ISO/IEC 7810 ID-1, secondary
TAG_IDS = tuple(range(18, 26))


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One printed code. centre_mm in page coordinates; size_mm is the black border's outer side."""

    id: int
    centre_mm: tuple[float, float]
    size_mm: float
    quiet_mm: float

    def corners_mm(self) -> NDArray[np.float64]:  # (4, 2) page mm, top-left first, clockwise as printed
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

    def local_mm(self, page_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Page coordinates (N, 2) to sheet coordinates (N, 2)."""
        shifted: NDArray[np.float64] = page_mm - np.asarray(self.origin_mm)
        return shifted

    @property
    def code_ids(self) -> tuple[int, ...]:
        return tuple(code.id for code in self.codes)

    def extent_mm(self) -> NDArray[np.float64]:  # (4, 2) page mm of the board's corners, clockwise from the top-left
        corners = np.concatenate([self.points_mm, *(code.corners_mm() for code in self.codes)])
        (left, bottom), (right, top) = corners.min(axis=0), corners.max(axis=0)
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Everything that one run of `photomeasure target` prints."""

    name: str
    paper: Paper
    page_mm: tuple[float, float]
    upright: Sheet
    ground: Sheet
    tags: Sheet

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        return (self.upright, self.ground, self.tags)


def _frozen(array: NDArray[Any]) -> NDArray[Any]:
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
        points_mm=_frozen(np.array(points, dtype=np.float64).reshape(-1, 2)),
        polarity=_frozen(np.array(polarity, dtype=np.int8)),
        dark_mm=_frozen(np.array(dark, dtype=np.float64).reshape(-1, 4)),
        codes=tuple(codes),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _PaperPlan:
    page_mm: tuple[float, float]
    cell_mm: float
    foot_line_mm: float
    board_bottom_mm: float
    first_id: int


# A4 and A3: ISO 216. US letter: ANSI/ASME Y14.1 (from memory), as in reference tables of paper sizes.
_PLANS: dict[Paper, _PaperPlan] = {
    "a4": _PaperPlan(page_mm=(210.0, 297.0), cell_mm=21.5, foot_line_mm=12.0, board_bottom_mm=28.0, first_id=0),
    "a3": _PaperPlan(page_mm=(297.0, 420.0), cell_mm=30.5, foot_line_mm=14.0, board_bottom_mm=36.0, first_id=6),
    "letter": _PaperPlan(page_mm=(215.9, 279.4), cell_mm=20.5, foot_line_mm=12.0, board_bottom_mm=24.0, first_id=12),
}
_UPRIGHT_BLOCKS = ((0, 0, 4), (4, 4, 4), (0, 8, 4))
_GROUND_BLOCKS = ((4, 0, 4), (0, 4, 4), (4, 8, 4))
_COLUMNS, _ROWS = 8, 12

# (code side mm, how many): near and far tags, all told apart by their codes
_TAG_ROWS: tuple[tuple[float, int], ...] = ((60.0, 2), (40.0, 3), (40.0, 3))


def _chequer_sheet(plan: _PaperPlan, paper: Paper, role: Role, page: int) -> Sheet:
    left = (plan.page_mm[0] - _COLUMNS * plan.cell_mm) / 2
    upright = role == "upright"
    board = Board(
        columns=_COLUMNS,
        rows=_ROWS,
        cell_mm=plan.cell_mm,
        left_mm=left,
        bottom_mm=plan.board_bottom_mm,
        blocks=_UPRIGHT_BLOCKS if upright else _GROUND_BLOCKS,
    )
    first = plan.first_id + (0 if upright else len(_UPRIGHT_BLOCKS))
    return lay_out(
        board,
        ids=tuple(range(first, first + len(board.blocks))),
        role=role,
        paper=paper,
        page=page,
        page_mm=plan.page_mm,
        origin_mm=(plan.page_mm[0] / 2, plan.foot_line_mm),
        foot_line_mm=plan.foot_line_mm if upright else None,
    )


def _tag_sheet(plan: _PaperPlan, paper: Paper, page: int) -> Sheet:
    width, height = plan.page_mm
    codes: list[Code] = []
    ids = iter(TAG_IDS)
    y = height - 42.0
    for side, count in _TAG_ROWS:
        quiet = side / CODE_MODULES
        pitch = (width - 20.0) / count
        y -= side / 2 + quiet
        codes += [
            Code(id=next(ids), centre_mm=(10.0 + pitch * (i + 0.5), y), size_mm=side, quiet_mm=quiet)
            for i in range(count)
        ]
        y -= side / 2 + quiet + 12.0
    return Sheet(
        role="centre-tag",
        paper=paper,
        page=page,
        width_mm=width,
        height_mm=height,
        origin_mm=(0.0, 0.0),
        foot_line_mm=None,
        cell_mm=0.0,
        point_names=(),
        points_mm=_frozen(np.empty((0, 2))),
        polarity=_frozen(np.empty(0, dtype=np.int8)),
        dark_mm=_frozen(np.empty((0, 4))),
        codes=tuple(codes),
    )


@cache
def kit(paper: Paper) -> Kit:
    """The kit for one paper size; page 1 is the instructions."""
    plan = _PLANS[paper]
    return Kit(
        name=KIT_NAME,
        paper=paper,
        page_mm=plan.page_mm,
        upright=_chequer_sheet(plan, paper, "upright", 2),
        ground=_chequer_sheet(plan, paper, "ground", 3),
        tags=_tag_sheet(plan, paper, 4),
    )


@cache
def sheet_of_code() -> dict[int, Sheet]:
    """Which chequer sheet (upright or ground, of which paper) a code id belongs to; tags are not in it."""
    return {
        code_id: sheet
        for paper in PAPERS
        for sheet in (kit(paper).upright, kit(paper).ground)
        for code_id in sheet.code_ids
    }


@cache
def tag_codes() -> dict[int, Code]:
    """Centre tags by id; their sizes are the same on every paper."""
    return {code.id: code for code in kit("a4").tags.codes}
