"""What a person asks of a trailer's level: photographs, two points of the ground line and two of the rail in each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from calib.words.said import said
from photomeasure.asked.request import Request

LEVEL_PICK_U_PX = 1.0  # a touch on a tyre's contact or a rail's edge (judgement)
NoseSide = Literal["left", "right"]
Pixel = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """How far nose-up and nose-down a trailer may stand, degrees, both zero or more; source: who says so."""

    nose_up_deg: float
    nose_down_deg: float
    source: str


# "always level or slightly nose down" (National Caravan Council, read); the degree is our own
USUAL = Allowed(
    nose_up_deg=0.0,
    nose_down_deg=1.0,
    source=said("usual practice: level or slightly nose-down; the degree is our own"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRequest:
    """request: photographs, check bars, camera, ground as of a measurement.

    ground_px, rail_px: two points a photograph, in the order of the photographs; no rail_px: two bar tags stuck on the rail are
    looked for, and stand here once they are found, with rail_u_px (pixels, of each) and rail_tags (their ids). nose:
    which end of the trailer is in front as a person sees the picture; None: the end at the sheet.
    """

    request: Request
    ground_px: tuple[Pixel, ...]
    rail_px: tuple[Pixel, ...]
    pick_u_px: float = LEVEL_PICK_U_PX
    rail_u_px: tuple[float, ...] = ()
    rail_tags: tuple[int, ...] = ()
    nose: NoseSide | None = None
    allowed: Allowed | None = None
