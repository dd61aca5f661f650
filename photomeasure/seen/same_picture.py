"""One picture given twice: sent on, shrunk or coded again. A second look at the same pixels tells nothing new."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.seen.image import Photo

LONG_SIDE_PX = 320  # both are compared so small: noise and coding are gone, a step aside by a hand's breadth is not
# copies of one picture, shrunk to 800 px and coded at quality 50: 0.986 and more; a camera that moved by 4 pixels of 4000
# between two: 0.90 (structural similarity: Z. Wang et al., IEEE Transactions on Image Processing 13, 2004)
SAME_SSIM = 0.96
WORTH_A_LOOK = 0.97  # correlation below which nobody would take them for one: the measure itself takes time to load


def saved_twice(photos: Sequence[Photo]) -> tuple[str, ...]:
    """A sentence for each pair of photographs that are one picture; empty where all are pictures of their own."""
    small = [_small(photo.grey) for photo in photos] if len(photos) > 1 else []
    return tuple(
        said(
            "{path} and {path2} are one and the same picture, saved twice or taken twice from one spot: "
            "together they tell no more than one of them, and the interval is too narrow by that. Leave one "
            "out, or photograph from another side.",
            path=photos[one].path.name,
            path2=photos[other].path.name,
        )
        for one, other in combinations(range(len(photos)), 2)
        if _same(small[one], small[other])
    )


def _small(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    scale = LONG_SIDE_PX / max(grey.shape)
    size = round(grey.shape[1] * scale), round(grey.shape[0] * scale)
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _same(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> bool:
    if one.shape != other.shape or np.corrcoef(one.ravel(), other.ravel())[0, 1] < WORTH_A_LOOK:
        return False
    from skimage.metrics import structural_similarity

    return float(structural_similarity(one, other)) >= SAME_SSIM  # type: ignore[no-untyped-call]
