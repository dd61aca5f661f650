"""One picture given twice: sent on, cut, shrunk or coded again. A second look at the same pixels tells nothing new.

Two ways of telling, either is enough. The pictures themselves, where neither was cut: their structural similarity at a small size.
The sheet in them, however they were cut, shrunk, turned or toned: the four outermost saddles, rid of place, size and turn, are alike
to a fraction of a pixel only where the lens looked from one and the same spot (or was moved and not turned at all, and then what
is before and behind the sheet has moved, so the surroundings are compared too).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.shrink import shrunk
from calib.words.said import said
from photomeasure.seen.image import Photo

if TYPE_CHECKING:
    from calib.finding.sheets import FoundSheet
    from photomeasure.seen.look import View

LONG_SIDE_PX = 320  # both are compared so small: noise and coding are gone, a step aside by a hand's breadth is not
STILL_BY_AREA = (
    8.0  # so many times as large it is halved first: a third of the time, for the same picture to a grey level or two
)
# copies of one picture, shrunk to 800 px and coded at quality 50: 0.986 and more; a camera that moved by 4 pixels of 4000
# between two: 0.90 (structural similarity: Z. Wang et al., IEEE Transactions on Image Processing 13, 2004)
SAME_SSIM = 0.96
WORTH_A_LOOK = 0.97  # correlation below which nobody would take them for one: the measure itself takes time to load
SAME_SHAPE_PX = (
    0.3  # of the smaller picture; a hand that moved by 20 mm at 2 m and aimed again changes it by three times as much
)
SAME_AROUND = 0.9  # correlation of what is around the sheet, laid over each other by its corners; toned copies reach it
ELSEWHERE = 0.02  # of the long side: five times as far as moves the measure to 0.90 where a picture has any texture
LEAST_COMMON = 0.05  # of the picture

Corners = NDArray[np.float64]


def outermost_px(found: FoundSheet) -> Corners:
    """(4, 2) where the corners of the sheet's field of saddles are in the picture, by all that were measured."""
    low, high = found.sheet.points_mm.min(axis=0), found.sheet.points_mm.max(axis=0)
    page = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]], dtype=np.float64)
    return np.asarray(cv2.perspectiveTransform(page[None], found.px_from_page)[0], dtype=np.float64)


def in_their_own_frame(corners_px: Corners, px: Corners) -> Corners:
    """(N, 2) points with the first of four corners as origin and the diagonal from it as unit: no place, size or turn is left."""
    first, across = corners_px[0], corners_px[2] - corners_px[0]
    off = px - first
    along = off @ across
    aside = off[:, 1] * across[0] - off[:, 0] * across[1]
    return np.stack([along, aside], axis=1) / float(across @ across)


def same_shape(one_px: Corners, other_px: Corners) -> bool:
    """Whether two pictures show a sheet's four corners (4, 2) as from one and the same spot."""
    apart = in_their_own_frame(one_px, one_px) - in_their_own_frame(other_px, other_px)
    diagonal_px = min(float(np.linalg.norm(corners[2] - corners[0])) for corners in (one_px, other_px))
    return bool(np.abs(apart).max() * diagonal_px < SAME_SHAPE_PX)


def saved_twice(photos: Sequence[Photo], corners_px: Sequence[Corners | None] = ()) -> tuple[tuple[int, int], ...]:
    """Each pair of photographs that are one picture; empty where all are pictures of their own.

    corners_px: of the upright sheet in each photograph (`outermost_px`), where it is seen.
    """
    small: dict[int, NDArray[np.uint8]] = {}
    sheets = [*corners_px, *[None] * (len(photos) - len(corners_px))]
    found = []
    for one, other in combinations(range(len(photos)), 2):
        of_one, of_other = sheets[one], sheets[other]
        alike = (
            of_one is not None
            and of_other is not None
            and same_shape(of_one, of_other)
            and _same_around(photos[one].grey, of_one, photos[other].grey, of_other)
        )
        if alike:
            found.append((one, other))
            continue
        if of_one is not None and of_other is not None and _elsewhere(photos[one], of_one, photos[other], of_other):
            continue
        for number in {one, other} - small.keys():
            small[number] = _small(photos[number].grey)
        if _same(small[one], small[other]):
            found.append((one, other))
    return tuple(found)


def _elsewhere(one: Photo, one_px: Corners, other: Photo, other_px: Corners) -> bool:
    """Whether the sheet is plainly at another place of the two pictures: a copy that was not cut has it where it was."""
    apart = one_px / max(one.size_px) - other_px / max(other.size_px)
    return bool(np.abs(apart).max() > ELSEWHERE)


def _same_around(one: NDArray[np.uint8], one_px: Corners, other: NDArray[np.uint8], other_px: Corners) -> bool:
    """Whether what both pictures show around the sheet is the same, the second laid over the first by the sheet's corners."""
    small = _small(one)
    scale = small.shape[1] / one.shape[1]
    to, of = ((px[:, 0] + 1j * px[:, 1]) for px in (one_px * scale, other_px * scale))
    turn = (to[2] - to[0]) / (of[2] - of[0])
    move = to[0] - turn * of[0]
    onto = np.array([[turn.real, -turn.imag, move.real], [turn.imag, turn.real, move.imag]])
    size = (max(1, round(other.shape[1] * scale)), max(1, round(other.shape[0] * scale)))
    seen = cv2.resize(other, size, interpolation=cv2.INTER_AREA)
    laid = cv2.warpAffine(seen, onto, small.shape[::-1], flags=cv2.INTER_LINEAR)
    there = cv2.warpAffine(np.full_like(seen, 255), onto, small.shape[::-1], flags=cv2.INTER_NEAREST)
    common: NDArray[np.bool_] = cv2.fillConvexPoly(there, np.rint(one_px * scale).astype(np.int32), 0) > 0
    if common.mean() < LEAST_COMMON:
        return False
    return bool(np.corrcoef(small[common], laid[common])[0, 1] > SAME_AROUND)


def counted_once(views: Sequence[View]) -> tuple[tuple[View, ...], tuple[str, ...]]:
    """The views, all but the largest of each picture marked as copies of it; and a sentence for each pair."""
    sheets = [view.finding.of_role("upright") for view in views]
    photos = [view.photo for view in views]
    pairs = saved_twice(photos, [None if sheet is None else outermost_px(sheet) for sheet in sheets])
    copies = {
        min(pair, key=lambda number: (photos[number].grey.size, -number))
        for pair in pairs
        if views[pair[0]].before is views[pair[1]].before
    }
    sentences = tuple(
        said(
            "{path} and {path2} are one and the same picture, saved twice or taken twice from one spot: together they tell no "
            "more than one of them, and they count as one. A second look has to be from another side.",
            path=photos[one].path.name,
            path2=photos[other].path.name,
        )
        for one, other in pairs
    )
    return tuple(replace(view, copy=True) if i in copies else view for i, view in enumerate(views)), sentences


def _small(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    scale = LONG_SIDE_PX / max(grey.shape)
    size = round(grey.shape[1] * scale), round(grey.shape[0] * scale)
    height, width = grey.shape
    while width % 2 == 0 and height % 2 == 0 and min(width / size[0], height / size[1]) >= STILL_BY_AREA:
        width, height = width // 2, height // 2
    grey = shrunk(grey, (width, height))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _same(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> bool:
    if one.shape != other.shape or np.corrcoef(one.ravel(), other.ravel())[0, 1] < WORTH_A_LOOK:
        return False
    from skimage.metrics import structural_similarity

    return float(structural_similarity(one, other)) >= SAME_SSIM  # type: ignore[no-untyped-call]
