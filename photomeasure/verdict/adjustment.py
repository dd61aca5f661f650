"""How far down or up the coupling has to go to be inside the band, and how much room there is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from calib.words.said import Digits, Said, said
from photomeasure.verdict.conformity import Acceptance, MeasuredHeight, acceptance, measured_height, sure_enough

if TYPE_CHECKING:
    from photomeasure.rules.model import Band, Decision

CONFIDENCE = 0.95

Cause = Literal["vehicle", "trailer", "both", "neither", "unclear"]

OPEN = said("If what is open here is settled and the figure stands")
_OPEN_WITHIN = said("if what is open here is settled and the figure stands")  # within a sentence

CAUSE_TEXT: dict[Cause, str] = {
    "vehicle": said("Likely cause: the vehicle. Its ball is outside the band; the trailer runs level inside it."),
    "trailer": said("Likely cause: the trailer. It runs level only outside the band; the ball is inside it."),
    "both": said("Vehicle and trailer are both outside the band."),
    "neither": said("Vehicle and trailer are each inside the band: look at the load and how the vehicle settles."),
    "unclear": said("One of the two heights is too close to an end of the band to name a cause."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """Drops (positive, down) and rises (negative, up) after which the height is accepted.

    The drop is taken as exactly known, and the uncertainty as unchanged by it.

    least_down_mm, most_down_mm: the range; None: open on that side, or no range where `possible` is False.
    best_down_mm: to the middle of the band (open band: the smallest change that is accepted); None: nothing can be said.
    room_down_mm, room_up_mm: room left where the height is accepted as it is; None: it is not, or no limit.
    confidence: least probability of being inside, everywhere in the range.
    """

    possible: bool
    least_down_mm: float | None
    most_down_mm: float | None
    best_down_mm: float | None
    room_down_mm: float | None
    room_up_mm: float | None
    confidence: float
    sentence: str


def adjustment(
    known: MeasuredHeight, band: Band, decision: Decision, confidence: float = CONFIDENCE, *, firm: bool = True
) -> Adjustment:
    """Drops and rises that the decision accepts and that are inside with at least `confidence` (0.5 to 1).

    firm: nothing about the measurement is open; else the sentence says that it hangs on what is, and calls nothing best.
    """
    allowed = _both(
        acceptance(known, band.low_mm, band.high_mm, decision),
        sure_enough(known, band.low_mm, band.high_mm, confidence),
    )
    if allowed is None:
        best = _to_middle(known, band, None)
        return Adjustment(
            possible=False,
            least_down_mm=None,
            most_down_mm=None,
            best_down_mm=best,
            room_down_mm=None,
            room_up_mm=None,
            confidence=confidence,
            sentence=_impossible(known, band, best),
        )
    least = None if allowed.high_mm is None else known.height_mm - allowed.high_mm
    most = None if allowed.low_mm is None else known.height_mm - allowed.low_mm
    inside = allowed.holds(known.height_mm)
    best = _to_middle(known, band, allowed)
    return Adjustment(
        possible=True,
        least_down_mm=least,
        most_down_mm=most,
        best_down_mm=best,
        room_down_mm=most if inside else None,
        room_up_mm=-least if inside and least is not None else None,
        confidence=confidence,
        sentence=_room(least, most, firm) if inside else _move(least, most, best, firm),
    )


def likely_cause(ball_mm: float, ball_u_mm: float, trailer_level_mm: float, trailer_u_mm: float, band: Band) -> Cause:
    """Key of CAUSE_TEXT from the vehicle's own ball height and the height at which the trailer runs level.

    A height counts as inside or outside only when its interval of +/-2 u does.
    """
    vehicle = _side(measured_height(ball_mm, ball_u_mm), band)
    trailer = _side(measured_height(trailer_level_mm, trailer_u_mm), band)
    causes: dict[tuple[str, str], Cause] = {
        ("in", "in"): "neither",
        ("in", "out"): "trailer",
        ("out", "in"): "vehicle",
        ("out", "out"): "both",
    }
    return causes.get((vehicle, trailer), "unclear")


def _side(known: MeasuredHeight, band: Band) -> Literal["in", "out", "unclear"]:
    low, high = known.height_mm - known.less_mm, known.height_mm + known.more_mm
    inside = Acceptance(low_mm=band.low_mm, high_mm=band.high_mm)
    if inside.holds(low) and inside.holds(high):
        return "in"
    above = band.high_mm is not None and low > band.high_mm
    below = band.low_mm is not None and high < band.low_mm
    return "out" if above or below else "unclear"


def _both(one: Acceptance | None, other: Acceptance | None) -> Acceptance | None:
    if one is None or other is None:
        return None
    lows = [end for end in (one.low_mm, other.low_mm) if end is not None]
    highs = [end for end in (one.high_mm, other.high_mm) if end is not None]
    low, high = max(lows, default=None), min(highs, default=None)
    if low is not None and high is not None and low > high:
        return None
    return Acceptance(low_mm=low, high_mm=high)


def _to_middle(known: MeasuredHeight, band: Band, allowed: Acceptance | None) -> float:
    if band.low_mm is not None and band.high_mm is not None:
        return known.height_mm - 0.5 * (band.low_mm + band.high_mm)
    edge = allowed if allowed is not None else Acceptance(low_mm=band.low_mm, high_mm=band.high_mm)
    down = 0.0 if edge.high_mm is None else max(0.0, known.height_mm - edge.high_mm)
    up = 0.0 if edge.low_mm is None else max(0.0, edge.low_mm - known.height_mm)
    return down - up


def _inwards(least_mm: float, most_mm: float) -> tuple[Digits, Digits]:
    """Both ends rounded into the range, to 1 mm where that leaves one, else to 0.1 mm."""
    for step, digits in ((1.0, 0), (0.1, 1)):
        low = math.ceil(least_mm / step - 1e-6) * step + 0.0
        high = math.floor(most_mm / step + 1e-6) * step + 0.0
        if low <= high:
            return Digits(f"{low:.{digits}f}"), Digits(f"{high:.{digits}f}")
    return Digits(f"{least_mm:.2f}"), Digits(f"{most_mm:.2f}")


def _span(least_mm: float, most_mm: float | None) -> str:
    if most_mm is None:
        return said("{least} mm or more", least=math.ceil(least_mm - 1e-6))
    low, high = _inwards(least_mm, most_mm)
    return said("{mm} mm", mm=low) if low == high else said("{low} to {high} mm", low=low, high=high)


def _move(least: float | None, most: float | None, best: float, firm: bool) -> str:
    if least is not None and least > 0.0:
        span = _span(least, most)
        if not firm:
            return said("{open}: lower the coupling centre by {span}.", open=OPEN, span=span)
        return said("Lower the coupling centre by {span}; {best:.0f} mm is best.", span=span, best=best)
    span = _span(-most if most is not None else 0.0, None if least is None else -least)
    if not firm:
        return said("{open}: raise the coupling centre by {span}.", open=OPEN, span=span)
    return said("Raise the coupling centre by {span}; {best:.0f} mm is best.", span=span, best=-best)


def _room(least: float | None, most: float | None, firm: bool) -> str:
    down, up = _down_to(most), _down_to(None if least is None else -least)
    if not firm:
        return said("{open}: there is room for {down} lower and {up} higher.", open=OPEN, down=down, up=up)
    return said("Nothing to change: there is room for {down} lower and {up} higher.", down=down, up=up)


def _down_to(room_mm: float | None) -> str:
    if room_mm is None:
        return said("any amount")
    if room_mm >= 1.0:
        return said("{mm} mm", mm=Digits(f"{math.floor(room_mm + 1e-6):d}"))
    return said("{mm} mm", mm=Digits(f"{math.floor(room_mm * 10 + 1e-6) / 10:.1f}"))


def _impossible(known: MeasuredHeight, band: Band, best_down_mm: float) -> str:
    values = {
        "less_mm": known.less_mm, "more_mm": known.more_mm, "band": band.text, "best_mm": abs(best_down_mm),
    }  # fmt: skip
    if best_down_mm >= 0.0:
        return said(
            "No drop or rise can make this sure: the uncertainty ({less_mm:.1f} mm down, {more_mm:.1f} mm up) leaves nothing of "
            "the band of {band}. Measure more exactly first; the middle of the band is {best_mm:.0f} mm lower.",
            **values,
        )
    return said(
        "No drop or rise can make this sure: the uncertainty ({less_mm:.1f} mm down, {more_mm:.1f} mm up) leaves nothing of "
        "the band of {band}. Measure more exactly first; the middle of the band is {best_mm:.0f} mm higher.",
        **values,
    )


def as_it_is(change: Adjustment) -> Adjustment:
    """The same range, where the height is accepted as it is and only the wanted probability asks for more."""
    sentence = change.sentence
    if not isinstance(sentence, Said):
        return change
    way, firm = ("lower" if (change.least_down_mm or 0.0) > 0.0 else "raise"), "open" not in sentence.values
    values = {"confidence": 100 * change.confidence, **sentence.values}
    if not firm:
        told = said(
            "Inside by this decision rule as it is; to be inside with {confidence:g} % probability: {rest}",
            confidence=values["confidence"],
            rest=sentence.with_values(open=_OPEN_WITHIN),
        )
    elif way == "lower":
        told = said(
            "Inside by this decision rule as it is; to be inside with {confidence:g} % probability: lower the coupling centre by "
            "{span}; {best:.0f} mm is best.",
            **values,
        )
    else:
        told = said(
            "Inside by this decision rule as it is; to be inside with {confidence:g} % probability: raise the coupling centre by "
            "{span}; {best:.0f} mm is best.",
            **values,
        )
    return replace(change, sentence=told)
