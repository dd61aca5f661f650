"""An outline that a mirror has bent: what it claims, and the centre that its rim tells beside it.

The edges that agree on a circle may be what a ball mirrors, a pixel or three inside its outline, over a third of it or more; they
do so with little scatter. Signs of that widen what is claimed; and the centre is where the outline and the rim as a network
sees it (`rim`) have it, each by its weight. Where they disagree by more than they claim, both claimed too much.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from photomeasure.seen.centre.ball.circle import Circle
from photomeasure.seen.centre.ball.fit import Outline, Told, fit_outline
from photomeasure.seen.centre.ball.profiles import Sight
from photomeasure.seen.centre.ball.rim import SIZE_U, RimSeen, see_rim
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array

# Logarithm of by how much an outline's centre is off for what it claimed: usual; of stronger edges further in; of profiles that do
# not agree; of scatter, px (107 path-traced outlines; `tests/experiments/ball_study.md`)
USUAL, BY_INNER, BY_MISSING, BY_SCATTER = -0.24, 0.89, 2.12, 2.25
USUAL_GOOD, USUAL_SCATTER_PX = 0.75, 0.25
# What the rim tells: a hundredth of the radius on rigs that taught it nothing, and more where it says itself that it is wide
RIM_RADII, RIM_WIDER = 0.010, 2.5
SURE_RADII = 0.006  # of an outline's claim: the rim would add nothing
REFITTED_PX = 0.2  # a centre that moved further has other edges
AS_FITTED_PX = 0.05
# Of the size: edges of a mirrored ball lie inside its outline, chrome looks 4 % small by them (error over what is claimed of the
# centre); the rim tells the radius to this share of it
EDGE_SIZE, RIM_SIZE_RADII = 2.0, 0.008


def by_its_rim(view: SearchedPicture, circle: Circle, outline: Outline, claim_px: float) -> tuple[Outline, float]:
    """The outline about the centre that edges and rim tell together, and the standard uncertainty of that centre, px.

    claim_px: what is claimed of the outline's centre without them.
    """
    claim_px = claim_px * float(np.exp(_logarithm(outline)))
    radius = outline.sight.radius_px
    if claim_px < SURE_RADII * radius:
        return outline, claim_px
    rim = see_rim(view, outline.sight)
    if rim is None:
        return outline, claim_px
    sight, seen = rim
    apart = _across(outline.sight, sight)
    u_rim = float(np.hypot(RIM_RADII, RIM_WIDER * np.sqrt(np.trace(seen.covariance[:2, :2]) / 2.0))) * radius
    move = apart * claim_px**2 / (claim_px**2 + u_rim**2)
    disagree = float(np.linalg.norm(apart)) / np.sqrt(2.0) / float(np.hypot(claim_px, u_rim))
    together = claim_px * u_rim / float(np.hypot(claim_px, u_rim)) * max(1.0, disagree)
    moved = outline.sight.moved(view, float(move[0]), float(move[1]))
    if moved is None:
        return outline, claim_px
    if float(np.linalg.norm(move)) > REFITTED_PX:
        told = Told(middle=np.zeros(2), precision=np.eye(2) / AS_FITTED_PX**2)
        again = fit_outline(view, replace(circle, sight=moved, shift_px=float(seen.mean[2]) * radius), told)
        outline = outline if again is None else again
    return _about(view, outline, moved, _shift_px(outline, seen, EDGE_SIZE * claim_px)), together


def _shift_px(outline: Outline, seen: RimSeen, u_px: float) -> float:
    """How far outside the expected outline the ball's is, by its edges and by its rim; u_px: of the edges' own."""
    radius, variance = outline.sight.radius_px, max(float(seen.covariance[2, 2]), 1e-6)
    precision = 1.0 / variance - 1.0 / SIZE_U**2  # without the size that the rim was weighed with
    if precision <= 0.0:
        return outline.shift_px
    by_rim = radius * float(seen.mean[2]) / variance / precision
    rim, edge = 1.0 / (radius * np.hypot(RIM_SIZE_RADII, precision**-0.5)) ** 2, 1.0 / u_px**2
    return float((rim * by_rim + edge * outline.shift_px) / (rim + edge))


def _logarithm(outline: Outline) -> float:
    missing = USUAL_GOOD - float(outline.good.mean())
    return USUAL + BY_INNER * outline.inner + BY_MISSING * missing + BY_SCATTER * (outline.rms_px - USUAL_SCATTER_PX)


def _across(here: Sight, there: Sight) -> Array:
    """How far (2,) one supposed ball's middle is to the right and up of another's, pixels."""
    forward = there.line.forward
    along = float(forward @ here.line.forward)
    aside = np.array([float(forward @ here.line.right), float(forward @ here.line.up)])
    return np.asarray(aside / along / here.opening_rad * here.radius_px)


def _about(view: SearchedPicture, outline: Outline, sight: Sight, shift_px: float) -> Outline:
    """The outline as the circle about this middle, so far outside the expected one: its points say where that circle is."""
    points = sight.places_px(view, outline.around, np.full((len(outline.around), 1), shift_px))[:, 0]
    return replace(outline, sight=sight, points_px=points, shift_px=shift_px)
