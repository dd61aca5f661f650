"""From what was found in the photographs to a scene that the estimator can solve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from calib.finder import FoundSheet
from photomeasure.estimate import Estimate
from photomeasure.priors import (
    Bars,
    ball_priors,
    depth_prior,
    ground_prior,
    ground_sheet_priors,
    print_priors,
    sheet_priors,
    tag_priors,
)
from photomeasure.scene import CameraPrior, PlaneView, Prior, Scene

if TYPE_CHECKING:
    from photomeasure.centre.sightings import Sightings
    from photomeasure.pipeline import Request, View

SIGMA_FLOOR_PX = 0.02  # paper, print and lens are never better than this


def _plane_view(photo: int, found: FoundSheet) -> PlaneView:
    return PlaneView(
        photo=photo,
        plane="upright" if found.sheet.role == "upright" else "ground",
        local_mm=found.sheet.local_mm(found.sheet.points_mm[found.index]),
        px=found.points_px,
        sigma_px=np.maximum(found.sigma_px, SIGMA_FLOOR_PX),
    )


def cameras_of(views: Sequence[View]) -> tuple[tuple[CameraPrior, ...], tuple[int, ...]]:
    """One camera for all photographs that were taken alike (same file facts and size), as they share its errors."""
    keys: list[tuple[object, ...]] = []
    cameras: list[CameraPrior] = []
    camera_of: list[int] = []
    for view in views:
        key = (view.photo.facts, view.camera.size_px)
        if key not in keys:
            keys.append(key)
            cameras.append(view.camera)
        camera_of.append(keys.index(key))
    return tuple(cameras), tuple(camera_of)


def _sheets(views: Sequence[View], bars: Bars) -> tuple[list[PlaneView], list[Prior]]:
    planes = [_plane_view(photo, found) for photo, view in enumerate(views) for found in view.finding.sheets]
    priors = [*print_priors(bars), *sheet_priors()]
    if any(plane.plane == "ground" for plane in planes):
        priors += ground_sheet_priors()
    return planes, priors


def pose_scene(views: Sequence[View], bars: Bars) -> Scene:
    """Only the sheets: tells where the cameras stood. The measurand is a formality (the foot gap)."""
    cameras, camera_of = cameras_of(views)
    planes, priors = _sheets(views, bars)
    return Scene(
        cameras=cameras, camera_of=camera_of, planes=tuple(planes), priors=tuple(priors), measurand={"sheet.gap": 1.0}
    )


def measuring_scene(views: Sequence[View], sightings: Sightings, request: Request, *, distance_mm: float) -> Scene:
    """Sheets and centre. distance_mm: along the ground from the foot line to the coupling."""
    cameras, camera_of = cameras_of(views)
    planes, priors = _sheets(views, request.bars)
    measurand = {"centre.z": 1.0, "ground.rise": -1.0}
    priors.append(ground_prior(distance_mm, known_level=request.state.level_ground is not False))
    if sightings.source == "tag":
        planes += sightings.tags
        priors += tag_priors()
        measurand["tag.placement"] = 1.0
    else:
        priors.append(depth_prior())
    if sightings.source == "ball":
        priors += ball_priors(request.ball_diameter_mm)
    return Scene(
        cameras=cameras,
        camera_of=camera_of,
        planes=tuple(planes),
        points=sightings.points if sightings.source == "pick" else (),
        outlines=sightings.outlines if sightings.source == "ball" else (),
        priors=tuple(priors),
        measurand=measurand,
    )


def ground_distance_mm(solved: Estimate) -> float:
    """How far the coupling stands from the middle of the foot line, along the ground."""
    return float(np.hypot(solved.value("centre.x"), solved.value("centre.y")))
