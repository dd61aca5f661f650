"""Where the coarse network is asked to the end: its early layers tell nearly all places to be no ball for two fifths of the work.

A weighed sum of what the early layers say of a place is a hint of what the whole network will say (fitted to it,
tests/experiments/ball_sieve.py). The late layers are asked in a few windows about the best hints, and say there what
they would say of the whole picture. Where nothing in them is clearly a ball they are asked everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.convolution import Float32

SIDE, SEES = 18, 5  # cells of a window, and how many around a cell the late layers look at
WINDOWS, BEHIND = 4, 6.0  # at most; none about a hint that is so far behind the best
WORTH = 0.5  # of all cells: windows of more than these are not worth it
CLEAR = 7.0  # logarithm of the odds

Answer = TypeVar("Answer", np.float32, np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """cells: rows and columns of the early layers' answers; answers: of the network's, two by two to a cell, those for which
    all that counts is inside; inner: the same in the window's own answers."""

    cells: tuple[slice, slice]
    answers: tuple[slice, slice]
    inner: tuple[slice, slice]


@cache
def weights() -> Float32:
    """(C,) what `ball_sieve` has written."""
    with (resources.files("photomeasure.seen.centre.ball") / "sieve.npz").open("rb") as file:
        return np.asarray(np.load(file, allow_pickle=False)["weights"], dtype=np.float32)


def hinted(early: Float32, by: Float32) -> Float32:
    """(h, w) of what the early layers say (h, w, C); only differences mean something."""
    rows, columns, channels = early.shape
    return np.asarray((by @ np.moveaxis(early, -1, 0).reshape(channels, -1)).reshape(rows, columns))


def by_cell(answers: NDArray[Answer]) -> NDArray[Answer]:
    """The highest of every two by two answers (2 h, 2 w)."""
    rows, columns = (size // 2 for size in answers.shape)
    return np.asarray(answers.reshape(rows, 2, columns, 2).max(axis=(1, 3)))


def windows(hint: Float32) -> list[Window]:
    """About the best hints (h, w), -inf where no centre can be; none where they would be most of a small picture."""
    if min(hint.shape) < SIDE or not np.isfinite(hint).any():
        return []
    left, found, least = hint.copy(), list[Window](), hint.max() - BEHIND
    while len(found) < WINDOWS:
        at = np.unravel_index(int(left.argmax()), left.shape)
        if not left[at] > least:
            break
        sides = [_side(int(place), size) for place, size in zip(at, left.shape, strict=True)]
        (rows, asked_rows), (columns, asked_columns) = sides
        left[asked_rows, asked_columns] = -np.inf
        found.append(
            Window(
                cells=(rows, columns),
                answers=(_twice(asked_rows, 0), _twice(asked_columns, 0)),
                inner=(_twice(asked_rows, rows.start), _twice(asked_columns, columns.start)),
            )
        )
    return found if len(found) * SIDE**2 < WORTH * hint.size else []


def _side(place: int, size: int) -> tuple[slice, slice]:
    """Along one side of a picture: a window's cells about a place, and those of them that see all that counts."""
    first = min(max(place - SIDE // 2, 0), size - SIDE)
    last = first + SIDE
    return slice(first, last), slice(first if first == 0 else first + SEES, last if last == size else last - SEES)


def _twice(cells: slice, first: int) -> slice:
    return slice(2 * (cells.start - first), 2 * (cells.stop - first))
