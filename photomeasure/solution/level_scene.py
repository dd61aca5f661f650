"""The scene of a trailer's level: sheets as ever, and to them the trailer's side with its ground line and its rail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from calib.words.said import said
from photomeasure.scene.ground import side_priors
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import BETWEEN, LineName, LineView, Prior, Scene
from photomeasure.scene.second import Apart
from photomeasure.solution.scene_of import pose_scene
from photomeasure.solution.second_sheet import apart_of

if TYPE_CHECKING:
    from photomeasure.asked.level import LevelRequest
    from photomeasure.seen.look import View

# The estimator's figures are millimetres to two digits; a pitch in hundredths of a degree has as many.
PER_DEGREE = 100.0
PITCH = {"side.pitch": PER_DEGREE / DEG}


def level_scene(views: Sequence[View], asked: LevelRequest) -> Scene:
    """Everything that is seen and known; the measurand is the pitch in hundredths of a degree, right end up positive."""
    sheets = pose_scene(views, asked.request)
    return with_side(sheets, asked)


def with_side(sheets: Scene, asked: LevelRequest) -> Scene:
    """A scene of sheets with the marks of the trailer's side in it."""
    request = asked.request
    picked = (asked.pick_u_px,) * len(asked.ground_px)
    marks: tuple[tuple[LineName, tuple[tuple[float, float], ...], tuple[float, ...], str], ...] = (
        ("ground", asked.ground_px, picked, "marks on the ground"),
        (
            "rail",
            asked.rail_px,
            asked.rail_u_px or picked,
            "tags on the rail" if asked.rail_tags else "marks on the rail",
        ),
    )
    lines = tuple(
        LineView(
            photo=photo, line=line, px=np.array(px[2 * photo : 2 * photo + 2]),
            sigma_px=np.array(u_px[2 * photo : 2 * photo + 2]), quantity=quantity,
        )
        for photo in range(sheets.n_photos)
        for line, px, u_px, quantity in marks
    )  # fmt: skip
    known = side_priors(flat=request.state.level_ground is True, level_within_mm_per_m=request.level_within_mm_per_m)
    apart = apart_of(sheets.cameras, sheets.camera_of, sheets.planes)
    if apart is not None:
        known = [_along_feet(prior, apart) if "side.slope" in prior.coefficients else prior for prior in known]
    return replace(sheets, lines=lines, priors=(*sheets.priors, *known), measurand=PITCH)


def _along_feet(slope: Prior, apart: Apart) -> Prior:
    """The ground along the trailer falls as the line between two feet does, to what is uneven about it."""
    return replace(
        slope,
        coefficients={**slope.coefficients, BETWEEN: -apart.right_mm / apart.mm**2},
        source=said("{source}, against the line between the two sheets' feet", source=slope.source),
    )
