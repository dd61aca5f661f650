"""What heights a scale shows, however it is drawn: from left (low) to right (high)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from photomeasure.record.schema import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Millimetres of height from `low` to `high` over `width` millimetres of paper."""

    low: float
    high: float
    width: float

    def at(self, height_mm: float) -> float:
        return (min(max(height_mm, self.low), self.high) - self.low) / (self.high - self.low) * self.width

    def ticks(self) -> list[float]:
        """Round heights, at most about one each 20 mm of paper."""
        rough = (self.high - self.low) / (self.width / 20.0)
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
        first = math.ceil(self.low / step)
        return [i * step for i in range(first, math.floor(self.high / step) + 1)]


def span_of(record: Record, width_mm: float) -> Span | None:
    """What the scale shows: interval, and the band with room on both sides; None where nothing was measured."""
    if record.interval_mm is None or record.height_mm is None:
        return None
    taped = [] if record.tape is None else [record.tape.centre_mm]
    ends = [*record.interval_mm, record.height_mm, *limits_mm(record), *taped]
    room = max(0.12 * (max(ends) - min(ends)), 4.0)
    return Span(low=min(ends) - room, high=max(ends) + room, width=width_mm)


def limits_mm(record: Record) -> list[float]:
    """The ends of the band that was judged by, those that it has."""
    rule = record.rule
    return [] if rule is None else [end for end in (rule.low_mm, rule.high_mm) if end is not None]
