"""How likely a box holds a mark, a doubtful something, or nothing: small convolutional networks over its look.

Fitted to drawn sheets by `tests/experiments/boxes_training.py`; the chances that they give are averaged, so that one which is
sure by accident is outvoted. They decide only whether a box counts as ticked, empty or
unreadable; what no box of the drawn sheets looked like is not known to them, which is why one clear mark beside clearly empty
boxes of the same question is asked for before anything is taken (`read`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Single = NDArray[np.float32]

EMPTY, MARK, DOUBTFUL = range(3)
MOST_SURE = 12.0  # of the odds' logarithm, either way: the network is not that sure


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkNets:
    """M networks: two convolutions with a stride of two, a layer of units, an output each for nothing, a mark, something doubtful.

    first (M, F, 3, 5, 5), second (M, G, F, 3, 3), inner (M, H, G * rows * columns), out (M, 3, H); their offsets (M, F), (M, G),
    (M, H), (M, 3).
    """

    first: Single
    first_offset: Single
    second: Single
    second_offset: Single
    inner: Single
    inner_offset: Single
    out: Single
    out_offset: Single

    def chances(self, looks: Single) -> NDArray[np.float64]:  # (N, 3), of nothing, a mark, something doubtful
        """Of looks (N, 3, GRID, GRID)."""
        return np.asarray(np.mean([self._of_one(net, looks) for net in range(len(self.first))], axis=0))

    def _of_one(self, net: int, looks: Single) -> NDArray[np.float64]:
        one = _convolved(looks, self.first[net], self.first_offset[net])
        two = _convolved(one, self.second[net], self.second_offset[net])
        inner = np.maximum(two.reshape(len(looks), -1) @ self.inner[net].T + self.inner_offset[net], 0.0)
        scores = (inner @ self.out[net].T + self.out_offset[net]).astype(np.float64)
        weights = np.exp(np.maximum(scores - scores.max(axis=1, keepdims=True), -MOST_SURE))
        return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _convolved(maps: Single, weights: Single, offset: Single) -> Single:
    """(N, C, R, R) and (F, C, K, K) to (N, F, R / 2, R / 2): zeros around, every second place, nothing below zero."""
    side = weights.shape[2]
    pad = side // 2
    padded = np.pad(maps, ((0, 0), (0, 0), (pad, pad), (pad, pad)))
    windows = sliding_window_view(padded, (side, side), axis=(2, 3))[:, :, ::2, ::2]
    n, c, rows, columns = windows.shape[:4]
    flat = windows.transpose(0, 2, 3, 1, 4, 5).reshape(n * rows * columns, c * side * side)
    summed = flat @ weights.reshape(len(weights), -1).T + offset
    return np.ascontiguousarray(np.maximum(summed, 0.0).reshape(n, rows, columns, -1).transpose(0, 3, 1, 2))


@cache
def mark_nets() -> MarkNets:
    """What `boxes_training` has written."""
    with (resources.files("photomeasure.seen.answers") / "marks.npz").open("rb") as file:
        stored = dict(np.load(file, allow_pickle=False))
    return MarkNets(**{name: np.asarray(value, dtype=np.float32) for name, value in stored.items()})
