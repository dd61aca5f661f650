"""How ways of finding the centre agree: what was not used is compared with what was, or with what the solution tells.

A way has a row in each table: its words, how exactly it shows the height in its own plane, and where that plane lies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.scene.priors import (
    HEAD_MARK_MM,
    IN_PLANE_DEPTH_MM,
    SHEET_TURN_RAD,
    TAG_DEPTH_MEAN_MM,
    TAG_DEPTH_U_MM,
    TAG_PLACEMENT_MM,
)
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.centre.sightings import Sightings, Way

WORDS: dict[Way, str] = {
    "pick": said("the marked centre"),
    "tag": said("the centre tag"),
    "ball": said("the ball's outline"),
    "carried": said("the centre carried over"),
}
FIRST_WORDS: dict[Way, str] = {
    "pick": said("The marked centre"),
    "tag": said("The centre tag"),
    "ball": said("The ball's outline"),
    "carried": said("The centre carried over"),
}
# Standard uncertainty of a sighting's height in its own plane, and where that plane lies (mean, u of the depth), mm.
OWN_U_MM: dict[Way, float] = {"pick": 1.0, "tag": TAG_PLACEMENT_MM, "ball": 0.5, "carried": 1.0}
DEPTH_MM: dict[Way, tuple[float, float]] = {
    "pick": (0.0, IN_PLANE_DEPTH_MM),
    "tag": (TAG_DEPTH_MEAN_MM, TAG_DEPTH_U_MM),
    "ball": (0.0, IN_PLANE_DEPTH_MM),
    "carried": (0.0, IN_PLANE_DEPTH_MM),
}
CONTRADICTION_SIGMAS = 3.0


def _height_mm(px: NDArray[np.float64], camera: SolvedCamera, seen: Sightings) -> tuple[float, float]:
    """A sighting's height in the plane where it is, and its standard uncertainty: for comparing, not for reporting."""
    lens, ray = camera.lens_mm, camera.ray(px)
    hidden_mark = seen.hidden and seen.way == "pick"
    depth, u_depth = DEPTH_MM["tag" if hidden_mark else seen.way]
    own_u = HEAD_MARK_MM if hidden_mark else OWN_U_MM[seen.way]
    slope = float(ray[2] / ray[1])
    aside = float(lens[0] + ray[0] / ray[1] * (depth - lens[1]))
    u_depth = float(np.hypot(u_depth, SHEET_TURN_RAD * aside))
    return float(lens[2] + slope * (depth - lens[1])), float(np.hypot(own_u, slope * u_depth))


def compared(trusted: Sightings, other: Sightings, cameras: Sequence[SolvedCamera]) -> Sightings:
    """The trusted sightings with a sentence on how the other way agrees, in a photograph that has both if there is one.

    A centre that is carried over is compared later: only the solution tells where it is.
    """
    if trusted.way == "carried":
        return replace(trusted, others=(*trusted.others, other))
    pair = _seen_by_both(trusted, other)
    if pair is None:
        return trusted
    mine, its = pair
    (height, u), (other_height, other_u) = (
        _height_mm(one.centre_px[photo], cameras[photo], one)  # type: ignore[arg-type]
        for one, photo in ((trusted, mine), (other, its))
    )
    difference = other_height - height
    sentence = _sentence(difference, other.way, trusted.way, elsewhere=mine != its)
    if abs(difference) > CONTRADICTION_SIGMAS * float(np.hypot(u, other_u)):
        against = said("{sentence}: they contradict each other; check which is right.", sentence=sentence)
        return replace(trusted, contradictions=(*trusted.contradictions, against))
    return replace(trusted, checks=(*trusted.checks, said("{sentence}: they agree.", sentence=sentence)))


def compared_with_solved(
    sightings: Sightings, centre_mm: NDArray[np.float64], u_mm: NDArray[np.float64], cameras: Sequence[SolvedCamera]
) -> Sightings:
    """With a sentence on how each way that was not used agrees with a centre that the solution tells.

    centre_mm (3,), u_mm (3,): of that centre in the world. What was sighted is at the centre's depth, or on the near side.
    """
    checks, contradictions = list(sightings.checks), list(sightings.contradictions)
    for other in sightings.others:
        photo = next((photo for photo, px in enumerate(other.centre_px) if px is not None), None)
        if photo is None:
            continue
        lens, ray = cameras[photo].lens_mm, cameras[photo].ray(np.asarray(other.centre_px[photo]))
        near_side = other.way == "tag" or (other.hidden and other.way == "pick")
        nearer, u_nearer = DEPTH_MM["tag"] if near_side else (0.0, 0.0)
        slope = float(ray[2] / ray[1])
        height = float(lens[2] + slope * (centre_mm[1] + nearer - lens[1]))
        own = HEAD_MARK_MM if other.hidden and other.way == "pick" else OWN_U_MM[other.way]
        u = float(np.sqrt(own**2 + u_mm[2] ** 2 + slope**2 * (u_mm[1] ** 2 + u_nearer**2)))
        difference = height - float(centre_mm[2])
        sentence = _sentence(difference, other.way, sightings.way, elsewhere=False)
        if abs(difference) > CONTRADICTION_SIGMAS * u:
            contradictions.append(
                said(
                    "{sentence}: they contradict each other; a bar tag that moved on the bar, or one of another rig, does so too. "
                    "Check which is right.",
                    sentence=sentence,
                )
            )
        else:
            checks.append(said("{sentence}: they agree.", sentence=sentence))
    return replace(sightings, checks=tuple(checks), contradictions=tuple(contradictions))


def _sentence(difference_mm: float, other: Way, trusted: Way, *, elsewhere: bool) -> str:
    values = {"other": FIRST_WORDS[other], "mm": abs(difference_mm), "trusted": WORDS[trusted]}
    if not elsewhere and difference_mm >= 0:
        return said("{other} is {mm:.1f} mm above {trusted}, which was used", **values)
    if not elsewhere:
        return said("{other} is {mm:.1f} mm below {trusted}, which was used", **values)
    if difference_mm >= 0:
        return said("{other}, in another photograph, is {mm:.1f} mm above {trusted}, which was used", **values)
    return said("{other}, in another photograph, is {mm:.1f} mm below {trusted}, which was used", **values)


def _seen_by_both(trusted: Sightings, other: Sightings) -> tuple[int, int] | None:
    """The first photograph that shows both, twice; where none does, the first of each: one rig standing still has one height."""
    mine = [photo for photo, px in enumerate(trusted.centre_px) if px is not None]
    its = [photo for photo, px in enumerate(other.centre_px) if px is not None]
    both = next((photo for photo in mine if photo in its), None)
    if both is not None:
        return both, both
    return (mine[0], its[0]) if mine and its else None
