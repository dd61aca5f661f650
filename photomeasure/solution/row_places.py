"""Which rows of a solution are whose, by name, so that nobody else has to know their order."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, islice, pairwise

from photomeasure.scene.scene import Scene
from photomeasure.solution.model import Layout, camera_parameters, shared_markers


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlaces:
    """Of each view, in the scene's order, the rows that it is by; of what was known before one row a number.

    cameras: each of `model.camera_parameters`; survey: three of each surveyed point whose error is an unknown; priors: of
    the scene, in its order.
    """

    planes: tuple[slice, ...]
    points: tuple[slice, ...]
    markers: tuple[slice, ...]
    outlines: tuple[slice, ...]
    lines: tuple[slice, ...]
    cameras: range
    survey: range
    priors: range


def row_places(scene: Scene, where: Layout) -> RowPlaces:
    """Where the rows of a scene stand: two of each point in a picture, one of each point of an outline, then what was known."""
    # a layout that was made after corners were dropped does not have all points
    surveyed = sum(f"{name}.x" in where.index for name in shared_markers(scene))
    sizes = {
        "planes": [view.px.size for view in scene.planes],
        "points": [view.px.size for view in scene.points],
        "markers": [view.px.size for view in scene.markers],
        "outlines": [len(view.px) for view in scene.outlines],
        "lines": [view.px.size for view in scene.lines],
        "known": [sum(1 for _ in camera_parameters(scene)), 3 * surveyed, len(scene.priors)],
    }
    ends = accumulate((size for kind in sizes.values() for size in kind), initial=0)
    rows = (slice(first, end) for first, end in pairwise(ends))
    of = {kind: tuple(islice(rows, len(counts))) for kind, counts in sizes.items()}
    cameras, survey, priors = (range(known.start, known.stop) for known in of.pop("known"))
    return RowPlaces(**of, cameras=cameras, survey=survey, priors=priors)
