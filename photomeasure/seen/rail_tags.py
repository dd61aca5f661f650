"""Two of the kit's bar tags stuck on a trailer's rail, in place of two points that somebody marks on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from calib.kit.kit import bar_tag_codes
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.centre.tag.tag import TagSeen, tags_in

if TYPE_CHECKING:
    from photomeasure.seen.look import View

# Of a tag's middle from the line that both were put to: cut along the rim, pressed against one edge of the rail (judgement)
STUCK_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RailTags:
    """ids and middles of the two tags, left to right: px (x, y) each; u_px: of each middle, as seen and as stuck."""

    ids: tuple[int, int]
    px: tuple[tuple[float, float], tuple[float, float]]
    u_px: tuple[float, float]


def rail_tags(view: View) -> RailTags | Refusal:
    """The two bar tags of one size that a photograph shows. Refuses with `rail-tags` where there are none, others or more."""
    upright = view.finding.of_role("upright")
    assert upright is not None
    height, width = view.photo.grey.shape
    px_per_mm = upright.cell_px / upright.sheet.cell_mm
    seen = [tag for tag in tags_in(view.photo.grey, (0, 0, width, height), px_per_mm) if tag.id in bar_tag_codes()]
    seen.sort(key=lambda tag: float(tag.centre_px[0]))
    if len(seen) != 2 or len({tag.side_mm for tag in seen}) > 1:
        return _refused(view, seen)
    return RailTags(
        ids=(seen[0].id, seen[1].id),
        px=(_middle(seen[0]), _middle(seen[1])),
        u_px=(_u_px(seen[0]), _u_px(seen[1])),
    )


def _middle(tag: TagSeen) -> tuple[float, float]:
    x, y = tag.centre_px
    return float(x), float(y)


def _u_px(tag: TagSeen) -> float:
    """Four corners of sigma s give the middle to s / 2; how it was stuck is millimetres at the tag's own scale."""
    side_px = float(np.linalg.norm(tag.corners_px - np.roll(tag.corners_px, 1, axis=0), axis=1).mean())
    return float(np.hypot(tag.sigma_px / 2.0, STUCK_MM * side_px / tag.side_mm))


def _refused(view: View, seen: list[TagSeen]) -> Refusal:
    remedy = said(
        "Stick two bar tags of one size on the rail, both pressed with their lower rim against one edge of it, as far apart as can "
        "be seen, no other bar tag in view, and photograph again; or mark two points of the rail in the picture."
    )
    if len(seen) == 2:
        reason = said("The two bar tags in {file} are of different sizes.", file=view.photo.path.name)
    elif seen:
        reason = said(
            "Two bar tags on the rail were looked for in {file}; there are {count}.",
            file=view.photo.path.name,
            count=len(seen),
        )
    else:
        reason = said("No point of the rail was marked, and no bar tag was found in {file}.", file=view.photo.path.name)
    return Refusal(code="rail-tags", reason=reason, remedy=remedy)
