"""The bare ball, found by itself: where the solved scene says that one can be, of the size that follows.

Places that look like one (`glance`, `nets`) -> circles that agree (`circle`) -> outline to a few
hundredths of a pixel (`fit`) -> what joins from below (`neck`) -> a probability (`odds`). Only one clear winner is a ball: what is
doubtful, or there twice, is a refusal that asks for a pick, because a wrong ball taken as sure does more harm than
ten questions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from calib.words.said import said, with_and
from photomeasure.seen.centre.ball.circle import Circle, ranked, usual_px
from photomeasure.seen.centre.ball.fit import Outline, arc_deg, centre_u_px, fit_outline
from photomeasure.seen.centre.ball.glance import Glance
from photomeasure.seen.centre.ball.mirrored import by_its_rim
from photomeasure.seen.centre.ball.neck import Neck, find_neck
from photomeasure.seen.centre.ball.odds import MAX_DOUBT_RADII, Closer, closer_looks, doubt_radii, evidence, probability
from photomeasure.seen.centre.ball.search import SearchedPicture, Spot, search_region
from photomeasure.seen.centre.ball.sphere import Array

SURE = 0.95  # probability from which a candidate is taken
SURE_BARE = 0.92  # where a person said that no trailer is connected: most of what misleads is a coupling head
RIVAL = 0.25  # probability from which a candidate is worth showing as one of several
MIN_SUPPORT = 0.2
FITTED = 4  # candidates that are looked at closely
# A ball of another size than stated: tried where a close look sees a ball (logarithm of its odds) that is not sure, or off its
# size by so many usual deviations; one rig in so many has one (judgement); above such odds only the size decides.
BALL_LIKE, SIZE_DOUBTED, OTHER_SIZE_SHARE, MOST_ODDS = 0.0, 1.5, 0.1, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Something round: centre_px (2,), radius_px, the probability that it is the ball, its outline if it was fitted.

    placed: whether the outline tells the centre well enough to be used. diameter_mm: of the ball that it was taken for;
    size_off: how much larger it looks than that one, in usual deviations.
    """

    centre_px: Array
    radius_px: float
    confidence: float
    placed: bool
    outline: Outline | None
    neck: Neck | None
    diameter_mm: float
    size_off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    """The ball's outline as an observation.

    outline_px (N, 2): edge points that agree, half-way up in linear light. sigma_px (N,): standard uncertainty of each
    across the outline, the independent part (likeness of neighbours and what the circle misses included).
    centre_px (2,): picture of the sphere's centre if it stands in the sheet's plane; radius_px: of its outline.
    confidence: probability that it is the ball, 0..1. arc_deg: how much of the outline agrees, 270 at most, since the
    lowest quarter is left to the neck. contrast: median step across the outline, linear light, 1 = full scale.
    candidates: everything round that was considered, best first. diameter_mm: of the ball that it was taken for.
    """

    outline_px: Array
    sigma_px: Array
    centre_px: Array
    radius_px: float
    confidence: float
    arc_deg: float
    contrast: float
    candidates: tuple[Candidate, ...]
    diameter_mm: float


def view_of(
    grey: NDArray[np.uint8],
    *,
    intrinsics: Array,
    rotation: Array,
    translation: Array,
    diameter_mm: float,
    keep_out_px: tuple[Array, ...] = (),
) -> SearchedPicture:
    """A grey picture (h, w) to be searched, its camera solved.

    intrinsics (9,) as in `calib.camera.camera`; rotation (3, 3) and translation (3,) with
    x_cam = rotation @ x_world + translation, mm, the sheet in the plane y = 0, ground z = 0;
    keep_out_px: polygons (K, 2) of printed sheets and tags.
    """
    return SearchedPicture(
        grey=grey,
        intrinsics=np.asarray(intrinsics, dtype=np.float64),
        cam_from_world=np.asarray(rotation, dtype=np.float64),
        world_in_cam_mm=np.asarray(translation, dtype=np.float64),
        radius_mm=0.5 * diameter_mm,
        keep_out_px=tuple(np.asarray(polygon, dtype=np.float64).reshape(-1, 2) for polygon in keep_out_px),
    )


