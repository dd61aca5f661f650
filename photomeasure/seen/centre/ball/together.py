"""The ball in several photographs of one rig: where one shows it surely, the others need only be looked at there.

The line of sight from one photograph is a short line in another, for a ball stands near the sheet's plane. What is
round and of the right size on that line is the same ball, though by itself it was too doubtful: its neck may be hidden
from there, or its surface mirror too much. Where none is sure by itself, two that each rather believe in it and agree
on the place are as good as one that is sure: something that only looks like a ball seldom does so from two sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from calib.camera.camera import project, unproject
from calib.outcome.refusal import Refusal
from photomeasure.seen.centre.ball.ball import Ball, Candidate, as_ball, decide, judge
from photomeasure.seen.centre.ball.circle import ranked
from photomeasure.seen.centre.ball.fit import arc_deg, centre_u_px
from photomeasure.seen.centre.ball.glance import Glance
from photomeasure.seen.centre.ball.profiles import sight_at
from photomeasure.seen.centre.ball.search import REACH_Y_MM, REACH_Z_MM, SearchedPicture, Spot, search_region
from photomeasure.seen.centre.ball.sphere import Array

ON_LINE_RADII = 0.3  # how far off the line a centre may lie: the poses are known to far less
MIN_ARC_DEG, MAX_CENTRE_U_PX = 150.0, 0.6  # of an outline that its place alone vouches for
BELIEVED = 0.5  # probability from which a candidate counts beside another photograph's
_STEP_RADII = 0.7


def found_together(
    views: Sequence[SearchedPicture], candidates: Sequence[tuple[Candidate, ...]], sure: float
) -> list[Ball | Refusal]:
    """The ball or a refusal of each photograph, from what `ball.find_candidates` saw in each.

    sure: probability from which a candidate is taken.
    """
    found: list[Ball | Refusal] = [decide(some, sure) for some in candidates]
    if not any(isinstance(one, Ball) for one in found):
        found = _agreed(views, candidates, found, sure)
    known = [(view, ball) for view, ball in zip(views, found, strict=True) if isinstance(ball, Ball)]
    if not known:
        return found
    view, ball = max(known, key=lambda pair: pair[1].confidence)
    places = sight_mm(view, ball.centre_px)
    return [
        one if isinstance(one, Ball) else _on_line(_of_size(other, ball), places, ball.confidence) or one
        for other, one in zip(views, found, strict=True)
    ]


def _of_size(view: SearchedPicture, ball: Ball) -> SearchedPicture:
    """A view in which a ball of the size that was seen elsewhere is looked for."""
    return replace(view, radius_mm=0.5 * ball.diameter_mm)


def _agreed(
    views: Sequence[SearchedPicture],
    candidates: Sequence[tuple[Candidate, ...]],
    found: list[Ball | Refusal],
    sure: float,
) -> list[Ball | Refusal]:
    """`found` with the one pair of photographs that believe in the same place, if they are sure together."""
    pairs = []
    for (i, some), (j, others) in combinations(enumerate(candidates), 2):
        for one in some:
            if one.confidence < BELIEVED or not one.placed:
                continue
            line = _line_px(views[j], sight_mm(views[i], one.centre_px))
            for other in others:
                if (
                    other.confidence >= BELIEVED
                    and other.placed
                    and line is not None
                    and _off_px(line, other) < ON_LINE_RADII * other.radius_px
                ):
                    pairs.append((1.0 - (1.0 - one.confidence) * (1.0 - other.confidence), i, one, j, other))
    if not pairs:
        return found
    confidence, i, one, j, other = max(pairs, key=lambda pair: pair[0])
    elsewhere = [
        pair for pair in pairs if (pair[1] == i and pair[2] is not one) or (pair[3] == j and pair[4] is not other)
    ]
    if confidence < sure or elsewhere:
        return found
    together = list(found)
    together[i] = as_ball(one, candidates[i], confidence)
    together[j] = as_ball(other, candidates[j], confidence)
    return together


def sight_mm(view: SearchedPicture, centre_px: Array) -> Array:
    """World points (N, 3), mm, on the line of sight through a pixel (2,), within reach of the sheet's plane."""
    lens = -view.cam_from_world.T @ view.world_in_cam_mm
    direction = unproject(view.intrinsics, centre_px[None])[0] @ view.cam_from_world
    along = (np.linspace(-REACH_Y_MM, REACH_Y_MM, 25) - lens[1]) / direction[1]
    places = lens + along[:, None] * direction
    return np.asarray(places[(places[:, 2] > REACH_Z_MM[0]) & (places[:, 2] < REACH_Z_MM[1])])


def _line_px(view: SearchedPicture, places_mm: Array) -> Array | None:
    """Pixels (N, 2) of places (N, 3) on a line of sight; None where they are not before the lens."""
    in_cam = places_mm @ view.cam_from_world.T + view.world_in_cam_mm
    if not len(in_cam) or in_cam[:, 2].min() < 4.0 * view.radius_mm:
        return None
    return project(view.intrinsics, in_cam)[0]


def _off_px(line_px: Array, candidate: Candidate) -> float:
    return float(np.linalg.norm(line_px - candidate.centre_px, axis=1).min())


def _on_line(view: SearchedPicture, places_mm: Array, confidence: float) -> Ball | None:
    """The ball nearest to what is expected on the picture of a line of sight; None where no outline agrees."""
    line = _line_px(view, places_mm)
    middle = None if line is None else sight_at(view, line[len(line) // 2])
    region = search_region(view)
    if line is None or middle is None or region is None:
        return None
    radius = middle.radius_px
    count = 1 + int(np.ceil(np.linalg.norm(line[-1] - line[0]) / (_STEP_RADII * radius)))
    seeds = [line[round(i)] for i in np.linspace(0, len(line) - 1, count)]
    spots = [Spot(px=px, likeness=0.0, close=0.0, error_px=_STEP_RADII * radius) for px in seeds]
    glance = Glance(view, region)
    if glance.fine is None:  # a ball there would be too small to be judged
        return None
    judged = judge(glance, ranked(view, spots)[:3])
    fit = [candidate for candidate in judged if _vouched(candidate, line)]
    return as_ball(max(fit, key=_arc), tuple(judged), confidence) if fit else None


def _vouched(candidate: Candidate, line_px: Array) -> bool:
    outline = candidate.outline
    if outline is None or not candidate.placed or _off_px(line_px, candidate) > ON_LINE_RADII * candidate.radius_px:
        return False
    plain = arc_deg(outline) > MIN_ARC_DEG and centre_u_px(outline) < MAX_CENTRE_U_PX
    return plain or candidate.confidence > BELIEVED


def _arc(candidate: Candidate) -> float:
    return 0.0 if candidate.outline is None else arc_deg(candidate.outline)
