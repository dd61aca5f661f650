"""A first look at a picture: where a ball may be, by what it looks like; and a second look at a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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
    early_coarse,
    late_coarse,
    quick_close_look,
)
from photomeasure.seen.centre.ball.search import Coarse, Region, SearchedPicture, Spot, Turned, radius_map, turned
from photomeasure.seen.centre.ball.sieve import CLEAR, by_cell, hinted, weights, windows
from photomeasure.seen.centre.ball.sphere import Array

PEAKS = 6
APART = 5  # answers: half a radius and a little more
MAX_BEHIND = 13.0  # of the best place, both looks together: what is further behind is not looked at again
FAR_RADII = 0.3  # a centre that a close look sees so far aside is looked at again: nearer, that tells it no better
ERROR_RADII = 0.16  # of the centre that a close look sees


@dataclass(frozen=True)
class Glance:
    """A picture and the part of it in which a ball can be."""

    view: SearchedPicture
    region: Region

    @cached_property
    def fine(self) -> Turned | None:
        """The region as the close network sees it."""
        return turned(self.view, self.region, CLOSE_PX)

    def spots(self) -> list[Spot]:
        """The most ball-like places, best first; empty where the ball would be too small to be measured."""
        small = turned(self.view, self.region, COARSE_PX)
        if small is None or self.fine is None:
            return []
        whole = small.part()
        odds = sieved_likeness(whole, small.allowed() & ~whole.ignored)
        row, column = peaks(odds, PEAKS)
        if not len(row):
            return []
        likely = odds[row, column].astype(np.float64)
        places = STRIDE * np.stack([column, row], axis=1) + 0.5
        turn, origin = small.px_from_turned[:, :2], small.px_from_turned[:, 2]
        px = places @ turn.T + origin
        kept = likely > likely.max() - MAX_BEHIND
        likely, px = likely[kept], px[kept]
        close, aside, radius = self.looked_at(px)
        px = px + np.clip(aside, -1.0, 1.0) * radius[:, None]
        kept = likely + close > (likely + close).max() - MAX_BEHIND
        likely, px, close, aside, radius = (some[kept] for some in (likely, px, close, aside, radius))
        far = np.hypot(aside[:, 0], aside[:, 1]) > FAR_RADII
        if far.any():
            close[far], aside, radius[far] = self.looked_at(px[far])
            px[far] += np.clip(aside, -1.0, 1.0) * radius[far, None]
        spots = [
            Spot(px=px[i], likeness=float(likely[i]), close=float(close[i]), error_px=ERROR_RADII * float(radius[i]))
            for i in range(len(px))
        ]
        return sorted(spots, key=lambda spot: -spot.close)

    def again(self, spots: Sequence[Spot]) -> list[Spot]:
        """The places after another close look at each."""
        px = np.array([spot.px for spot in spots])
        close, aside, radius = self.looked_at(px)
        px = px + np.clip(aside, -1.0, 1.0) * radius[:, None]
        looked = [replace(spot, px=px[i], close=float(close[i])) for i, spot in enumerate(spots)]
        return sorted(looked, key=lambda spot: -spot.close)

    def looked_at(self, centres_px: Sequence[Array] | Array) -> tuple[Array, Array, Array]:
        """A close look at centres (N, 2): logarithm of the odds (N,), where the centre is against each (N, 2), in radii and
        the photograph's directions, and the radius (N,) in its pixels."""
        fine = self.fine
        assert fine is not None
        turn, origin = fine.px_from_turned[:, :2], fine.px_from_turned[:, 2]
        centres = np.asarray(centres_px, dtype=np.float64).reshape(-1, 2)
        radius = radius_map(self.view, centres[:, 0], centres[:, 1])
        shrink = float(np.sqrt(abs(np.linalg.det(turn))))
        here = np.linalg.solve(turn, (centres - origin).T).T
        cut = [_patch(fine, place, scale) for place, scale in zip(here, radius / shrink / CLOSE_PX, strict=True)]
        close, aside = quick_close_look(np.stack([one for one, _ in cut]), np.stack([hidden for _, hidden in cut]))
        return close.astype(np.float64), aside.astype(np.float64) @ (turn / shrink).T, radius


def sieved_likeness(whole: Coarse, allowed: NDArray[np.bool_]) -> Float32:
    """`nets.likeness` (h, w) where a centre may be (`allowed`, of the picture's pixels) and where the answer counts; -inf elsewhere."""
    early = early_coarse(whole.picture, whole.ignored)
    shape = 2 * early.shape[0], 2 * early.shape[1]
    free = allowed_answers(allowed, shape)
    hint = hinted(early, weights())
    hint[~(by_cell(free))] = -np.inf
    if those := windows(hint):
        odds = np.full(shape, -np.inf, dtype=np.float32)
        for window, said in zip(those, late_coarse(np.stack([early[window.cells] for window in those])), strict=True):
            odds[window.answers] = said[window.inner]
        odds[~free] = -np.inf
        if odds.max() >= CLEAR:
            return odds
    odds = np.asarray(late_coarse(early[None])[0])
    odds[~free] = -np.inf
    return odds


def allowed_answers(allowed: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Which of the coarse network's answers (h, w) are of places where a centre may be: allowed (H, W), of its picture's pixels."""
    answers = np.ones(shape, dtype=np.bool_)
    some = allowed[: STRIDE * shape[0] : STRIDE, : STRIDE * shape[1] : STRIDE]
    answers[: some.shape[0], : some.shape[1]] = some
    return answers


def _patch(fine: Turned, centre: Array, scale: float) -> tuple[Float32, NDArray[np.bool_]]:
    """A square about a place of the fine picture with a ball of CLOSE_PX, and what of it is printed or outside."""
    middle = 0.5 * (PATCH - 1)
    low = np.clip(np.floor(centre - scale * middle).astype(int) - 1, 0, np.array(fine.size) - 1)
    high = np.clip(np.ceil(centre + scale * middle).astype(int) + 2, low + 1, fine.size)
    about = fine.part((int(low[0]), int(low[1])), (int(high[0]), int(high[1])))
    x, y = centre - low - scale * middle
    to_part, flags = np.array([[scale, 0.0, x], [0.0, scale, y]]), cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    free = (~about.ignored).astype(np.float32)
    picture = cv2.warpAffine(about.picture, to_part, (PATCH, PATCH), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    kept = cv2.warpAffine(free, to_part, (PATCH, PATCH), flags=flags, borderMode=cv2.BORDER_CONSTANT)
    return np.asarray(picture, dtype=np.float32), kept <= 0.5


def peaks(odds: Float32, count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the highest places (h, w), half a radius apart, best first; -inf is never one."""
    highest = cv2.dilate(odds, np.ones((APART, APART), np.uint8))
    row, column = np.nonzero((odds >= highest) & np.isfinite(odds))
    order = np.argsort(-odds[row, column], kind="stable")[:count]
    return row[order], column[order]
