"""Where a picture breaks: rows that a damaged file lost or shifted, which its decoder puts together without a word.

A JPEG is made of blocks of 8 or 16 rows over the whole width. Where some of them are lost or shifted, two rows are neighbours
that were not, in every part of the width at once. In a photograph neighbouring rows are alike, for no lens is so sharp that a
level edge goes from light to dark within one row, and none is so level over the whole width. So at every eighth row of the picture as it
is stored, in each of PARTS parts of its width, the step from row to row is held against the steps beside it, against those at the
block edges above and below (blocks of strong compression have steps of their own), and against what rows further apart
differ by. Only parts where rows further apart differ can tell. Columns the same, every one of them. Limits and what they find:
`tests/experiments/seam_study.md`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.float32]

PARTS, COLUMNS = 48, 1300  # parts of the width, and about how many columns are looked at
BLOCK = 8
MARGIN = 32  # rows at both ends that have too few neighbours
LEAST_DIFFERENT, DIFFERENT = 2.0, 2.0  # grey levels, and times the usual step: what rows 9 apart must differ by
SEAM = 3.0  # of the score: few whole photographs reach it (some of a thousand), a loss of 16 rows eight times of ten
BREAKS, LEAST_TELLING, SHARE_BROKEN = (
    1.2,
    3,
    0.25,
)  # times the steps beside it, in one part; parts of a third of the line
SEAM_UPRIGHT = (
    5.0  # the same of columns, of which every one is looked at; a wall's corner beside strong compression comes to 4.5
)
FRAME = 0.7  # share of a side without any step: a screenshot's frame, not a photograph
FLAT = 0.05  # grey levels
MOST_AT_ONCE = 0.5  # that a part can score by a step that is all of what rows further apart differ by
ROUNDING = 0.01  # of a score's upper bound
STANDS_OUT = 1.2  # times the steps beside it, over the whole width: breaks that score reach 1.2 and more

_BESIDE, _USUAL = (
    (-3, -2, -1, 1, 2, 3),
    (-7, -6, -5, -4, -3, -2, 2, 3, 4, 5, 6, 7),
)  # steps around one that it is held against
_AROUND, _BLOCKS_AROUND = np.arange(-7, 8), np.array([-3, -2, -1, 1, 2, 3])  # all of them; blocks


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """A line along which a picture breaks, and the share of its rows above it, or of its columns left of it."""

    along: Literal["row", "column"]
    share: float


def seam(grey: NDArray[np.uint8]) -> Seam | None:
    """The plainest break of a picture (h, w) as it is stored, along a row or else along a column; None where there is none.

    A damaged file breaks along rows of its blocks; what was put together from two pictures along columns too, and anywhere.
    """
    row = seam_row(grey)
    if row is not None:
        return Seam(along="row", share=row / len(grey))
    column = seam_column(grey)
    return None if column is None else Seam(along="column", share=column / grey.shape[1])


def seam_row(grey: NDArray[np.uint8]) -> int | None:
    """The first row below the plainest break of a picture (h, w) as it is stored, at a block's edge; None where there is none."""
    height = len(grey)
    if height < 4 * MARGIN:
        return None
    rows = _rows_to_look_at(grey)
    if not len(rows):
        return None
    steps = np.zeros((height - 1, PARTS), dtype=np.float32)  # from row y to y + 1; of those that count
    counting = np.unique(rows[:, None] - 1 + np.concatenate([_AROUND, BLOCK * _BLOCKS_AROUND]))
    steps[counting] = _row_steps(grey, counting)
    worst = _plainest(steps, _differences(_columns(grey[rows + 4]), _columns(grey[rows - 5])), rows, SEAM)
    return None if worst is None or _frames(_row_steps(grey, np.arange(height - 1)), worst) else worst


def _row_steps(grey: NDArray[np.uint8], rows: NDArray[np.int64]) -> Rows:
    """(N, PARTS) what rows differ by from those below them."""
    return _differences(_columns(grey[rows + 1]), _columns(grey[rows]))


