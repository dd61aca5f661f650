"""What photographs from before and after tell together, solved as one: both heights, the sinking, and what was carried over.

Both heights are linear in the parameters of one solution, so that their difference has the covariance's own uncertainty:
what they share (print, phone, an untouched sheet) cancels by itself (JCGM 100:2008 5.2.2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.interval.budget import sensitivities
from photomeasure.scene.scene import BEFORE, OutlineView, PlaneView, PointView, edge_of
from photomeasure.solution.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """The height before, how far it sank since (before less now), and the part of the height's u that comes from before; mm."""

    height_mm: float
    u_mm: float
    sank_mm: float
    u_sank_mm: float
    carried_u_mm: float


def before_of(solved: Estimate) -> Before | None:
    """None where no photograph is from before."""
    if solved.scene.earlier is None:
        return None
    slope = np.zeros(len(solved.x))
    for name, value in solved.scene.earlier.items():
        slope[solved.where.index[name]] = value
    sinking = slope - solved.gradient
    return Before(
        height_mm=float(slope @ solved.x),
        u_mm=_u(solved, slope),
        sank_mm=float(sinking @ solved.x),
        u_sank_mm=_u(solved, sinking),
        carried_u_mm=float(np.linalg.norm(sensitivities(solved)[_from_before(solved)])),
    )


def stand_test(solved: Estimate) -> tuple[float, float, float]:
    """How far the ball went down under somebody on the bar, whom the second photographs show: mm, u, covariance with the
    height of the ball without anybody on it, mm^2."""
    slope = np.zeros(len(solved.x))
    for name, value in (solved.scene.earlier or {}).items():
        slope[solved.where.index[name]] = value
    down = solved.gradient - slope
    return float(down @ solved.x), _u(solved, down), float(down @ solved.covariance @ solved.gradient)


def _u(solved: Estimate, slope: NDArray[np.float64]) -> float:
    return float(np.sqrt(slope @ solved.covariance @ slope))


def _from_before(solved: Estimate) -> NDArray[np.bool_]:
    """(R,) rows that photographs from before tell, or that tie now to before."""
    scene, places = solved.scene, solved.rows.places
    found = np.zeros(len(solved.rows.quantities), dtype=np.bool_)
    views: list[PlaneView | PointView | OutlineView] = [*scene.planes, *scene.points, *scene.outlines]
    for view, own in zip(views, (*places.planes, *places.points, *places.outlines), strict=True):
        found[own] = view.before
    edges = {edge_of(outline.photo) for outline in scene.outlines if outline.before}
    for number, prior in zip(places.priors, scene.priors, strict=True):
        found[number] = any(name.startswith(BEFORE) or name in edges for name in prior.coefficients)
    return found
