"""Whether the tags on the tow bar still stand to one another as they did before: one that moved is noticed by the others.

Without a tag's views of now the sum of squares falls by chi-square with as many degrees of freedom as it has coordinates,
where nothing moved. Of two tags that disagree only what else is known (how far a bar turns) tells which one moved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.scene.scene import Scene
from photomeasure.solution.estimate import Estimate, estimate

MOVED_P = 1e-4
PLAINLY_CHI2 = 9.0  # by how much one way of leaving a tag out has to fit better than the next
BAR_PLANES = ("bar-tag", "further-bar-tag")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stayed:
    """The scene without the tags that moved on the bar, and which those are: None is the first."""

    scene: Scene
    moved: tuple[int | None, ...] = ()


def stayed(scene: Scene) -> Stayed | Refusal:
    """Leave out tags that moved on the bar since before. Refused where it cannot be told which of two did."""
    from scipy.special import chdtrc  # slow to load, and few rigs need it

    moved: list[int | None] = []
    while len(tags := _tags_of_now(scene)) > 1:
        whole = estimate(scene)
        if isinstance(whole, Refusal):
            break
        rivals = [(_chi2(found), tag) for tag in tags if isinstance(found := estimate(_without(scene, tag)), Estimate)]
        rivals.sort(key=lambda rival: rival[0])
        if not rivals or chdtrc(_coordinates(scene, rivals[0][1]), max(_chi2(whole) - rivals[0][0], 0.0)) > MOVED_P:
            break
        if len(rivals) > 1 and rivals[1][0] - rivals[0][0] < PLAINLY_CHI2:
            return _apart()
        moved.append(rivals[0][1])
        scene = _without(scene, rivals[0][1])
    return Stayed(scene=scene, moved=tuple(moved))


def _tags_of_now(scene: Scene) -> list[int | None]:
    return list(dict.fromkeys(view.tag for view in scene.planes if view.plane in BAR_PLANES and not view.before))


def _without(scene: Scene, tag: int | None) -> Scene:
    """Without one tag's views of now."""
    kept = (view for view in scene.planes if view.plane not in BAR_PLANES or view.before or view.tag != tag)
    return replace(scene, planes=tuple(kept))


def _coordinates(scene: Scene, tag: int | None) -> int:
    views = [view for view in scene.planes if view.plane in BAR_PLANES and not view.before and view.tag == tag]
    return sum(2 * len(view.px) for view in views)


def _chi2(solved: Estimate) -> float:
    return float(solved.rows.residual @ solved.rows.residual)


def _apart() -> Refusal:
    return Refusal(
        code="bar-tags-apart",
        reason=said(
            "Two tags on the tow bar do not stand to each other as they did before, and the picture does not tell which of them "
            "moved."
        ),
        remedy=said(
            "Look which of them has come loose and cover it in the photograph, or measure the bare ball again with both stuck on "
            "anew."
        ),
    )
