"""The ball in several photographs of one rig: where one shows it surely, the others need only be looked at there.

The line of sight from one photograph is a short line in another, for a ball stands near the sheet's plane. What is
round and of the right size on that line is the same ball, though by itself it was too doubtful: its neck may be hidden
from there, or its surface mirror too much.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calib.camera import project, unproject
from calib.outcome import Refusal
from photomeasure.centre.ball import Ball, Candidate, arc_deg, as_ball, centre_u_px, judge
from photomeasure.centre.ball_circle import ranked
from photomeasure.centre.ball_search import REACH_Y_MM, REACH_Z_MM, Spot, View
from photomeasure.centre.sphere import Array

ON_LINE_RADII = 0.3  # how far off the line a centre may lie: the poses are known to far less
MIN_SUPPORT, MIN_ARC_DEG, MAX_CENTRE_U_PX = 0.62, 150.0, 0.6  # of an outline that its place alone vouches for
_STEP_RADII = 0.7


def found_together(views: Sequence[View], found: Sequence[Ball | Refusal]) -> list[Ball | Refusal]:
    """`found`, one a photograph, with balls in place of refusals where another photograph says where to look."""
    sure = [(view, ball) for view, ball in zip(views, found, strict=True) if isinstance(ball, Ball)]
    if not sure:
        return list(found)
    view, ball = max(sure, key=lambda pair: pair[1].confidence)
    places = sight_mm(view, ball.centre_px)
    return [
        one if isinstance(one, Ball) else _on_line(other, places, ball.confidence) or one
        for other, one in zip(views, found, strict=True)
    ]


def sight_mm(view: View, centre_px: Array) -> Array:
    """World points (N, 3), mm, on the line of sight through a pixel (2,), within reach of the sheet's plane."""
    lens = -view.rotation.T @ view.translation
    direction = unproject(view.intrinsics, centre_px[None])[0] @ view.rotation
    along = (np.linspace(-REACH_Y_MM, REACH_Y_MM, 25) - lens[1]) / direction[1]
    places = lens + along[:, None] * direction
    return np.asarray(places[(places[:, 2] > REACH_Z_MM[0]) & (places[:, 2] < REACH_Z_MM[1])])


def _on_line(view: View, places_mm: Array, confidence: float) -> Ball | None:
    """The ball nearest to what is expected on the picture of a line of sight; None where no outline agrees."""
    in_cam = places_mm @ view.rotation.T + view.translation
    if not len(in_cam) or in_cam[:, 2].min() < 4.0 * view.radius_mm:
        return None
    line = project(view.intrinsics, in_cam)[0]
    radius = float(np.median(view.intrinsics[0] * view.radius_mm / in_cam[:, 2]))
    count = 1 + int(np.ceil(np.linalg.norm(line[-1] - line[0]) / (_STEP_RADII * radius)))
    seeds = [line[round(i)] for i in np.linspace(0, len(line) - 1, count)]
    spots = [Spot(px=px, likeness=0.0, error_px=_STEP_RADII * radius) for px in seeds]
    judged = [judge(view, circle) for circle in ranked(view, spots)[:3] if circle.support > MIN_SUPPORT]
    fit = [candidate for candidate in judged if _vouched(candidate, line)]
    return as_ball(max(fit, key=lambda c: _arc(c)), tuple(judged), confidence) if fit else None


def _vouched(candidate: Candidate, line_px: Array) -> bool:
    off = float(np.linalg.norm(line_px - candidate.centre_px, axis=1).min())
    outline = candidate.outline
    return (
        outline is not None
        and off < ON_LINE_RADII * candidate.radius_px
        and arc_deg(outline) > MIN_ARC_DEG
        and centre_u_px(outline) < MAX_CENTRE_U_PX
    )


def _arc(candidate: Candidate) -> float:
    return 0.0 if candidate.outline is None else arc_deg(candidate.outline)
