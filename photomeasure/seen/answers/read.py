"""What is ticked on a found sheet: box by box an ink, question by question one value, nothing, or a doubt.

A value is taken only where one box holds clearly more than the empty boxes of this very picture, and all others of its
question clearly less than half of it: a second mark, a smudge, a faint or half hidden one is a doubt, which is asked about and
never taken. The limits were chosen by `tests/experiments/boxes_study.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.finding.ink import Ink, read_ink
from calib.finding.sheets import FoundSheet
from calib.kit.answers import QUESTIONS, Box, Question
from calib.kit.boxes_outline import inside_mm
from calib.kit.labels import labels_mm

FAINT, SURE = 0.03, 0.04  # ink: from the first on something is there, from the second on it may be an answer
FAINT_SIGMAS, SURE_SIGMAS = 3.5, 4.5  # of 400 blank sheets the largest was 4.0
DARK, DARK_SIGMAS = 0.2, 2.0  # so much that somebody should look, although a shadow's edge may have done it
SECOND_SHARE = 0.5  # of the best's ink: what the second may seem to hold,
MARK_SHARE, MARK_SIGMAS = 0.12, 3.0  # and what it may truly hold: a pen that slipped over the edge
INK_FLOOR = 0.008  # empty boxes differ by that much where nothing else is seen of it (experiment)
LEAST_PX_PER_MM = 0.33  # a box of 7 mm on two pixels and a third: below that nothing is read
REACH_MM = 9.0

Why = Literal["two", "unclear", "hidden", "small"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One question: value, or None; doubt: why nothing was taken although something is there, and which values it may be."""

    question: Question
    value: str | None
    doubt: Why | None = None
    between: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Inks:
    """Each box's ink over that of the picture's empty boxes, and its standard uncertainty, (N,); NaN where it is not seen."""

    ink: NDArray[np.float64]
    sigma: NDArray[np.float64]


def box_inks(grey: NDArray[np.uint8], found: FoundSheet) -> Inks:
    """Every box of the sheet, in its order."""
    boxes = found.sheet.boxes
    ink, sigma = np.full(len(boxes), np.nan), np.full(len(boxes), np.nan)
    for beside_board in (True, False):
        index = [i for i, box in enumerate(boxes) if (box.question == "bar-y") is beside_board]
        read = _group(grey, found, [boxes[i] for i in index])
        ink[index], sigma[index] = read.ink, read.sigma
    seen = ink[np.isfinite(ink)]
    if len(seen) == 0:
        return Inks(ink=ink, sigma=sigma)
    blank = float(np.median(seen))
    spread = 1.4826 * float(np.median(np.abs(seen - blank)))
    return Inks(ink=ink - blank, sigma=np.sqrt(sigma**2 + spread**2 + INK_FLOOR**2))


def read_answers(grey: NDArray[np.uint8], found: FoundSheet) -> tuple[Answer, ...]:
    """Every question of the sheet, in the order in which they are asked; none for a sheet without boxes."""
    boxes = found.sheet.boxes
    if not boxes:
        return ()
    if found.cell_px / found.sheet.cell_mm < LEAST_PX_PER_MM:
        return tuple(Answer(question=question, value=None, doubt="small") for question in QUESTIONS)
    return answers_by(boxes, box_inks(grey, found))


def answers_by(boxes: Sequence[Box], inks: Inks) -> tuple[Answer, ...]:
    """The answers that these inks give."""
    answers = []
    for question in QUESTIONS:
        index = [i for i, box in enumerate(boxes) if box.question == question]
        values = tuple(boxes[i].value for i in index)
        answers.append(_answer(question, values, inks.ink[index], inks.sigma[index]))
    return tuple(answers)


def _group(grey: NDArray[np.uint8], found: FoundSheet, boxes: list[Box]) -> Ink:
    sides = [box.sides_mm() for box in boxes]
    low, high = np.min(sides, axis=0)[:2] - REACH_MM, np.max(sides, axis=0)[2:] + REACH_MM
    words = [word for word in labels_mm(found.sheet) if _touches(word, low, high)]
    return read_ink(grey, found, sides, insides=[inside_mm(box) for box in boxes], words=words)


def _touches(word: tuple[float, float, float, float], low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
    return bool(word[0] < high[0] and word[2] > low[0] and word[1] < high[1] and word[3] > low[1])


def _answer(
    question: Question, values: tuple[str, ...], ink: NDArray[np.float64], sigma: NDArray[np.float64]
) -> Answer:
    if not np.isfinite(ink).all():
        return Answer(question=question, value=None, doubt="hidden")
    order = np.argsort(-ink)
    best, second = order[0], order[1]
    if ink[best] < max(SURE, SURE_SIGMAS * sigma[best]):
        faint = ink[best] > max(FAINT, FAINT_SIGMAS * sigma[best])
        dark = ink[best] > max(DARK, DARK_SIGMAS * sigma[best])
        if faint or dark:
            return Answer(question=question, value=None, doubt="unclear", between=(values[best],))
        return Answer(question=question, value=None)
    marked = ink[second] > max(MARK_SHARE * ink[best], MARK_SIGMAS * sigma[second], FAINT)
    if marked or ink[second] + 0.5 * sigma[second] > SECOND_SHARE * ink[best]:
        doubt: Why = "two" if marked else "unclear"
        return Answer(question=question, value=None, doubt=doubt, between=(values[best], values[second]))
    return Answer(question=question, value=values[best])
