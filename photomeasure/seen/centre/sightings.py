"""The coupling's centre as it was seen, as data."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from photomeasure.scene.scene import OutlineView, PlaneView, PointView

Way = Literal["pick", "tag", "ball", "carried"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sightings:
    """Observations of the centre; centre_px has one (2,) a photograph, None where it was not seen.

    hidden: the centre itself is not seen: a tag or a mark on what hides it. centre_tag: the id of that tag.
    bars: views of the tags on the tow bar; bar_tags: their ids, the one first by whose frame the centre is carried.
    earlier: what photographs from before show, where there are some. others: ways that were not used, still to be compared
    with a centre that only the solution tells. checks: comparisons with the ways that were not used, as
    sentences; contradictions: those that do not agree. remarks: what the person should know of the mark.
    """

    way: Way
    centre_px: tuple[NDArray[np.float64] | None, ...]
    points: tuple[PointView, ...] = ()
    tags: tuple[PlaneView, ...] = ()
    outlines: tuple[OutlineView, ...] = ()
    bars: tuple[PlaneView, ...] = ()
    bar_tags: tuple[int, ...] = ()
    earlier: Sightings | None = None
    others: tuple[Sightings, ...] = ()
    hidden: bool = False
    centre_tag: int | None = None
    checks: tuple[str, ...] = ()
    contradictions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    looks_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """No way shows the centre: why, and what could be it, best first, in each photograph."""

    refusal: Refusal
    candidates_px: tuple[tuple[NDArray[np.float64], ...], ...] = ()


def without_photos(sightings: Sightings, photos: Collection[int]) -> Sightings:
    """The sightings without those of some photographs."""
    if not photos:
        return sightings
    return replace(
        sightings,
        centre_px=tuple(None if photo in photos else px for photo, px in enumerate(sightings.centre_px)),
        points=tuple(view for view in sightings.points if view.photo not in photos),
        tags=tuple(view for view in sightings.tags if view.photo not in photos),
        outlines=tuple(view for view in sightings.outlines if view.photo not in photos),
        bars=tuple(view for view in sightings.bars if view.photo not in photos),
        earlier=None if sightings.earlier is None else without_photos(sightings.earlier, photos),
    )
