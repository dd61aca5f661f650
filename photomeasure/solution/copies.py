"""A photograph that is another one once more: it keeps its camera's place in the scene and tells nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import MarkerView, PlaneView, Scene

NOTHING_TOLD = 1000.0  # times the uncertainty that was claimed: a millionth of the weight
KEPT = 8  # points of a view: enough for its camera's place, and too few to vouch for the noise of the others


def without_copies(scene: Scene, copies: Sequence[bool]) -> Scene:
    """The scene in which what copies show has no weight. copies: of each photograph."""
    if not any(copies):
        return scene
    return replace(
        scene,
        planes=tuple(_plane(view) if copies[view.photo] else view for view in scene.planes),
        points=tuple(
            replace(view, sigma_px=view.sigma_px * NOTHING_TOLD) if copies[view.photo] else view
            for view in scene.points
        ),
        outlines=tuple(
            replace(view, sigma_px=view.sigma_px * NOTHING_TOLD) if copies[view.photo] else view
            for view in scene.outlines
        ),
        markers=tuple(_markers(view) if copies[view.photo] else view for view in scene.markers),
    )


def _some(count: int) -> NDArray[np.int64]:
    """Numbers of at most KEPT points, spread over all."""
    return np.unique(np.linspace(0, count - 1, min(KEPT, count)).round().astype(np.int64))


def _plane(view: PlaneView) -> PlaneView:
    some = view.only(_some(len(view.px)))
    return replace(some, sigma_px=some.sigma_px * NOTHING_TOLD)


def _markers(view: MarkerView) -> MarkerView:
    some = view.only(_some(len(view.px)))
    survey_px = None if some.survey_px is None else some.survey_px * NOTHING_TOLD
    return replace(some, sigma_px=some.sigma_px * NOTHING_TOLD, survey_px=survey_px)
