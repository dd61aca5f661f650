"""What was measured: the vehicle's ball or the trailer's coupling head, as far as seen and stated."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.asked.state import State
    from photomeasure.rules.model import What
    from photomeasure.seen.centre.sightings import Way

LEVEL_ENOUGH_MM_PER_M = 10.0  # a reading that still speaks of level ground: 0.6 degrees (judgement)


def what_was_measured(way: Way, coupled: bool | None) -> What | None:
    """The ball where its outline was seen; the head where a centre tag is on it and the trailer is not connected.

    None: a mark alone does not tell, and connected the two share their height.
    """
    if way == "ball":
        return "vehicle ball"
    return "coupling head" if way == "tag" and coupled is not True else None


def state_that_counts(state: State, level_within_mm_per_m: float | None, *, in_a_bay: bool) -> State:
    """The stated state, with the ground as known where a level was read on it or a survey made it the bay's own."""
    if state.level_ground is not None:
        return state
    read = level_within_mm_per_m is not None and level_within_mm_per_m <= LEVEL_ENOUGH_MM_PER_M
    return replace(state, level_ground=True) if in_a_bay or read else state


def state_of(request: Request) -> State:
    """The state that counts of a request."""
    return state_that_counts(request.state, request.level_within_mm_per_m, in_a_bay=request.bay is not None)