def find_ball(view: SearchedPicture) -> Ball | Refusal:
    """The ball in one picture of which nothing else is known; refuses with "ball-not-found" or "ball-ambiguous"."""
    return decide(find_candidates(view), SURE)


def likely_px(candidates: tuple[Candidate, ...]) -> tuple[Array, ...]:
    """Centres (2,) of what could be the ball, best first, for the picture of a refusal: the likely ones, or three."""
    likely = [candidate for candidate in candidates if candidate.confidence >= RIVAL]
    return tuple(candidate.centre_px for candidate in (likely or candidates[:3]))


def find_candidates(view: SearchedPicture, other_sizes_mm: Sequence[float] = ()) -> tuple[Candidate, ...]:
    """Everything round of about the right size, most probable first.

    other_sizes_mm: diameters of other balls that people mistake for this one. Where nothing is plainly a ball of the
    diameter that was stated, and a close look sees one all the same, it is tried whether it is one of those.
    """
    region = search_region(view)
    if region is None:
        return ()
    glance = Glance(view, region)
    spots = glance.spots()
    found = _candidates(glance, spots)
    if spots and spots[0].close > BALL_LIKE and not (found and found[0].confidence > SURE):
        # what a ball mirrors makes other circles too: which of them is found hangs on where it is looked for
        found = max(found, _candidates(glance, glance.again(spots)), key=_best)
    if not other_sizes_mm or not spots or spots[0].close < BALL_LIKE or _plain(found):
        return found
    others = [
        _candidates(Glance(replace(view, radius_mm=0.5 * diameter_mm), region), spots) for diameter_mm in other_sizes_mm
    ]
    return max((found, *others), key=lambda some: _of_its_size(some, 2.0 * view.radius_mm))


def _candidates(glance: Glance, spots: Sequence[Spot]) -> tuple[Candidate, ...]:
    circles = ranked(glance.view, list(spots))
    judged = judge(glance, [circle for circle in circles if circle.support > MIN_SUPPORT][:FITTED])
    return tuple(sorted(judged, key=lambda candidate: -candidate.confidence))


def _best(found: Sequence[Candidate]) -> float:
    return found[0].confidence if found else -1.0


def _plain(found: Sequence[Candidate]) -> bool:
    """Whether the best one is plainly a ball of the size that it was taken for."""
    return bool(found) and found[0].confidence > SURE and abs(found[0].size_off) < SIZE_DOUBTED


def _of_its_size(found: Sequence[Candidate], stated_mm: float) -> float:
    """Logarithm of how well the best one fits the ball that it was taken for, and of how often such a ball is there."""
    if not found:
        return -np.inf
    best = found[0]
    odds = np.log(max(best.confidence, 1e-9) / max(1.0 - best.confidence, 1e-9))
    seldom = 0.0 if abs(best.diameter_mm - stated_mm) < 1e-6 else OTHER_SIZE_SHARE
    return float(min(odds, MOST_ODDS) - 0.5 * best.size_off**2 + (np.log(seldom) if seldom else 0.0))


def judge(glance: Glance, circles: Sequence[Circle]) -> list[Candidate]:
    """Outline, neck and probability of coarse circles."""
    outlines = [fit_outline(glance.view, circle) for circle in circles]
    fitted = [(circle, outline) for circle, outline in zip(circles, outlines, strict=True) if outline is not None]
    closer = iter(closer_looks(glance, [outline for _, outline in fitted]))
    return [
        Candidate(
            centre_px=circle.sight.centre_px,
            radius_px=circle.sight.radius_px + circle.shift_px,
            confidence=0.0,
            placed=False,
            outline=None,
            neck=None,
            diameter_mm=2.0 * glance.view.radius_mm,
            size_off=circle.shift_px / usual_px(circle.sight.radius_px),
        )
        if outline is None
        else _weighed(glance.view, circle, outline, next(closer))
        for circle, outline in zip(circles, outlines, strict=True)
    ]


