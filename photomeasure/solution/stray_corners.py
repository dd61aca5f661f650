"""Corners that do not fit: which of them go, in rounds, so that one far off takes no good ones with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import Scene
from photomeasure.solution.model import Layout
from photomeasure.solution.rows import Rows, rows

OUTLIER_SIGMAS = 4.5
MIN_KEPT = 8
# Corners that were moved together, and how far one may lie off their common way, of its length
MIN_TOGETHER, ALIKE = 4, 0.4

Masks = tuple[NDArray[np.bool_], ...]  # (N,) of every sheet's and then of every marker view's corners: kept or not


def all_kept(scene: Scene) -> Masks:
    """Nothing dropped yet."""
    counts = [len(view.px) for view in scene.planes] + [len(view.px) for view in scene.markers]
    return tuple(np.ones(count, dtype=np.bool_) for count in counts)


def keep_fitting(found: Rows, kept: Masks) -> Masks:
    """Corners further than `OUTLIER_SIGMAS` robust standard deviations from where the solution puts them go.

    found: rows of all corners, of those that were dropped too, at a solution without these. One far off bends the solution
    and makes good ones look bad, so a round drops those at least half as far off as the worst that is still in, and takes
    back what fits again.
    """
    off, limits = [], []
    for mask, place in zip(kept, (*found.places.planes, *found.places.markers), strict=True):
        own = np.abs(found.residual[place]).reshape(-1, 2)
        limits.append(OUTLIER_SIGMAS * max(1.0, 1.4826 * float(np.median(own[mask]))))
        off.append(own.max(axis=1))
    over = [distance[mask & (distance > limit)] for distance, mask, limit in zip(off, kept, limits, strict=True)]
    worst = max((float(part.max()) for part in over if len(part)), default=0.0)
    result = []
    for distance, mask, limit in zip(off, kept, limits, strict=True):
        keep = (distance <= limit) | (mask & (distance < 0.5 * worst))
        result.append(keep if keep.sum() >= min(MIN_KEPT, len(keep)) else np.ones(len(keep), dtype=np.bool_))
    return tuple(result)


def moved_together(given: Scene, kept: Masks, where: Layout, x: NDArray[np.float64]) -> int:
    """How many corners of one sheet that do not fit lie off by one and the same way: part of the picture was moved, not single
    corners hidden or smudged. 0 where they lie off each its own way."""
    found, most = rows(given, where, x), 0
    for view, mask, own in zip(given.planes, kept, found.places.planes, strict=False):
        off = found.residual[own].reshape(-1, 2)[~mask] * view.sigma_px[~mask, None]
        if len(off) < MIN_TOGETHER:
            continue
        way = np.median(off, axis=0)
        alike = np.linalg.norm(off - way, axis=1) < ALIKE * np.linalg.norm(way)
        if alike.mean() > 0.5:
            most = max(most, int(alike.sum()))
    return most if most >= MIN_TOGETHER else 0


def only_kept(given: Scene, kept: Masks) -> Scene:
    """The scene without the corners that were dropped."""
    planes = tuple(view.only(keep) for view, keep in zip(given.planes, kept, strict=False))
    markers = tuple(view.only(keep) for view, keep in zip(given.markers, kept[len(given.planes) :], strict=True))
    return replace(given, planes=planes, markers=markers)
