"""What only the person can tell, of this measurement: codes, each with the record's own sentence that it answers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from photomeasure.asked.needs import OF_REFUSALS, Need
from photomeasure.pipeline import Result
from photomeasure.record.schema import NeedPart
from photomeasure.verdict.ball_size import of_ball_size
from photomeasure.verdict.doubts import MEASURE_BARS
from photomeasure.verdict.judge import Verdict
from photomeasure.verdict.measured import state_of, what_was_measured
from photomeasure.verdict.notes import GROUND_ASSUMED, NO_BARS, ONE_BAR
from photomeasure.verdict.state_of_band import Open, differences

_OF_STATE: Mapping[Open, Need] = {
    "coupled": "coupled",
    "what": "coupled",
    "laden": "laden",
    "level_ground": "level-ground",
    "level_control": "level-control",
}


def needs_of(result: Result, verdict: Verdict) -> list[NeedPart]:
    """Each code once, in the order in which it helps most."""
    found: dict[str, NeedPart] = {}
    for part in (*_of_bars(result), *_of_state(result, verdict), *_of_ball(result)):
        found.setdefault(part.code, part)
    return list(found.values())


def needs_of_refusal(code: str) -> list[NeedPart]:
    """What a person could say so that a refusal of that code is none."""
    return [NeedPart(code=need) for need in OF_REFUSALS.get(code, ())]


def _of_bars(result: Result) -> Iterator[NeedPart]:
    if "print.x" not in result.estimate.where.index:
        return
    bars = result.request.bars
    if bars.x_mm is None and bars.y_mm is None:
        yield NeedPart(code="bars", answers=[NO_BARS, MEASURE_BARS])
    elif bars.x_mm is None:
        yield NeedPart(code="bar-x", answers=[ONE_BAR, MEASURE_BARS])
    elif bars.y_mm is None:
        yield NeedPart(code="bar-y", answers=[ONE_BAR, MEASURE_BARS])


def _of_state(result: Result, verdict: Verdict) -> Iterator[NeedPart]:
    request = result.request
    if verdict.band is None:
        return
    what = what_was_measured(result.sightings.way, request.state.coupled)
    for row in differences(verdict.band, state_of(request), what):
        need = _OF_STATE.get(row.about)
        said = need == "coupled" and request.state.coupled is not None
        if row.unsaid and need is not None and not said:
            yield NeedPart(code=need, answers=[row.remedy, *([GROUND_ASSUMED] if need == "level-ground" else ())])


def _of_ball(result: Result) -> Iterator[NeedPart]:
    if of_ball_size(result.ball, result.request.ball_diameter_mm):
        yield NeedPart(code="ball-diameter")
    if any(quantity in ("ball diameter", "ball edge") for quantity in result.contradicted):
        yield NeedPart(code="ball-diameter")
        yield NeedPart(code="centre")
