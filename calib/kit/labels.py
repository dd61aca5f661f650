"""Where words stand beside the boxes, as rectangles: a reader of the boxes has to know what else is dark there."""

from __future__ import annotations

from calib.kit.answers import ANSWER_CLEAR_MM, ANSWER_GAP_MM, ANSWER_ROOM_MM, ASKED, QUESTION_GAP_MM
from calib.kit.sheet import Sheet

LETTER_MM = 1.25  # of a bold letter of 6.8 points, on average
Rectangle = tuple[float, float, float, float]  # left, bottom, right, top, page mm


def labels_mm(sheet: Sheet) -> list[Rectangle]:
    """Beside every answer, every whole millimetre and every question."""
    if not sheet.boxes:
        return []
    size = sheet.boxes[0].width_mm / 7.0
    places, asked = [], set()
    for box in sheet.boxes:
        (left, _, right, top), y = box.sides_mm(), box.centre_mm[1]
        first = box.question not in asked
        asked.add(box.question)
        if box.question == "bar-y":
            if box.value.endswith(".0"):
                places.append((left - 6.2 * size, y - 1.1 * size, left - 1.0 * size, y + 1.1 * size))
            if first:
                places.append((left - 8.0 * size, top + 5.0 * size, right + 9.0 * size, top + 7.5 * size))
        elif box.question == "bar-x":
            if box.value.endswith(".5"):
                places.append((left + 0.7 * size, top + 0.9 * size, right - 0.7 * size, top + 3.1 * size))
            if first:
                places.append((left - 4.5 * size, y - 1.1 * size, left - 1.0 * size, y + 1.1 * size))
                places.append((left - 4.5 * size, y + 8.4 * size, left - 1.0 * size, y + 10.6 * size))
        else:
            right_of = right + (ANSWER_ROOM_MM[box.value] - ANSWER_CLEAR_MM) * size
            places.append((right + ANSWER_GAP_MM * size, y - 1.1 * size, right_of, y + 1.1 * size))
            if first:
                stop = left - QUESTION_GAP_MM * size
                for line, words in enumerate(ASKED[box.question]):
                    low = y + (0.4 - 2.9 * line) * size
                    places.append((stop - LETTER_MM * size * len(words), low, stop, low + 1.8 * size))
    return places
