"""Photographs from before and after reconciled as one: tags that moved on the bar left out, a sheet that was moved after all noticed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.scene.bar_tag import MOVED
from photomeasure.solution.bars_agree import stayed
from photomeasure.solution.scene_of import measuring_scene
from photomeasure.solution.withdrawn import Reconciled, reconcile

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.scene.solved_camera import SolvedCamera
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.seen.look import View


@dataclass(frozen=True, slots=True, kw_only=True)
class ReconciledSides:
    """request: as it was measured; said: sentences on what was not as it was said."""

    reconciled: Reconciled
    request: Request
    said: tuple[str, ...] = ()


def settle_sides(
    views: Sequence[View], sightings: Sightings, request: Request, cameras: Sequence[SolvedCamera]
) -> ReconciledSides | Refusal:
    """Solve what was seen, of one moment or of two. Refused as `withdrawn.reconcile` does, and where tags on the bar disagree."""
    found = stayed(measuring_scene(views, sightings, request, cameras)) if sightings.way == "carried" else None
    if isinstance(found, Refusal):
        return found
    scene = measuring_scene(views, sightings, request, cameras) if found is None else found.scene
    reconciled = reconcile(scene, views, request)
    if isinstance(reconciled, Refusal):
        return reconciled
    if request.before_photos and request.sheet_untouched and MOVED in reconciled.causes:
        again = settle_sides(views, sightings, replace(request, sheet_untouched=False), cameras)
        return again if isinstance(again, Refusal) else replace(again, said=(*reconciled.said, *again.said))
    moved = () if found is None else found.moved
    said = tuple(_of_tag(sightings.bar_tags[0] if tag is None else tag) for tag in moved)
    return ReconciledSides(reconciled=reconciled, request=request, said=said)


def _of_tag(tag: int) -> str:
    return said(
        "Bar tag {tag} is not where it was on the bar, by the others: it was left out. Stick it on anew, and measure the bare ball "
        "again, before it is used the next time.",
        tag=tag,
    )
