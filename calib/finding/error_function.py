"""The error function of whole arrays: five times as quick as scipy's in single precision, and without loading it.

An odd rational function of the fifth degree in the square, fitted to the largest error (2e-8) by `tests/experiments/erf_fit.py`;
with what single precision rounds off it is within 5e-7 of the truth, one part in ten thousand of a grey level.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Precision = TypeVar("Precision", np.float32, np.float64)

END = 3.95  # from here on the error function is one
_ABOVE = (2.01174026e-06, 2.87600463e-04, 3.91731742e-03, 5.32070592e-02, 1.94035703e-01, 1.12837901)
_BELOW = (3.78396783e-05, 1.19820045e-03, 1.52707016e-02, 1.15590756e-01, 5.05291152e-01, 1.0)


def erf(x: NDArray[Precision]) -> NDArray[Precision]:
    """The error function of each x, any shape, in its own precision."""
    x = np.clip(x, -END, END)
    square = x * x
    above, below = _ABOVE[0] * square, _BELOW[0] * square
    for up, down in zip(_ABOVE[1:-1], _BELOW[1:-1], strict=True):
        above += up
        above *= square
        below += down
        below *= square
    above += _ABOVE[-1]
    above *= x
    below += _BELOW[-1]
    above /= below
    return above


def normal_below(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """The share of a normal distribution below each x, any shape, to 1e-8."""
    share: NDArray[np.float64] = 0.5 + 0.5 * erf(x * math.sqrt(0.5))
    return share
