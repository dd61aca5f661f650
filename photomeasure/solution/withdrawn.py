"""What a solution makes doubtful of what it was made from: photographs that do not belong together, a camera that is not
as the file tells, photographs that say nothing of the centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from calib.outcome.refusal import Refusal
from photomeasure.solution.contradicted import (
    BAR_QUANTITIES,
    CAMERA_QUANTITIES,
    contradicted,
    only_together,
    sentences_of,
)
from photomeasure.solution.estimate import Estimate, estimate, photos_contradict
from photomeasure.solution.scene_of import pose_scene

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.scene.scene import Scene
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.seen.look import View

# What is known of a camera before its picture is looked at; where a picture contradicts it, it counts this much less.
# A cropped picture looks like misread check bars, so that where these are contradicted the camera is no surer.
WITHDRAWN_FACTOR, MAX_WITHDRAWALS = 10.0, 3
WITHDRAWN_WITH_BARS = frozenset({"focal length", "principal point"})


def photos_apart(views: Sequence[View], request: Request, solved: Estimate) -> Refusal | None:
    """Photographs that are each in order and together bend what was stated of camera and sheet are not of one rig."""
    if len(views) < 2 or not contradicted(solved):
        return None
    alone = [estimate(pose_scene((view,), request)) for view in views]
    against = only_together(solved, [one for one in alone if not isinstance(one, Refusal)])
    if not against:
        return None
    return photos_contradict(
        f"each is in order by itself, but together they speak against what is known of {', '.join(against)}, as photographs "
        "of different rigs do, or of one that was moved"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """What was known of the camera and tells nothing any more, by quantity, and the sentences that say so."""

    quantities: frozenset[str] = frozenset()
    sentences: tuple[str, ...] = ()


def without_contradicted_camera(scene: Scene, solved: Estimate) -> tuple[Estimate, Withdrawn]:
    """What the photographs contradict of the camera tells nothing any more: solved without it, and what is to be said.

    In rounds, as one wrong statement hides another, or is so wrong that a tenth of its weight still pulls.
    """
    found = [quantity for quantity, _ in contradicted(solved)]
    against = CAMERA_QUANTITIES.intersection(found)
    if BAR_QUANTITIES.intersection(found):
        against |= WITHDRAWN_WITH_BARS
    withdrawn, without, looser = frozenset[str](), solved, scene
    for _ in range(MAX_WITHDRAWALS):
        if not against:
            break
        cameras = tuple(camera.loosened(against, WITHDRAWN_FACTOR) for camera in looser.cameras)
        looser = replace(looser, cameras=cameras)
        again = estimate(looser)
        if isinstance(again, Refusal):
            break
        without, withdrawn = again, withdrawn | against
        against = CAMERA_QUANTITIES.intersection(quantity for quantity, _ in contradicted(without))
        found += [quantity for quantity in sorted(against) if quantity not in found]
    if not withdrawn:
        return solved, Withdrawn()
    nothing = f"So nothing is taken from what was known of the {' and the '.join(sorted(withdrawn))}."
    return without, Withdrawn(quantities=withdrawn, sentences=(*sentences_of(found, solved, camera=without), nothing))


def unseen_centres(sightings: Sightings, left_out: tuple[int, ...], names: Sequence[str]) -> tuple[str, ...]:
    """Which of several photographs do not show the centre, and so tell of the camera and the sheet only."""
    lacking = [i for i, px in enumerate(sightings.centre_px) if px is None]
    if not lacking:
        return ()
    said = [
        f"In {names[i]} what was taken for the ball does not fit the other photographs; it was left out there. Mark the centre "
        "in it (--centre)."
        for i in lacking
        if i in left_out
    ]
    unseen = [names[i] for i in lacking if i not in left_out]
    if unseen:
        how = "marked" if sightings.source == "pick" else "found"
        said.append(
            f"The centre was not {how} in {' and '.join(unseen)}: that tells of the camera and what surrounds the coupling only, not of this "
            "coupling. Mark the centre in each photograph (--centre), and leave out one of another rig."
        )
    return tuple(said)
