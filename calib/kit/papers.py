"""How the chequer sheets are laid out on each paper, edition by edition.

The second edition gives room to boxes and to the print's number: its cells are a tenth smaller, its check bars as long as
the paper and a ruler of 300 mm allow. The ground sheet did not change and keeps its codes.
"""

from __future__ import annotations

from dataclasses import dataclass

from calib.kit.answers import AnswerPlan, whole_mm
from calib.kit.number import STRIP_MODULES, Strip
from calib.kit.paper import PAGES_MM, Paper
from calib.kit.sheet import FIRST_BARS_MM

UPRIGHT_BLOCKS = ((0, 0, 4), (4, 4, 4), (0, 8, 4))
GROUND_BLOCKS = ((4, 0, 4), (0, 4, 4), (4, 8, 4))
COLUMNS, ROWS = 8, 12

TAG_PAGES_MM: dict[Paper, tuple[float, float]] = {**PAGES_MM, "a3": PAGES_MM["a4"]}  # tags are small: no A3 for them


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperPlan:
    """One chequer sheet's place on its paper, page mm; answers and strip from the second edition on."""

    page_mm: tuple[float, float]
    cell_mm: float
    foot_line_mm: float
    board_left_mm: float
    board_bottom_mm: float
    first_id: int
    edition: int = 1
    bars_mm: tuple[float, float] = FIRST_BARS_MM
    answers: AnswerPlan | None = None
    strip: Strip | None = None


def _first(paper: Paper, *, cell_mm: float, foot_line_mm: float, board_bottom_mm: float, first_id: int) -> PaperPlan:
    page = PAGES_MM[paper]
    return PaperPlan(
        page_mm=page,
        cell_mm=cell_mm,
        foot_line_mm=foot_line_mm,
        board_left_mm=(page[0] - COLUMNS * cell_mm) / 2,
        board_bottom_mm=board_bottom_mm,
        first_id=first_id,
    )


def _second(
    paper: Paper, *, cell_mm: float, foot_line_mm: float, first_id: int, bars_mm: tuple[float, float], size: float
) -> PaperPlan:
    """size: of boxes and what goes with them, 1 where a box has 7 mm.

    From the foot up: bar X, its boxes, the other questions, the board; left of the board bar Y and the number, right of it
    the boxes of bar Y.
    """
    (width, _), edge = PAGES_MM[paper], 5.0
    left, bottom = edge + 17.5 * size, foot_line_mm + 46.0 * size
    right, top = left + COLUMNS * cell_mm, bottom + ROWS * cell_mm
    side, steps = 7.0 * size, len(whole_mm(bars_mm[0]))
    head = 9.0 * size
    answers = AnswerPlan(
        side_mm=side,
        bar_x_mm=(left + 10.0 * size, foot_line_mm + 16.0 * size),
        bar_x_pitch_mm=(min(12.0 * size, (width - edge - left - 14.0 * size) / (steps - 1)), 9.5 * size),
        bar_y_mm=(right + 14.5 * size, top - head - side / 2),
        bar_y_pitch_mm=(10.0 * size, (top - bottom - head - side) / (len(whole_mm(bars_mm[1])) - 1)),
        row_left_mm=edge + 9.0 * size,
        row_right_mm=width - edge - 1.0,
        row_y_mm=foot_line_mm + 39.0 * size,
    )
    module = ROWS * cell_mm / STRIP_MODULES
    return PaperPlan(
        page_mm=PAGES_MM[paper],
        cell_mm=cell_mm,
        foot_line_mm=foot_line_mm,
        board_left_mm=left,
        board_bottom_mm=bottom,
        first_id=first_id,
        edition=2,
        bars_mm=bars_mm,
        answers=answers,
        strip=Strip(left_mm=left - 8.0 * size, width_mm=5.0 * size, top_mm=top, module_mm=module),
    )


FIRST_PLANS: dict[Paper, PaperPlan] = {
    "a4": _first("a4", cell_mm=21.5, foot_line_mm=12.0, board_bottom_mm=28.0, first_id=0),
    "a3": _first("a3", cell_mm=30.5, foot_line_mm=14.0, board_bottom_mm=36.0, first_id=6),
    "letter": _first("letter", cell_mm=20.5, foot_line_mm=12.0, board_bottom_mm=24.0, first_id=12),
}
PLANS: dict[Paper, PaperPlan] = {
    "a4": _second("a4", cell_mm=19.0, foot_line_mm=12.0, first_id=33, bars_mm=(180.0, 250.0), size=1.0),
    "a3": _second("a3", cell_mm=28.0, foot_line_mm=14.0, first_id=36, bars_mm=(240.0, 280.0), size=1.25),
    "letter": _second("letter", cell_mm=17.6, foot_line_mm=12.0, first_id=39, bars_mm=(180.0, 230.0), size=1.0),
}
