"""Which drops and rises would do at all, listed or not: exact from the draws, one threshold per draw and band
end.

The coupled height and the pitch both grow with the ball's offset o, so each draw is inside the band for o
between two thresholds, and level between two more. P(o) is then the share of draws whose interval holds o. An
offset stands for an exactly made part that moves the ball straight up or down (no extra lever).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.rig.model import RigModel
from photomeasure.rig.setup import Level
from photomeasure.rig.target import Target

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRange:
    """Offsets of the ball that do, up positive, in mm."""

    low_mm: float
    high_mm: float

    def holds(self, offset_mm: float) -> bool:
        """Whether an offset is inside."""
        return self.low_mm <= offset_mm <= self.high_mm

    @property
    def middle_mm(self) -> float:
        """The middle, or the finite end of a range that is open on one side."""
        if not np.isfinite(self.low_mm):
            return self.high_mm
        return 0.5 * (self.low_mm + self.high_mm) if np.isfinite(self.high_mm) else self.low_mm

    def nearest_mm(self, offset_mm: float) -> float:
        """The offset inside the range that is nearest to another one, whole millimetres where there is
        one."""
        low, high = np.ceil(self.low_mm), np.floor(self.high_mm)
        return float(np.clip(offset_mm, low, high)) if low <= high else self.middle_mm

    @property
    def text(self) -> str:
        """The range in words, drops as drops and rises as rises, rounded inwards to whole millimetres."""
        if not np.isfinite(self.low_mm):
            return said("{move} or anything lower", move=_move(int(np.floor(self.high_mm))))
        if not np.isfinite(self.high_mm):
            return said("{move} or anything higher", move=_move(int(np.ceil(self.low_mm))))
        low, high = int(np.ceil(self.low_mm)), int(np.floor(self.high_mm))
        if low > high:
            return _move(round(0.5 * (self.low_mm + self.high_mm)))
        if low == high:
            return _move(low)
        if low == 0:
            return said("no change, or a rise of up to {mm} mm", mm=high)
        if high == 0:
            return said("no change, or a drop of up to {mm} mm", mm=-low)
        if high < 0:
            return said("a drop of {least} to {most} mm", least=-high, most=-low)
        if low > 0:
            return said("a rise of {least} to {most} mm", least=low, most=high)
        return said("anything from a drop of {down} mm to a rise of {up} mm", down=-low, up=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranges:
    """Offsets that put the ball inside the band, those that make the trailer level, and those that do
    both."""

    inside: OffsetRange | None
    level: OffsetRange | None
    both: OffsetRange | None


def _move(offset_mm: int) -> str:
    if offset_mm == 0:
        return said("no change")
    return said("a drop of {mm} mm", mm=-offset_mm) if offset_mm < 0 else said("a rise of {mm} mm", mm=offset_mm)


def ranges(model: RigModel, target: Target, level: Level) -> Ranges:
    """Return the ranges: "inside" at the target's confidence, "level" on the balance of probability."""
    count = model.x["ball height"].size
    open_low, open_high = np.full(count, -np.inf), np.full(count, np.inf)
    low = open_low if target.low_mm is None else model.offset_for_height_mm(target.low_mm)
    high = open_high if target.high_mm is None else model.offset_for_height_mm(target.high_mm)
    down, up = (model.offset_for_pitch_mm(float(np.radians(end))) for end in level.ends_deg)
    inside = _where(low, high, target.confidence) if target.has_band else None
    is_level = _where(down, up, 0.5)
    return Ranges(inside=inside, level=is_level, both=_overlap(inside, is_level) if target.has_band else is_level)


def _where(low: Array, high: Array, share: float) -> OffsetRange | None:
    """Return the offsets that at least this share of the intervals [low, high], (N,) each, hold; None where
    none.

    The share rises at every low end and falls after every high end; the first and the last offset that reach
    the wanted share bound the range (it has one peak for intervals that differ mainly by a shift).
    """
    needed = share * low.size
    lows, highs = np.sort(low), np.sort(high)
    places = np.concatenate([lows, highs])
    places = np.sort(places[np.isfinite(places)])
    if places.size == 0:
        return None
    held = np.searchsorted(lows, places, side="right") - np.searchsorted(highs, places, side="left")
    good = places[held >= needed]
    if good.size == 0:
        return None
    first = -np.inf if not np.isfinite(lows).any() else float(good[0])
    last = np.inf if not np.isfinite(highs).any() else float(good[-1])
    return OffsetRange(low_mm=first, high_mm=last)


def _overlap(one: OffsetRange | None, other: OffsetRange | None) -> OffsetRange | None:
    if one is None or other is None:
        return None
    low, high = max(one.low_mm, other.low_mm), min(one.high_mm, other.high_mm)
    return OffsetRange(low_mm=low, high_mm=high) if low <= high else None
