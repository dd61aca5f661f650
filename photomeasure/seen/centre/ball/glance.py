"""A first look at a picture: where a ball may be, by what it looks like; and a second look at a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.convolution import Float32
from photomeasure.seen.centre.ball.nets import (
    CLOSE_PX,
    COARSE_PX,
    PATCH,
    STRIDE,
    quick_close_look,
    quick_likeness,
)
from photomeasure.seen.centre.ball.search import Coarse, Region, SearchedPicture, Spot, coarse, radius_map
from photomeasure.seen.centre.ball.sphere import Array

PEAKS = 6
APART = 5  # answers: half a radius and a little more
MAX_BEHIND = 13.0  # of the best place, both looks together: what is further behind is not looked at again
CLOSE_LOOKS = 2  # the second about where the first saw the centre
ERROR_RADII = 0.16  # of the centre that a close look sees


@dataclass(frozen=True)
class Glance:
    """A picture and the part of it in which a ball can be."""

    view: SearchedPicture
    region: Region

    @cached_property
    def fine(self) -> Coarse | None:
        """The region as the close network sees it."""
        return coarse(self.view, self.region, CLOSE_PX)

    def spots(self) -> list[Spot]:
        """The most ball-like places, best first; empty where the ball would be too small to be measured."""
        small = coarse(self.view, self.region, COARSE_PX)
        if small is None or self.fine is None:
            return []
        odds = quick_likeness(small.picture, small.ignored)
        rows, columns = odds.shape
        allowed = small.allowed[: STRIDE * rows : STRIDE, : STRIDE * columns : STRIDE]
        odds[: len(allowed), : allowed.shape[1]][~allowed] = -np.inf
        row, column = peaks(odds, PEAKS)
        if not len(row):
            return []
        likely = odds[row, column].astype(np.float64)
        places = STRIDE * np.stack([column, row], axis=1) + 0.5
        turn, origin = small.px_from_coarse[:, :2], small.px_from_coarse[:, 2]
        px = places @ turn.T + origin
        close = np.zeros(len(px))
        for _ in range(CLOSE_LOOKS):
            kept = likely + close > (likely + close).max() - MAX_BEHIND
            likely, px = likely[kept], px[kept]
            close, aside, radius = self.looked_at(px)
            px = px + np.clip(aside, -1.0, 1.0) * radius[:, None]
        spots = [
            Spot(px=px[i], likeness=float(likely[i]), close=float(close[i]), error_px=ERROR_RADII * float(radius[i]))
            for i in range(len(px))
        ]
        return sorted(spots, key=lambda spot: -spot.close)

    def looked_at(self, centres_px: Sequence[Array] | Array) -> tuple[Array, Array, Array]:
        """A close look at centres (N, 2): logarithm of the odds (N,), where the centre is against each (N, 2), in radii and
        the photograph's directions, and the radius (N,) in its pixels."""
        fine = self.fine
        assert fine is not None
        turn, origin = fine.px_from_coarse[:, :2], fine.px_from_coarse[:, 2]
        centres = np.asarray(centres_px, dtype=np.float64).reshape(-1, 2)
        radius = radius_map(self.view, centres[:, 0], centres[:, 1])
        shrink = float(np.sqrt(abs(np.linalg.det(turn))))
        here = np.linalg.solve(turn, (centres - origin).T).T
        cut = [_patch(fine, place, scale) for place, scale in zip(here, radius / shrink / CLOSE_PX, strict=True)]
        close, aside = quick_close_look(np.stack([one for one, _ in cut]), np.stack([hidden for _, hidden in cut]))
        return close.astype(np.float64), aside.astype(np.float64) @ (turn / shrink).T, radius


def _patch(fine: Coarse, centre: Array, scale: float) -> tuple[Float32, NDArray[np.bool_]]:
    """A square about a place of the fine picture with a ball of CLOSE_PX, and what of it is printed or outside."""
    middle = 0.5 * (PATCH - 1)
    to_fine = np.array([[scale, 0.0, centre[0] - scale * middle], [0.0, scale, centre[1] - scale * middle]])
    flags, size = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, (PATCH, PATCH)
    picture = cv2.warpAffine(fine.picture, to_fine, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    kept = cv2.warpAffine(
        (~fine.ignored).astype(np.float32), to_fine, size, flags=flags, borderMode=cv2.BORDER_CONSTANT
    )
    return np.asarray(picture, dtype=np.float32), kept <= 0.5


def peaks(odds: Float32, count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the highest places (h, w), half a radius apart, best first; -inf is never one."""
    highest = cv2.dilate(odds, np.ones((APART, APART), np.uint8))
    row, column = np.nonzero((odds >= highest) & np.isfinite(odds))
    order = np.argsort(-odds[row, column], kind="stable")[:count]
    return row[order], column[order]
