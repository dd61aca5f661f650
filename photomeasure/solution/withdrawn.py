"""What a solution makes doubtful of what it was made from: photographs that do not belong together, a camera that is not
as the file tells, photographs that say nothing of the centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calib.outcome.refusal import Refusal
from calib.words.said import joined, said, with_and
from photomeasure.scene.quantities import named
from photomeasure.solution.contradicted import (
    BAR_QUANTITIES,
    CAMERA_QUANTITIES,
    Contradictions,
    contradicted,
    only_together,
)
from photomeasure.solution.estimate import Estimate, estimate, photos_contradict
from photomeasure.solution.giving_way import can_give_way, giving_way
from photomeasure.solution.mistakes import BARS
from photomeasure.solution.notices import bars_apart, told
from photomeasure.solution.scene_of import pose_scene

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.scene.scene import Scene
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.seen.look import View

MAX_WITHDRAWN, MAX_LOOSENED = 6, 3
_BARS_OR_CROP = (("principal point", "focal length"),)  # a cropped picture looks like misread bars
# Paper on hard ground lies flat to a fraction of a degree; it is the upright sheet that people stand up wrongly.
INSTEAD: dict[str, tuple[tuple[str, ...], ...]] = {
    "ground sheet flatness": (
        ("foot gap",),
        ("sheet lean",),
        ("sheet roll",),
        ("foot gap", "sheet lean", "sheet roll"),
    ),
    **{bar: (*_BARS_OR_CROP, (bar,)) for bar in sorted(BAR_QUANTITIES - {BARS})},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """A solution in which what the photographs contradict has given way.

    stated: with everything as it was said. blamed: what was contradicted, in order, with its test value in standard
    deviations. withdrawn: what tells nothing any more. left: what is contradicted all the same.
    """

    stated: Estimate
    estimate: Estimate
    blamed: Contradictions
    withdrawn: tuple[str, ...]
    left: Contradictions

    @property
    def causes(self) -> tuple[str, ...]:
        """Everything that was contradicted, each once."""
        return tuple(dict.fromkeys(what for what, _ in (*self.blamed, *self.left)))

    @property
    def said(self) -> tuple[str, ...]:
        """Sentences for the person who took the photographs, with what they say instead."""
        sentences = told(self.causes, self.estimate)
        if bars_apart(self.stated):
            sentences = tuple(dict.fromkeys((*sentences, *told(("check bar x",), self.stated))))
        if not self.withdrawn:
            return sentences
        names = _and_the([named(quantity) for quantity in sorted(set(self.withdrawn))])
        return (
            *sentences[:-1],
            said(
                "{sentence} So nothing is taken from what was known of the {names}.",
                sentence=sentences[-1],
                names=names,
            ),
        )


def _and_the(names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    return said("{names} and the {last}", names=_and_the(names[:-1]), last=names[-1])


def photos_apart(views: Sequence[View], request: Request, left: Contradictions) -> Refusal | None:
    """Refused: photographs that are each in order and together bend what was stated of camera and sheet are not of one rig.

    left: what they contradict together.
    """
    if len(views) < 2 or not left:
        return None
    alone = [estimate(pose_scene((view,), request)) for view in views]
    against = only_together(left, [one for one in alone if not isinstance(one, Refusal)])
    if not against:
        return None
    return photos_contradict(
        said(
            "each is in order by itself, but together they speak against what is known of {against}, as "
            "photographs of different rigs do, or of one that was moved",
            against=joined(named(quantity) for quantity in against),
        )
    )


def reconcile(scene: Scene, views: Sequence[View], request: Request) -> Reconciled | Refusal:
    """Solve a scene: refused where the photographs are not of one rig; what they contradict of what was said gives way."""
    stated = estimate(scene)
    if isinstance(stated, Refusal):
        return stated
    left = contradicted(stated)
    return photos_apart(views, request, left) or reconciled(scene, stated, left)


def reconciled(scene: Scene, stated: Estimate, left: Contradictions | None = None) -> Reconciled:
    """What the photographs contradict gives way, the worst first, and the scene is solved anew, until nothing is left.

    stated: the solution with everything as it was said; left: what it contradicts, where that is known. Where the
    photographs do not fit together with the worst alone withdrawn, everything that they contradict goes at once.
    """
    solved, blamed, left = stated, dict[str, float](), contradicted(stated) if left is None else left
    withdrawn: tuple[str, ...] = ()
    for _ in range(MAX_WITHDRAWN):
        found = [(what, sigmas) for what, sigmas in left if _ways(what, withdrawn)]
        if not found:
            break
        worst = found[0][0]
        ways = [*_ways(worst, withdrawn), tuple(way for what, _ in found for way in _ways(what, withdrawn)[0])]
        done = _without(scene, withdrawn, ways, worst)
        if done is None:
            break
        solved, withdrawn, left = done
        blamed.update([found[0]])
    return Reconciled(stated=stated, estimate=solved, blamed=tuple(blamed.items()), withdrawn=withdrawn, left=left)


def _without(
    scene: Scene, withdrawn: tuple[str, ...], ways: Sequence[tuple[str, ...]], blamed: str
) -> tuple[Estimate, tuple[str, ...], Contradictions] | None:
    """The solution by the first way after which what is blamed is no longer contradicted, or else by the last that is one;
    what is withdrawn for it, and what it contradicts."""
    last = None
    for way in ways:
        names = (*withdrawn, *way)
        solved = estimate(giving_way(scene, names))
        if isinstance(solved, Estimate):
            left = contradicted(solved)
            last = solved, names, left
            if blamed not in dict(left):
                break
    return last


def _ways(what: str, withdrawn: tuple[str, ...]) -> list[tuple[str, ...]]:
    """What can give way where something is contradicted, each way tried in turn; none where nothing can any more.

    A camera can do so more than once: it may be so wrong that a tenth of its weight still pulls.
    """
    ways = [
        way
        for way in INSTEAD.get(what, ((what,),))
        if any(withdrawn.count(one) < (MAX_LOOSENED if one in CAMERA_QUANTITIES else 1) for one in way)
    ]
    return ways if can_give_way(what) else []


def unseen_centres(sightings: Sightings, left_out: tuple[int, ...], names: Sequence[str]) -> tuple[str, ...]:
    """Which of several photographs do not show the centre, and so tell of the camera and the sheet only."""
    lacking = [i for i, px in enumerate(sightings.centre_px) if px is None]
    if not lacking:
        return ()
    sentences = [
        said(
            "In {name} what was taken for the ball does not fit the other photographs; it was left out "
            "there. Mark the centre in it.",
            name=names[i],
        )
        for i in lacking
        if i in left_out
    ]
    unseen = [names[i] for i in lacking if i not in left_out]
    if unseen:
        how = said("marked") if sightings.way == "pick" else said("found")
        sentences.append(
            said(
                "The centre was not {how} in {unseen}: that tells of the camera and the sheet only, not of this "
                "coupling. Mark the centre in each photograph, and leave out one of another rig.",
                how=how,
                unseen=with_and(unseen),
            )
        )
    return tuple(sentences)
