"""The checks of loads in words, the same on the terminal, in the report and in JSON."""

from __future__ import annotations

from collections.abc import Sequence

from photomeasure.rig.loads import Check, State
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan

_STATES: dict[State, str] = {
    "kept": "kept",
    "unsure": "TOO CLOSE to call",
    "over": "TOO MUCH",
    "unknown": "not known",
}


def load_lines(plan: Plan) -> tuple[str, ...]:
    """Every load of the outcome shown against its rating or what is usual, one sentence each."""
    lines = [load_line(check) for check in plan.shown.checks]
    if not plan.setup.ratings.typed:
        lines.append("No rating is typed under [ratings], so none was checked: the least one of all parts decides.")
    return tuple(lines)


def load_line(check: Check) -> str:
    """`vehicle's rear axle: 1733 ± 62 kg, at most 1700 kg: TOO MUCH`."""
    may_be = f"usual is {check.low:g} to {check.high:g} %" if check.practice else f"at most {check.high:g} kg"
    name = check.name[0].upper() + check.name[1:]
    if check.found is None:
        return f"{name}: {may_be}; not known: it needs {check.needs}."
    digits = 1 if check.unit == "%" else 0
    half = 0.5 * (check.found.high - check.found.low)
    figure = f"{check.found.mean:.{digits}f} ± {half:.{digits}f} {check.unit}"
    return f"{name}: {figure}, {may_be}: {_judged(check)}."


def _judged(check: Check) -> str:
    if not check.practice:
        return _STATES[check.state]
    if check.state == "kept":
        return "usual"
    found = check.found
    if found is None or check.low is None or check.low <= found.mean <= check.high:
        return "near the end of what is usual"
    return "UNUSUALLY LOW" if found.mean < check.low else "UNUSUALLY HIGH"


def overloaded_sentence(one: Outcome, failed: Sequence[Check]) -> str:
    """Which plates the outcome asks too much of; empty where none."""
    if not failed:
        return ""
    said = "; ".join(load_line(check)[:-1] for check in failed)
    return f"TOO MUCH for a rating, or too close to one, with {_with(one)}: {said}."


def unusual_sentence(one: Outcome) -> str:
    """What lies outside what is usual, and what to do about it; empty where nothing does."""
    for check in one.unusual:
        if check.found is None or check.low is None:
            continue
        low = check.found.mean < check.low
        shift = "shift load forward" if low else "shift load back"
        return (
            f"But the ball would carry {check.found.mean:.1f} % of the trailer's mass with {_with(one)}, {check.low:g} to "
            f"{check.high:g} % is usual: {shift}, weigh the ball load again, and plan again before you rely on this."
        )
    return ""


def _with(one: Outcome) -> str:
    return "the rig as it is" if one.offset_mm == 0.0 else f"the {one.name}"
