"""The checks of loads in words, the same on the terminal, in the report and in JSON."""

from __future__ import annotations

from collections.abc import Sequence

from calib.words.said import Digits, joined, said
from photomeasure.rig.loads import Check, LoadState
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan

_STATES: dict[LoadState, str] = {
    "kept": said("kept"),
    "unsure": said("TOO CLOSE to call"),
    "over": said("TOO MUCH"),
    "unknown": said("not known"),
}

# a check's name at the beginning of a line
_HEADS = {
    "vehicle's mass": said("Vehicle's mass"),
    "trailer's mass": said("Trailer's mass"),
    "vehicle's rear axle": said("Vehicle's rear axle"),
    "vehicle's front axle": said("Vehicle's front axle"),
    "each trailer axle": said("Each trailer axle"),
    "ball load as a share of the trailer's mass": said("Ball load as a share of the trailer's mass"),
    "ball load, by the vehicle's and the ball's plates": said("Ball load, by the vehicle's and the ball's plates"),
    "ball load, by the tow bar's or drop's plate": said("Ball load, by the tow bar's or drop's plate"),
    "ball load, by the coupling's plate": said("Ball load, by the coupling's plate"),
}


def load_lines(plan: Plan) -> tuple[str, ...]:
    """Every load of the outcome shown against its rating or what is usual, one sentence each."""
    lines = [load_line(check) for check in plan.shown.checks]
    if not plan.setup.ratings.typed:
        lines.append(
            said("No rating is typed under [ratings], so none was checked: the least one of all parts decides.")
        )
    return tuple(lines)


def load_line(check: Check) -> str:
    """`vehicle's rear axle: 1733 ± 62 kg, at most 1700 kg: TOO MUCH`."""
    return said("{line}.", line=_line(check))


def _line(check: Check) -> str:
    if check.practice:
        may_be = said("usual is {low:g} to {high:g} %", low=check.low, high=check.high)
    else:
        may_be = said("at most {most:g} kg", most=check.high)
    if check.found is None:
        return said(
            "{name}: {may_be}; not known: it needs {needs}",
            name=_HEADS.get(check.name, check.name),
            may_be=may_be,
            needs=check.needs,
        )
    digits = 1 if check.unit == "%" else 0
    half = 0.5 * (check.found.high - check.found.low)
    figure = Digits(f"{check.found.mean:.{digits}f} ± {half:.{digits}f} {check.unit}")
    return said(
        "{name}: {figure}, {may_be}: {judged}",
        name=_HEADS.get(check.name, check.name),
        figure=figure,
        may_be=may_be,
        judged=_judged(check),
    )


def _judged(check: Check) -> str:
    if not check.practice:
        return _STATES[check.state]
    if check.state == "kept":
        return said("usual")
    found = check.found
    if found is None or check.low is None or check.low <= found.mean <= check.high:
        return said("near the end of what is usual")
    return said("UNUSUALLY LOW") if found.mean < check.low else said("UNUSUALLY HIGH")


def overloaded_sentence(one: Outcome, failed: Sequence[Check]) -> str:
    """Which plates the outcome asks too much of; empty where none."""
    if not failed:
        return ""
    lines = joined((_line(check) for check in failed), "; ")
    return said("TOO MUCH for a rating, or too close to one, with {fitted}: {lines}.", fitted=_with(one), lines=lines)


def unusual_sentence(one: Outcome) -> str:
    """What lies outside what is usual, and what to do about it; empty where nothing does."""
    for check in one.unusual:
        if check.found is None or check.low is None:
            continue
        low = check.found.mean < check.low
        return said(
            "But the ball would carry {percent:.1f} % of the trailer's mass with {fitted}, {low:g} to {high:g} % is usual: {shift}, "
            "weigh the ball load again, and plan again before you rely on this.",
            percent=check.found.mean,
            fitted=_with(one),
            low=check.low,
            high=check.high,
            shift=said("shift load forward") if low else said("shift load back"),
        )
    return ""


def _with(one: Outcome) -> str:
    return said("the rig as it is") if one.offset_mm == 0.0 else said("the {name}", name=one.called)
