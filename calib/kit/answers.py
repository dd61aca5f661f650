"""Boxes to tick on the upright sheet: what is asked, which answers there are, and where their boxes are printed.

A box a value, in half millimetres for the two check bars: rows or columns of whole millimetres, one box for .0 and one
for .5. The range is what printers give: "fit to page" on a printer that leaves 6.35 mm blank prints A4 at 94 %
(computed), feeds run up to 1 % long (judgement). What a ruler reads outside is typed, or better printed again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Question = Literal["bar-x", "bar-y", "coupled", "laden", "level-ground", "ball"]
QUESTIONS: tuple[Question, ...] = get_args(Question)
# Two lines beside the boxes of a question.
ASKED: dict[Question, tuple[str, str]] = {
    "coupled": ("trailer", "connected?"),
    "laden": ("trailer", "loaded?"),
    "level-ground": ("ground", "hard, flat?"),
    "ball": ("ball, mm,", "or pin"),
}
BAR_RANGE = (0.94, 1.0125)
CHOICES: tuple[tuple[Question, tuple[str, ...]], ...] = (
    ("coupled", ("yes", "no")),
    ("laden", ("yes", "no")),
    ("level-ground", ("yes", "no")),
    ("ball", ("50", "50.8", "47.6", "pin")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box; centre_mm in page coordinates. value: as the option of that name takes it, for a ball its diameter in mm."""

    question: Question
    value: str
    centre_mm: tuple[float, float]
    width_mm: float
    height_mm: float

    def sides_mm(self) -> tuple[float, float, float, float]:  # left, bottom, right, top
        (x, y), across, up = self.centre_mm, self.width_mm / 2, self.height_mm / 2
        return x - across, y - up, x + across, y + up


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerPlan:
    """Where the boxes of one paper go, page mm.

    side_mm: of a box. bar_x_mm: middle of the box of the least .0, pitch across and up to the .5 row;
    bar_y_mm: middle of the least value's .0 box, pitch to the .5 column and down; row_mm: middle of the first choice.
    """

    side_mm: float
    bar_x_mm: tuple[float, float]
    bar_x_pitch_mm: tuple[float, float]
    bar_y_mm: tuple[float, float]
    bar_y_pitch_mm: tuple[float, float]
    row_left_mm: float
    row_right_mm: float
    row_y_mm: float


def whole_mm(length_mm: float) -> range:
    """The whole millimetres that are asked for of a bar of this length."""
    return range(round(BAR_RANGE[0] * length_mm), int(BAR_RANGE[1] * length_mm) + 1)


def bar_boxes(plan: AnswerPlan, bars_mm: tuple[float, float]) -> list[Box]:
    """One box each half millimetre of both bars."""
    boxes = []
    for question, length in (("bar-x", bars_mm[0]), ("bar-y", bars_mm[1])):
        for step, whole in enumerate(whole_mm(length)):
            for half in (0, 1):
                if question == "bar-x":
                    (x, y), (across, up) = plan.bar_x_mm, plan.bar_x_pitch_mm
                    centre = (x + step * across, y + half * up)
                else:
                    (x, y), (across, down) = plan.bar_y_mm, plan.bar_y_pitch_mm
                    centre = (x + half * across, y - step * down)
                boxes.append(_box(plan, question, f"{whole}.{5 * half}", centre))  # type: ignore[arg-type]
    return boxes


# An answer's words stand nearer to their own box than to the next one, a question's words end at its first box; mm at a box of 7 mm.
ANSWER_GAP_MM, ANSWER_CLEAR_MM, QUESTION_GAP_MM = 0.7, 1.3, 0.8
# Room left of the boxes of a question for its words, and right of each box for its answer, mm at a box of 7 mm.
QUESTION_ROOM_MM = 14.2
ANSWER_ROOM_MM = {"yes": 6.0, "no": 5.0, "50": 5.0, "50.8": 7.5, "47.6": 7.5, "pin": 6.0}


def choice_boxes(plan: AnswerPlan) -> list[Box]:
    """The other questions in one row, spread evenly over it."""
    size = plan.side_mm / 7.0
    used = sum(
        size * QUESTION_ROOM_MM + sum(plan.side_mm + size * ANSWER_ROOM_MM[value] for value in values)
        for _, values in CHOICES
    )
    gap = (plan.row_right_mm - plan.row_left_mm - used) / (len(CHOICES) - 1)
    boxes, x = [], plan.row_left_mm
    for question, values in CHOICES:
        x += size * QUESTION_ROOM_MM
        for value in values:
            boxes.append(_box(plan, question, value, (x + plan.side_mm / 2, plan.row_y_mm)))
            x += plan.side_mm + size * ANSWER_ROOM_MM[value]
        x += gap
    return boxes


def _box(plan: AnswerPlan, question: Question, value: str, centre_mm: tuple[float, float]) -> Box:
    return Box(question=question, value=value, centre_mm=centre_mm, width_mm=plan.side_mm, height_mm=plan.side_mm)
