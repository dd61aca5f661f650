"""Tow balls that are sold: which of them are mistaken for another, and how large one of each may be."""

from __future__ import annotations

import math
from dataclasses import dataclass

from photomeasure.scene.priors import BALL_WORN_MM, SQRT3

# Diameters, mm: 1 7/8 in, 50 mm (ISO 1103, from memory) and 2 in, as the boxes on the sheet have them
SOLD_MM = (47.6, 50.0, 50.8)
SAME_MM = 0.3  # 47.55 and 47.625 are one size
# What a ball that was stated may be of these: nearer ones look alike, further ones nobody takes for it
ALIKE_SHARE, OTHER_SHARE = 0.03, 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeSeen:
    """Diameter that a ball shows when none was stated, and its standard uncertainty, mm."""

    diameter_mm: float
    u_mm: float


def others_of(stated_mm: float) -> tuple[float, ...]:
    """Sizes that are sold beside the one that was stated, the nearest first."""
    others = [size for size in SOLD_MM if abs(size - stated_mm) > SAME_MM]
    return tuple(sorted(others, key=lambda size: abs(size - stated_mm)))


def mistaken_for(stated_mm: float) -> tuple[float, ...]:
    """Sizes that a ball said to be of this one may have, and that look another one in a single picture; the nearest first."""
    return tuple(size for size in others_of(stated_mm) if ALIKE_SHARE < abs(size / stated_mm - 1.0) < OTHER_SHARE)


def off_sigmas(seen: SizeSeen, size_mm: float) -> float:
    """By how many standard uncertainties it is larger than a ball of this size, new to half worn."""
    return (seen.diameter_mm - (size_mm - BALL_WORN_MM / 4)) / math.hypot(seen.u_mm, BALL_WORN_MM / (2 * SQRT3))


def fitting(seen: SizeSeen, sigmas: float) -> tuple[float, ...]:
    """Sizes that are sold and that it may have, the likeliest first."""
    sizes = sorted(SOLD_MM, key=lambda size: abs(off_sigmas(seen, size)))
    return tuple(size for size in sizes if abs(off_sigmas(seen, size)) < sigmas)
