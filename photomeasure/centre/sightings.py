"""The coupling's centre as it was seen: by a pick, by a centre tag, by the ball's outline; and which of them is trusted.

Order of trust: what a person marked, then a tag that a person stuck on, then the ball that the program found.
A new way of finding the centre is a module beside this one and a branch in `find_centre`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from calib.outcome import Refusal
from photomeasure.centre.tag import TagSeen, find_tag
from photomeasure.scene import OutlineView, PlaneView, PointView

if TYPE_CHECKING:
    from photomeasure.pipeline import Request, View

Pose = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
Source = Literal["pick", "tag", "ball"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sightings:
    """Observations of the centre; centre_px has one (2,) a photograph, None where it was not seen."""

    source: Source
    centre_px: tuple[NDArray[np.float64] | None, ...]
    points: tuple[PointView, ...] = ()
    tags: tuple[PlaneView, ...] = ()
    outlines: tuple[OutlineView, ...] = ()
    checks: tuple[str, ...] = ()


def find_centre(request: Request, views: Sequence[View], poses: Sequence[Pose]) -> Sightings | Refusal:
    """The centre from the most trusted way that is there. poses: intrinsics, rotation, translation of each photograph."""
    if any(centre is not None for centre in request.centres_px):
        return picked(request, views)
    tags = [_tag(view, pose) for view, pose in zip(views, poses, strict=True)]
    for tag in tags:
        if isinstance(tag, Refusal):
            return tag
    seen = [tag for tag in tags if isinstance(tag, TagSeen)]
    if seen:
        return _from_tags([tag if isinstance(tag, TagSeen) else None for tag in tags])
    return no_centre(request)


def no_centre(request: Request) -> Refusal:
    """Nothing shows where the centre is."""
    return Refusal(
        code="no-centre",
        reason="The coupling's centre is not marked in the picture.",
        remedy="Mark it with --centre X,Y (pixels of the upright picture, one a photograph), "
        "or stick a centre tag on the coupling's side and photograph again.",
    )


def picked(request: Request, views: Sequence[View]) -> Sightings | Refusal:
    """Picks of a person; a pick outside its picture is refused."""
    points = []
    centres: list[NDArray[np.float64] | None] = [None] * len(views)
    for photo, centre in enumerate(request.centres_px):
        if centre is None:
            continue
        width, height = views[photo].photo.size_px
        if not (-0.5 <= centre[0] <= width - 0.5 and -0.5 <= centre[1] <= height - 0.5):
            return Refusal(
                code="centre-outside",
                reason=f"The centre {centre[0]:g},{centre[1]:g} is outside {views[photo].photo.path.name} "
                f"({width} x {height} pixels).",
                remedy="Give pixel coordinates of the picture as a person sees it, (0, 0) the top-left pixel.",
            )
        px = np.array(centre)
        centres[photo] = px
        points.append(PointView(photo=photo, px=px, sigma_px=request.pick_sigma_px, quantity="pick"))
    return Sightings(source="pick", centre_px=tuple(centres), points=tuple(points))


def _tag(view: View, pose: Pose) -> TagSeen | Refusal | None:
    intrinsics, rotation, translation = pose
    return find_tag(view.photo.grey, intrinsics=intrinsics, rotation=rotation, translation=translation)


def _from_tags(tags: Sequence[TagSeen | None]) -> Sightings | Refusal:
    if len({tag.id for tag in tags if tag is not None}) > 1:
        return Refusal(
            code="two-tags",
            reason="The photographs show different centre tags.",
            remedy="Leave one tag on the coupling for all photographs of a rig.",
        )
    planes = tuple(
        PlaneView(
            photo=photo,
            plane="tag",
            local_mm=tag.local_mm(),
            px=tag.corners_px,
            sigma_px=np.full(4, tag.sigma_px),
            quantity="tag corners",
        )
        for photo, tag in enumerate(tags)
        if tag is not None
    )
    return Sightings(
        source="tag", centre_px=tuple(None if tag is None else tag.centre_px for tag in tags), tags=planes
    )
