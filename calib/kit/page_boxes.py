"""The boxes to tick and the coded number of the upright sheet, with their words."""

from __future__ import annotations

from calib.drawing.colours import INK
from calib.drawing.pen import Pen
from calib.kit.answers import (
    ANSWER_CLEAR_MM,
    ANSWER_GAP_MM,
    ANSWER_ROOM_MM,
    ASKED,
    QUESTION_GAP_MM,
    QUESTION_ROOM_MM,
    Box,
    Question,
)
from calib.kit.boxes_outline import outlines_mm
from calib.kit.number import modules_of
from calib.kit.sheet import Sheet

BLACK = (0.0, 0.0, 0.0)


def draw_boxes(pen: Pen, sheet: Sheet) -> None:
    """Every box of the sheet and what it stands for."""
    if not sheet.boxes:
        return
    size = sheet.boxes[0].width_mm / 7.0
    sides = [outline for box in sheet.boxes for outline in outlines_mm(box)]
    pen.polygons([[(a, c), (b, c), (b, d), (a, d)] for a, c, b, d in sides], fill=BLACK)
    asked: dict[Question, list[Box]] = {}
    for box in sheet.boxes:
        asked.setdefault(box.question, []).append(box)
    _bar_x_words(pen, asked.pop("bar-x"), size)
    _bar_y_words(pen, asked.pop("bar-y"), size, sheet.bars_mm[1])
    for question, boxes in asked.items():
        _choice_words(pen, question, boxes, size)


def _choice_words(pen: Pen, question: Question, boxes: list[Box], size: float) -> None:
    left, _, _, _ = boxes[0].sides_mm()
    y = boxes[0].centre_mm[1]
    room = (QUESTION_ROOM_MM - QUESTION_GAP_MM) * size
    for row, words in enumerate(ASKED[question]):
        where = (left - QUESTION_GAP_MM * size, y + (0.4 - 2.9 * row) * size)
        fits = pen.fitting(words, room, size=6.8 * size, bold=True)
        pen.text(where, words, size=fits, bold=True, anchor="right")
    for box in boxes:
        last = box is boxes[-1]  # beside it the next question's words begin, further to the right
        room = (ANSWER_ROOM_MM[box.value] - ANSWER_GAP_MM + (0.6 if last else -ANSWER_CLEAR_MM)) * size
        where = (box.sides_mm()[2] + ANSWER_GAP_MM * size, y - 1.0 * size)
        pen.text(where, box.value, size=pen.fitting(box.value, room, size=7.2 * size))


def _bar_x_words(pen: Pen, boxes: list[Box], size: float) -> None:
    """Whole millimetres above, .0 and .5 at the left."""
    first = boxes[0]
    for half, row in ((".0", boxes[0]), (".5", boxes[1])):
        pen.text(
            (first.sides_mm()[0] - 1.2 * size, row.centre_mm[1] - 1.0 * size), half, size=8.0 * size, anchor="right"
        )
    high = boxes[1].sides_mm()[3] + 1.0 * size
    for box in boxes[::2]:
        whole = box.value.partition(".")[0]
        pen.text((box.centre_mm[0], high), whole, size=7.5 * size, anchor="middle", bold=whole.endswith("0"))
    left = first.sides_mm()[0] - 16.5 * size
    for line, words in enumerate(("bar X", "reads,", "mm")):
        pen.text((left, first.centre_mm[1] + (6.6 - 3.2 * line) * size), words, size=7.5 * size, bold=True)


def _bar_y_words(pen: Pen, boxes: list[Box], size: float, length_mm: float) -> None:
    """Whole millimetres at the left, .0 and .5 above."""
    for half, box in ((".0", boxes[0]), (".5", boxes[1])):
        pen.text((box.centre_mm[0], box.sides_mm()[3] + 1.0 * size), half, size=8.0 * size, anchor="middle")
    for box in boxes[::2]:
        whole = box.value.partition(".")[0]
        where = (box.sides_mm()[0] - 1.2 * size, box.centre_mm[1] - 1.0 * size)
        pen.text(where, whole, size=8.0 * size, anchor="right", bold=whole.endswith("0"))
    left, _, _, top = boxes[0].sides_mm()
    pen.text((left - 8.0 * size, top + 5.2 * size), "bar Y reads, mm", size=7.5 * size, bold=True)


def draw_strip(pen: Pen, sheet: Sheet, number: int | None) -> None:
    """The print's number as a strip of modules, and in figures beneath it; nothing where the print has none."""
    if sheet.strip is None or number is None:
        return
    black = [sheet.strip.sides_mm(place) for place, dark in enumerate(modules_of(number)) if dark]
    pen.polygons([[(a, c), (b, c), (b, d), (a, d)] for a, c, b, d in black], fill=BLACK)
    _, low, right, _ = sheet.strip.sides_mm(len(modules_of(number)) - 1)
    pen.text((right, low - 3.6), f"{number:06d}", size=7.0, anchor="right", colour=INK)
