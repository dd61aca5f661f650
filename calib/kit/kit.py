"""The printed kit: which sheets there are, on which paper, with which codes.

Codes tell kit, paper and sheet, so that a photograph alone says which geometry to use.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from calib.kit.code_bits import CODE_BITS, CODE_CELLS, CODE_MIN_DISTANCE, CODE_MODULES
from calib.kit.sheet import PAPERS, Board, Code, Paper, Role, Sheet, lay_out
from calib.kit.tags import BAR_TAG_IDS, BAR_TAG_ROWS, CENTRE_TAG_IDS, CENTRE_TAG_ROWS, tag_sheet

__all__ = [
    "BAR_TAG_IDS", "CENTRE_TAG_IDS", "CHECK_BAR_MM", "CODE_BITS", "CODE_CELLS", "CODE_MIN_DISTANCE", "CODE_MODULES",
    "ID1_CARD_MM", "KIT_NAME", "PAPERS", "Board", "Code", "Kit", "Paper", "Role", "Sheet", "bar_tag_codes", "kit", "lay_out",
    "sheet_of_code", "tag_codes",
]  # fmt: skip

KIT_NAME = "photomeasure-kit-1"
CHECK_BAR_MM = 150.0
ID1_CARD_MM = (85.60, 53.98)  # ISO/IEC 7810 ID-1, secondary


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Everything that one run of `photomeasure target` prints."""

    name: str
    paper: Paper
    page_mm: tuple[float, float]
    upright: Sheet
    ground: Sheet
    tags: Sheet
    bar_tags: Sheet

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        return (self.upright, self.ground, self.tags, self.bar_tags)


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
        tags=tag_sheet(
            "centre-tag", ids=CENTRE_TAG_IDS, rows=CENTRE_TAG_ROWS, paper=paper, page=4, page_mm=plan.page_mm
        ),
        bar_tags=tag_sheet("bar-tag", ids=BAR_TAG_IDS, rows=BAR_TAG_ROWS, paper=paper, page=5, page_mm=plan.page_mm),
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


@cache
def bar_tag_codes() -> dict[int, Code]:
    """Bar tags by id; their sizes are the same on every paper."""
    return {code.id: code for code in kit("a4").bar_tags.codes}
