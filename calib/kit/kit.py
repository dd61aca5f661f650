"""The printed kit: which sheets there are, on which paper, with which codes.

Codes tell kit, paper and sheet, so that a photograph alone says which geometry to use.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from calib.kit.answers import bar_boxes, choice_boxes
from calib.kit.code_bits import CODE_BITS, CODE_CELLS, CODE_MIN_DISTANCE, CODE_MODULES
from calib.kit.papers import (
    COLUMNS,
    FIRST_PLANS,
    GROUND_BLOCKS,
    PLANS,
    ROWS,
    TAG_PAGES_MM,
    UPRIGHT_BLOCKS,
    PaperPlan,
)
from calib.kit.sheet import FIRST_BARS_MM, PAPERS, Board, Code, Paper, Role, Sheet, lay_out
from calib.kit.tags import BAR_TAG_IDS, BAR_TAG_ROWS, CENTRE_TAG_IDS, CENTRE_TAG_ROWS, tag_sheet

__all__ = [
    "BAR_TAG_IDS",
    "CENTRE_TAG_IDS",
    "CHECK_BAR_MM",
    "CODE_BITS",
    "CODE_CELLS",
    "CODE_MIN_DISTANCE",
    "CODE_MODULES",
    "EDITION",
    "ID1_CARD_MM",
    "PAPERS",
    "Board",
    "Code",
    "Kit",
    "Paper",
    "Role",
    "Sheet",
    "bar_tag_codes",
    "kit",
    "lay_out",
    "sheet_of_code",
    "tag_codes",
]  # fmt: skip

EDITION = 2  # of what is printed today; a print of an older one is told by its codes
CHECK_BAR_MM = FIRST_BARS_MM[0]
ID1_CARD_MM = (85.60, 53.98)  # ISO/IEC 7810 ID-1, secondary


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Everything that one run of `photomeasure target` prints."""

    name: str
    edition: int
    paper: Paper
    page_mm: tuple[float, float]
    upright: Sheet
    ground: Sheet
    tags: Sheet
    bar_tags: Sheet

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        return (self.upright, self.ground, self.tags, self.bar_tags)


def _chequer_sheet(plan: PaperPlan, paper: Paper, role: Role, page: int) -> Sheet:
    upright = role == "upright"
    blocks = UPRIGHT_BLOCKS if upright else GROUND_BLOCKS
    first = plan.first_id + (0 if upright or plan.edition > 1 else len(UPRIGHT_BLOCKS))
    return lay_out(
        Board(
            columns=COLUMNS,
            rows=ROWS,
            cell_mm=plan.cell_mm,
            left_mm=plan.board_left_mm,
            bottom_mm=plan.board_bottom_mm,
            blocks=blocks,
        ),
        ids=tuple(range(first, first + len(blocks))),
        role=role,
        paper=paper,
        page=page,
        page_mm=plan.page_mm,
        origin_mm=(plan.page_mm[0] / 2, plan.foot_line_mm),
        foot_line_mm=plan.foot_line_mm if upright else None,
    )


def _upright(paper: Paper, edition: int) -> Sheet:
    plan = (PLANS if edition > 1 else FIRST_PLANS)[paper]
    sheet = _chequer_sheet(plan, paper, "upright", 2)
    if plan.answers is None:
        return sheet
    boxes = (*bar_boxes(plan.answers, plan.bars_mm), *choice_boxes(plan.answers))
    return replace(sheet, edition=edition, bars_mm=plan.bars_mm, boxes=boxes, strip=plan.strip)


@cache
def kit(paper: Paper, edition: int = EDITION) -> Kit:
    """The kit for one paper size; page 1 is the instructions.

    Ground sheet and tags are the same in both editions.
    """
    plan = FIRST_PLANS[paper]
    tag_page = TAG_PAGES_MM[paper]
    return Kit(
        name=f"photomeasure-kit-{edition}",
        edition=edition,
        paper=paper,
        page_mm=plan.page_mm,
        upright=_upright(paper, edition),
        ground=_chequer_sheet(plan, paper, "ground", 3),
        tags=tag_sheet("centre-tag", ids=CENTRE_TAG_IDS, rows=CENTRE_TAG_ROWS, paper=paper, page=4, page_mm=tag_page),
        bar_tags=tag_sheet("bar-tag", ids=BAR_TAG_IDS, rows=BAR_TAG_ROWS, paper=paper, page=5, page_mm=tag_page),
    )


@cache
def sheet_of_code() -> dict[int, Sheet]:
    """Which chequer sheet (upright or ground, of which paper) a code id belongs to; tags are not in it."""
    return {
        code_id: sheet
        for paper in PAPERS
        for sheet in (kit(paper).upright, kit(paper, 1).upright, kit(paper).ground)
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
