"""Where labels go: where least is in the way, never over the coupling. Boxes are (left, top, right, bottom)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]

FORBIDDEN = 1e6
_GRID = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """A box, and the cost of covering it with the whole of the label, or of covering all of it, whichever comes first.

    `FORBIDDEN`: nothing may cover any of it.
    """

    box: Box
    cost: float


def box_around(points: Array, margin: float = 0.0) -> Box:
    """The upright box around points (N, 2)."""
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return float(left - margin), float(top - margin), float(right + margin), float(bottom + margin)


def along(points: Array, width: float, cost: float, pieces: int = 12) -> list[Obstacle]:
    """A line (N, 2) as a row of small boxes, so that a slanted one does not claim all of its bounding box."""
    if len(points) < 2:
        return []
    steps = np.array_split(np.arange(len(points)), min(pieces, max(1, len(points) - 1)))
    pieces_of = [points[max(0, step[0] - 1) : step[-1] + 1] for step in steps]
    return [Obstacle(box=box_around(piece, width / 2), cost=cost / len(steps)) for piece in pieces_of]


def overlap(box: Box, other: Box) -> float:
    """Area that two boxes share."""
    wide = min(box[2], other[2]) - max(box[0], other[0])
    high = min(box[3], other[3]) - max(box[1], other[1])
    return max(0.0, wide) * max(0.0, high)


def free(middle: Array, size: tuple[float, float], room: Box, obstacles: Sequence[Obstacle]) -> Box | None:
    """The box around a point, where it is inside the room and covers nothing that is forbidden."""
    left, top = (float(value) for value in middle - np.array(size) / 2)
    box = (left, top, left + size[0], top + size[1])
    inside = left >= room[0] and top >= room[1] and box[2] <= room[2] and box[3] <= room[3]
    clear = all(overlap(box, obstacle.box) == 0.0 for obstacle in obstacles if obstacle.cost >= FORBIDDEN)
    return box if inside and clear else None


def place(
    size: tuple[float, float], near: Array, room: Box, obstacles: Sequence[Obstacle], *, pull: float = 1.0
) -> Box | None:
    """The box of `size` inside `room` that covers least and is nearest to the point `near` (2,).

    pull: cost of a distance of one box width. None where no place is allowed.
    """
    width, height = size
    if width > room[2] - room[0] or height > room[3] - room[1]:
        return None
    lefts, tops = np.meshgrid(
        np.linspace(room[0], room[2] - width, _GRID), np.linspace(room[1], room[3] - height, _GRID)
    )
    gap_x = np.maximum(np.maximum(lefts - near[0], near[0] - lefts - width), 0.0)
    gap_y = np.maximum(np.maximum(tops - near[1], near[1] - tops - height), 0.0)
    cost = pull * np.hypot(gap_x, gap_y) / width
    for obstacle in obstacles:
        left, top, right, bottom = obstacle.box
        wide = np.minimum(lefts + width, right) - np.maximum(lefts, left)
        high = np.minimum(tops + height, bottom) - np.maximum(tops, top)
        shared = np.maximum(wide, 0.0) * np.maximum(high, 0.0)
        if obstacle.cost >= FORBIDDEN:
            cost = np.where(shared > 0.0, np.inf, cost)
        else:
            cost = cost + obstacle.cost * shared / max(min((right - left) * (bottom - top), width * height), 1.0)
    best = int(np.argmin(cost))
    if not np.isfinite(cost.flat[best]):
        return None
    left, top = float(lefts.flat[best]), float(tops.flat[best])
    return left, top, left + width, top + height