def _weighed(view: SearchedPicture, circle: Circle, outline: Outline, closer: Closer) -> Candidate:
    """A fitted candidate; its outline tells the centre no better than such outlines did."""
    neck = find_neck(view, outline)
    items = evidence(circle, outline, neck, closer)
    claim_px = max(items["centre_u"], doubt_radii(items) * outline.sight.radius_px)
    if closer.odds > BALL_LIKE:
        outline, claim_px = by_its_rim(view, circle, outline, claim_px)
    wider = claim_px / centre_u_px(outline)
    return Candidate(
        centre_px=outline.sight.centre_px,
        radius_px=outline.sight.radius_px + outline.shift_px,
        confidence=probability(items),
        placed=claim_px <= MAX_DOUBT_RADII * outline.sight.radius_px,
        outline=replace(outline, sigma_px=wider * outline.sigma_px),
        neck=neck,
        diameter_mm=2.0 * view.radius_mm,
        size_off=outline.shift_px / usual_px(outline.sight.radius_px),
    )


def decide(candidates: tuple[Candidate, ...], sure: float) -> Ball | Refusal:
    """One clear winner, or a refusal that says what was seen and asks for a pick.

    At most one of the candidates is the ball: the best one's odds stand against all others' and against none.
    """
    if not candidates:
        return _not_found(candidates)
    best = candidates[0]
    odds = [candidate.confidence / max(1.0 - candidate.confidence, 1e-9) for candidate in candidates]
    confidence = odds[0] / (1.0 + sum(odds))
    if confidence < sure or best.outline is None or not best.placed:
        likely = [candidate for candidate in candidates if candidate.confidence >= RIVAL]
        return _ambiguous(likely) if len(likely) > 1 else _not_found(candidates)
    return as_ball(best, candidates, confidence)


def as_ball(best: Candidate, candidates: tuple[Candidate, ...], confidence: float) -> Ball:
    """A candidate taken as the ball; ValueError where it has no outline."""
    outline = best.outline
    if outline is None:
        raise ValueError("a candidate without an outline tells no centre")
    good = outline.good
    return Ball(
        outline_px=outline.points_px[good],
        sigma_px=outline.sigma_px[good],
        centre_px=best.centre_px,
        radius_px=best.radius_px,
        confidence=confidence,
        arc_deg=arc_deg(outline),
        contrast=float(np.median(np.abs(outline.step[good]))) / 255.0,
        candidates=candidates,
        diameter_mm=best.diameter_mm,
    )


def _place(candidate: Candidate) -> str:
    x, y = candidate.centre_px
    return f"{x:.0f},{y:.0f}"


def _not_found(candidates: tuple[Candidate, ...]) -> Refusal:
    doubtful = [candidate for candidate in candidates if candidate.confidence >= 0.05]
    mark = said("Mark its centre in the picture")
    if doubtful:
        place = _place(doubtful[0])
        seen = said(
            "the most ball-like place is at {place} (pixels across and down), too doubtful to be taken", place=place
        )
        mark = said("If that is the ball's middle, say so; else mark the middle in the picture")
    elif candidates:
        seen = said("there are round things of its size, but none with a free outline and a neck below")
    else:
        seen = said("nothing round of its size stands out")
    return Refusal(
        code="ball-not-found",
        reason=said("The ball was not found beside or above the upright sheet: {seen}.", seen=seen),
        remedy=said(
            "{mark}; or photograph again from nearer, with the ball uncovered and standing out against what "
            "is behind it; on a coupled rig use a centre tag.",
            mark=mark,
        ),
    )


def _ambiguous(likely: list[Candidate]) -> Refusal:
    places = with_and([_place(candidate) for candidate in likely[:3]])
    return Refusal(
        code="ball-ambiguous",
        reason=said("More than one thing could be the ball: at {places} (pixels across and down).", places=places),
        remedy=said("Say which of them it is, by marking its middle in the picture."),
    )
