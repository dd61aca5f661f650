"""What is ticked on a found sheet: box by box the chances of a mark, question by question one value, nothing, or a doubt.

A value is taken only where one box surely holds a mark and every other box of its question is as good as empty: a second
mark, a smudge, a faint or half hidden one is a doubt, which is asked about and never taken. The limits were chosen by
`tests/experiments/boxes_study.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.finding.box_looks import box_looks
from calib.finding.sheets import FoundSheet
from calib.kit.answers import QUESTIONS, Box, Question
from photomeasure.seen.answers.marks import DOUBTFUL, MARK, mark_nets

SOMETHING, MARK_RATHER = (
    0.996,
    0.5,
)  # chance that a box holds something, and that this is a mark, from which on it is taken
OTHERS = 0.5  # chance that any other box of the question holds something, up to which it is as good as empty
NOTICED = 0.4  # chance of something in a box from which on it is asked about
LEAST_EXCESS, EXCESS_SPREADS = (
    0.015,
    2.0,
)  # ink beyond its kind, alone and over the scatter of all boxes, that a mark has
LEAST_PX_PER_MM = 0.33  # a box of 7 mm on two pixels and a third: below that nothing is read

BURNT_GREY = 252.0  # of the paper around a box: from there a thin stroke may have left nothing in the file
BURNT_EXCESS = (
    0.09  # ink of a mark that is taken there: beside a thinner one another, or what crossed it out, may be lost
)

Why = Literal["two", "unclear", "hidden", "small", "burnt"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One question: value, or None; doubt: why nothing was taken although something is there, and which values it may be."""

    question: Question
    value: str | None
    doubt: Why | None = None
    between: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxChances:
    """Of each box that it holds a mark, and that it holds something that is none, (N,); NaN where it is not seen.

    excess: (N,) ink in it beyond what its kind holds, 0 paper to 1 black; a witness that no network has taught.
    burnt: (N,) whether its paper is burnt out, so that nothing seen is no proof of nothing there.
    """

    mark: NDArray[np.float64]
    doubtful: NDArray[np.float64]
    excess: NDArray[np.float64]
    burnt: NDArray[np.bool_]


def box_chances(grey: NDArray[np.uint8], found: FoundSheet) -> BoxChances:
    """What each of B boxes of the sheet holds, (B,) in its order; NaN where it is not seen. grey: (h, w)."""
    looks = box_looks(grey, found)
    each = mark_nets().chances(looks.looks)
    each[~looks.seen] = np.nan
    return BoxChances(
        mark=each[:, MARK], doubtful=each[:, DOUBTFUL], excess=looks.excess(), burnt=looks.paper >= BURNT_GREY
    )


def read_answers(grey: NDArray[np.uint8], found: FoundSheet) -> tuple[Answer, ...]:
    """Every question of the sheet in a grey picture (h, w), in the order in which they are asked; none for a sheet without boxes."""
    boxes = found.sheet.boxes
    if not boxes:
        return ()
    if found.cell_px / found.sheet.cell_mm < LEAST_PX_PER_MM:
        return tuple(Answer(question=question, value=None, doubt="small") for question in QUESTIONS)
    return answers_by(boxes, box_chances(grey, found))


def answers_by(boxes: Sequence[Box], each: BoxChances) -> tuple[Answer, ...]:
    """The answers that these chances give."""
    scatter = 1.4826 * float(np.nanmedian(np.abs(each.excess - np.nanmedian(each.excess))))
    least = max(LEAST_EXCESS, EXCESS_SPREADS * scatter)
    inked = each.excess >= np.where(each.burnt, max(least, BURNT_EXCESS), least)
    answers = []
    for question in QUESTIONS:
        index = [i for i, box in enumerate(boxes) if box.question == question]
        values = tuple(boxes[i].value for i in index)
        answer = _answer(question, values, each.mark[index], each.doubtful[index], inked[index])
        blank = answer.value is None and answer.doubt is None
        answers.append(replace(answer, doubt="burnt") if blank and each.burnt[index].any() else answer)
    return tuple(answers)


def _answer(
    question: Question,
    values: tuple[str, ...],
    mark: NDArray[np.float64],
    doubtful: NDArray[np.float64],
    inked: NDArray[np.bool_],
) -> Answer:
    if not np.isfinite(mark).all():
        return Answer(question=question, value=None, doubt="hidden")
    something = mark + doubtful
    best = int(np.argmax(mark))
    others = np.delete(np.arange(len(values)), best)
    second = int(others[np.argmax(something[others])])
    marks = [values[i] for i in np.argsort(-mark) if something[i] >= NOTICED and mark[i] >= MARK_RATHER]
    if len(marks) > 1:
        return Answer(question=question, value=None, doubt="two", between=(marks[0], marks[1]))
    if something[best] >= SOMETHING and mark[best] >= MARK_RATHER and inked[best]:
        if something[second] <= OTHERS:
            return Answer(question=question, value=values[best])
        return Answer(question=question, value=None, doubt="unclear", between=(values[best], values[second]))
    likely = int(np.argmax(something))
    if something[likely] >= NOTICED:
        return Answer(question=question, value=None, doubt="unclear", between=(values[likely],))
    return Answer(question=question, value=None)