def _rows_to_look_at(grey: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Rows at blocks' edges whose score may reach the limit when two of the six steps beside them are looked at: few of most
    pictures, by half of its rows."""
    rows = np.arange(MARGIN, len(grey) - MARGIN, BLOCK)
    edges = slice(MARGIN - 3 * BLOCK, int(rows[-1]) + 3 * BLOCK + 1)  # three blocks further at both ends
    before, above, first, second = (_columns(grey[edges.start + k : edges.stop + k : BLOCK]) for k in (-2, -1, 0, 1))
    step = _differences(first, above)
    beside = np.maximum(_differences(above, before), _differences(second, first))[3:-3]
    far = _differences(*(_columns(grey[rows[0] + k : rows[-1] + k + 1 : BLOCK]) for k in (4, -5)))
    blocks = _second_largest([step[3 + k : len(step) - 3 + k] for k in _BLOCKS_AROUND])
    each = _above(step[3:-3], beside, blocks) + _at_once(step[3:-3], far)
    return rows[_at_most(each) > SEAM - ROUNDING]


def seam_column(grey: NDArray[np.uint8]) -> int | None:
    """The same of columns: the first one right of the plainest break, anywhere."""
    width = grey.shape[1]
    if width < 4 * MARGIN:
        return None
    some = grey[:: max(1, len(grey) // COLUMNS)]
    few = some[: len(some) // PARTS * PARTS]
    steps = _differences_down(few[:, 1:], few[:, :-1])
    columns = np.arange(MARGIN, width - MARGIN)
    columns = columns[_stand_out(steps.mean(axis=1), columns - 1)]  # the others need no closer look
    columns = columns[_at_most(_above_others(steps, columns - 1) + MOST_AT_ONCE) > SEAM_UPRIGHT - ROUNDING]
    if not len(columns):
        return None
    far = _differences_down(few[:, columns + 4], few[:, columns - 5])
    worst = _plainest(steps, far, columns, SEAM_UPRIGHT)
    if worst is None or _frames(steps, worst) or not _from_end_to_end(steps, far[columns == worst], worst - 1):
        return None
    return worst


def _plainest(steps: Rows, far: Rows, at: NDArray[np.int64], limit: float) -> int | None:
    """steps (h - 1, PARTS), far (N, PARTS) at rows or columns (N,): the one that is most of a break, where it is one."""
    each = _above_others(steps, at - 1) + _at_once(steps[at - 1], far)
    may_be = _at_most(each) > limit - ROUNDING
    if not may_be.any():
        return None
    at = at[may_be]
    score = _scores(each[may_be], far[may_be], steps, at - 1)
    worst = int(np.argmax(score))
    return None if score[worst] < limit else int(at[worst])


def _stand_out(step: NDArray[np.float32], at: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(N,) whether a step over the whole picture is larger than those beside it."""
    beside = np.max([step[at + k] for k in _BESIDE], axis=0)
    return np.asarray(step[at] > STANDS_OUT * beside, dtype=np.bool_)


def _differences_down(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> Rows:
    """(w, PARTS) mean absolute difference of two pictures (PARTS * n, w), in each of PARTS parts of the height."""
    each = len(one) // PARTS
    totals = [
        cv2.reduce(cv2.absdiff(one[top : top + each], other[top : top + each]), 0, cv2.REDUCE_SUM, dtype=cv2.CV_32S)[0]
        for top in range(0, len(one), each)  # a part at a time stays in the processor's cache
    ]
    return np.asarray(np.array(totals).T / np.float32(each), dtype=np.float32)


def _columns(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """(h, PARTS * n) about COLUMNS of its columns, as many in each part (a few at the right edge are left out)."""
    some = grey[:, :: max(1, grey.shape[1] // COLUMNS)]
    return np.ascontiguousarray(some[:, : some.shape[1] // PARTS * PARTS])


def _differences(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> Rows:
    """(h, PARTS) mean absolute difference of two pictures (h, PARTS * n)."""
    each = one.shape[1] // PARTS
    apart = cv2.absdiff(one, other).reshape(-1, each)
    total = cv2.reduce(apart, 1, cv2.REDUCE_SUM, dtype=cv2.CV_32S).reshape(-1, PARTS)
    return np.asarray(total / np.float32(each), dtype=np.float32)


def _above_others(steps: Rows, at: NDArray[np.int64]) -> Rows:
    """(N, PARTS) how far each step (N of them, at rows `at` of `steps`) is above those beside it and at the blocks' edges."""
    beside = np.max([steps[at + k] for k in _BESIDE], axis=0)
    return _above(steps[at], beside, _second_largest([steps[at + BLOCK * k] for k in _BLOCKS_AROUND]))


def _second_largest(those: list[Rows]) -> Rows:
    largest, second = those[0], np.zeros_like(those[0])
    for one in those[1:]:
        second, largest = np.maximum(second, np.minimum(largest, one)), np.maximum(largest, one)
    return second


def _above(step: Rows, beside: Rows, blocks: Rows) -> Rows:
    above = np.clip(np.log2((step + 0.5) / (np.maximum(beside, blocks) + 0.5)), -1.0, 1.5)
    return np.asarray(above, dtype=np.float32)


def _at_once(step: Rows, far: Rows) -> Rows:
    """(N, PARTS) how much of what rows 9 apart, across a step, differ by (N, PARTS) is in that step."""
    return np.asarray(np.clip(np.log2((step + 0.5) / (0.6 * far + 0.5)), -1.0, MOST_AT_ONCE), dtype=np.float32)


def _at_most(each: Rows) -> NDArray[np.float64]:
    """(N,) no less than any choice of parts can score: a sum over the root of how many there are is at most the length of the
    vector of those above nought."""
    return np.asarray(np.sqrt(np.square(np.maximum(each, 0.0)).sum(axis=1)), dtype=np.float64)


def _scores(each: Rows, far: Rows, steps: Rows, at: NDArray[np.int64]) -> NDArray[np.float64]:
    """(N,) score of steps by their parts (N, PARTS), over the parts that can tell."""
    around = np.sort([steps[at + k] for k in _USUAL], axis=0)
    usual = (around[5] + around[6]) / 2.0  # the median, in a third of the time of numpy's own
    telling = far > DIFFERENT * usual + LEAST_DIFFERENT
    score = (each * telling).sum(axis=1) / np.sqrt(np.maximum(telling.sum(axis=1), 1))
    return np.asarray(score, dtype=np.float64)


def _from_end_to_end(steps: Rows, far: Rows, at: int) -> bool:
    """Whether a line breaks the picture in each third of its length: a wall's upright edge
    ends where the wall does."""
    around = np.median(steps[[at + k for k in _USUAL]], axis=0)
    beside = np.max([steps[at + k] for k in _BESIDE], axis=0)
    telling, breaks = far[0] > DIFFERENT * around + LEAST_DIFFERENT, steps[at] > BREAKS * beside
    thirds = [(telling[part], breaks[part]) for part in np.split(np.arange(PARTS), 3)]
    told = [breaks[telling].mean() for telling, breaks in thirds if telling.sum() >= LEAST_TELLING]
    return len(told) == 3 and min(told) >= SHARE_BROKEN


def _frames(steps: Rows, row: int) -> bool:
    """Whether one side of a row is mostly empty: bars that a screenshot or an editor puts round a photograph."""
    return bool(max((steps[: row - 1] < FLAT).mean(), (steps[row:] < FLAT).mean()) > FRAME)
