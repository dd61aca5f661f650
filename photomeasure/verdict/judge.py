"""The verdict: which band, how probable, how sure, in which state, and what would put it right."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from calib.outcome.errors import InputError
from calib.words.said import Digits, said
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.uncertainty.printed import decimals
from photomeasure.verdict.adjustment import (
    CAUSE_TEXT,
    CONFIDENCE,
    Adjustment,
    Cause,
    adjustment,
    as_it_is,
    likely_cause,
)
from photomeasure.verdict.conformity import (
    Acceptance,
    MeasuredHeight,
    Probabilities,
    acceptance,
    measured_height,
    probability_inside,
)
from photomeasure.verdict.no_drop import moving, no_drop, what_would_tell, when_settled
from photomeasure.verdict.settled import settled_height
from photomeasure.verdict.state_of_band import Difference, choose_band, differences

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from photomeasure.rules.model import Band, Decision, Rule, What

__all__ = [
    "CAUSE_TEXT",
    "Adjustment",
    "Cause",
    "State",
    "Verdict",
    "VerdictName",
    "choose_band",
    "judge",
    "likely_cause",
    "probability_inside",
]

VerdictName = Literal["within", "above", "below", "undecided", "no-band"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the rule says about one height.

    p_inside, p_above, p_below: probabilities; None where no band applies.
    guard_band_mm: the larger of the two guard bands.
    acceptance_mm: (low, high), an end None where the band is open; None: no height would be accepted.
    indicative: the photographed state is not, or not known to be, the one that the band speaks of.
    """

    verdict: VerdictName
    sentence: str
    rule: str
    band: Band | None
    decision: str
    p_inside: float | None
    p_above: float | None
    p_below: float | None
    guard_band_mm: float | None
    acceptance_mm: tuple[float | None, float | None] | None
    indicative: bool
    indicative_why: tuple[str, ...]
    indicative_remedy: tuple[str, ...]
    adjustment: Adjustment | None
    advice: tuple[str, ...]


def judge(
    height_mm: float,
    u_mm: float,
    rule: Rule,
    state: State,
    coupling: str,
    *,
    interval_mm: tuple[float, float] | None = None,
    samples_mm: ArrayLike | None = None,
    what: What | None = None,
    decision: Decision | None = None,
    confidence: float = CONFIDENCE,
    doubts: tuple[Difference, ...] = (),
    sag: Sag | None = None,
) -> Verdict:
    """The verdict on a coupling centre's height under a rule: probability of conformity after JCGM 106:2012.

    height_mm: above the ground, mm; u_mm: its standard uncertainty, mm, 0 or more. coupling: one of `asked.state.COUPLINGS`; one of
    which the rule does not speak has no band.
    interval_mm: (low, high) expanded interval, mm, for the guard bands (None: +/-2 u, or from samples_mm).
    samples_mm: (n,) Monte Carlo draws of the height, mm, in place of a normal distribution.
    what: whose height was measured, where that is known.
    decision: in place of the rule's own. confidence: for the drop or rise, 0.5 to 1 (exclusive).
    doubts: further reasons why it is only indicative, in the measurement itself.
    sag: what tells how far the ball sinks to the state that counts; advice alone, the verdict stays that of the photograph.
    Raises InputError for heights, uncertainties and confidences that are not numbers in range.
    """
    known = measured_height(height_mm, u_mm, interval_mm=interval_mm, samples_mm=samples_mm)
    if not 0.5 < confidence < 1.0:
        raise InputError(
            said("The confidence is {confidence}.", confidence=repr(confidence)),
            expected=said("a probability between 0.5 and 1"),
            remedy=said("0.95 is usual"),
        )
    decision = rule.decision if decision is None else decision
    if coupling not in rule.couplings:
        return _no_band(
            rule,
            decision,
            said("The rule {rule} does not speak of the coupling {coupling}.", rule=rule.name, coupling=coupling),
        )
    band = choose_band(rule, state)
    if band is None:
        return _no_band(rule, decision, said("No band is known to apply ({title}).", title=rule.title))
    other_state = differences(band, state, what)
    elsewhere = moving(other_state)
    settled = settled_height(known, sag or Sag(), state, elsewhere) if elsewhere else known
    if settled is None:
        change, instead = no_drop(elsewhere, confidence), what_would_tell(elsewhere)
    else:
        change, instead = adjustment(settled, band, decision, confidence, firm=not (doubts or other_state)), ()
        if elsewhere:
            change = when_settled(change, settled, elsewhere)
    verdict = _with_band(known, rule, band, decision, doubts, other_state, change)
    return replace(verdict, advice=(*verdict.advice, *instead))


def _with_band(
    known: MeasuredHeight,
    rule: Rule,
    band: Band,
    decision: Decision,
    doubts: tuple[Difference, ...],
    other_state: tuple[Difference, ...],
    change: Adjustment,
) -> Verdict:
    p = known.probabilities(band.low_mm, band.high_mm)
    accepted = acceptance(known, band.low_mm, band.high_mm, decision)
    name = decided(known, p, band, decision)
    unlike = (*doubts, *other_state)
    if (
        name == "within"
        and not moving(other_state)
        and change.possible
        and change.room_down_mm is None
        and change.room_up_mm is None
    ):
        change = as_it_is(change)
    to_settle, to_change = (tuple(dict.fromkeys(row.remedy for row in rows)) for rows in (doubts, other_state))
    verdict = Verdict(
        verdict=name,
        sentence=_sentence(name, known, band, p),
        rule=rule.name,
        band=band,
        decision=decision.text,
        p_inside=p.inside,
        p_above=p.above,
        p_below=p.below,
        guard_band_mm=_guard_band_mm(known, band, decision, accepted),
        acceptance_mm=None if accepted is None else (accepted.low_mm, accepted.high_mm),
        indicative=bool(unlike),
        indicative_why=tuple(row.why for row in unlike),
        indicative_remedy=(*to_settle, *to_change),
        adjustment=change,
        advice=(*to_settle, change.sentence, *to_change),  # what is doubtful first: the rest hangs on it
    )
    if not unlike:
        return verdict
    return replace(verdict, sentence=said("Indicative only. {sentence}", sentence=verdict.sentence))


def decided(known: MeasuredHeight, p: Probabilities, band: Band, decision: Decision) -> VerdictName:
    """Accept, reject above or below, each with the same guard or risk; what is left is undecided."""
    height, low, high = known.height_mm, band.low_mm, band.high_mm
    if decision.kind == "max-false-acceptance":
        sure = 1.0 - decision.risk
        if p.inside >= sure:
            return "within"
        return "above" if p.above >= sure else "below" if p.below >= sure else "undecided"
    r = decision.r
    accepted = acceptance(known, low, high, decision)
    if accepted is not None and accepted.holds(height):
        return "within"
    if high is not None and height - r * known.less_mm > high:
        return "above"
    if low is not None and height + r * known.more_mm < low:
        return "below"
    return "undecided"


def _guard_band_mm(known: MeasuredHeight, band: Band, decision: Decision, accepted: Acceptance | None) -> float | None:
    if decision.kind != "max-false-acceptance":
        return decision.r * max(known.less_mm, known.more_mm)
    if accepted is None:
        return None
    ends = ((accepted.low_mm, band.low_mm), (band.high_mm, accepted.high_mm))
    return max(0.0, *(inner - outer for inner, outer in ends if inner is not None and outer is not None))


def _no_band(rule: Rule, decision: Decision, sentence: str) -> Verdict:
    return Verdict(
        verdict="no-band",
        sentence=sentence,
        rule=rule.name,
        band=None,
        decision=decision.text,
        p_inside=None,
        p_above=None,
        p_below=None,
        guard_band_mm=None,
        acceptance_mm=None,
        indicative=False,
        indicative_why=(),
        indicative_remedy=(),
        adjustment=None,
        advice=(
            said("Go by how level the trailer runs, and by the articulation that the coupling's maker allows."),
            said("Ask whoever decides locally whether a height limit applies."),
        ),
    )


def _percent(p: float) -> str:
    if p > 0.999:
        return said("over 99.9 %")
    if p < 0.001:
        return said("under 0.1 %")
    return said("{percent:.1f} %", percent=100.0 * p)


def _sentence(name: VerdictName, known: MeasuredHeight, band: Band, p: Probabilities) -> str:
    values = {
        "height": Digits(f"{known.height_mm:.{decimals((known.less_mm + known.more_mm) / 2)}f}"),
        "band": band.text,
        "inside": _percent(p.inside),
    }
    if name == "within":
        return said("Within the band: {height} mm against {band}; probability of being inside {inside}.", **values)
    if name == "above":
        return said("Above the band: {height} mm against {band}; probability of being inside {inside}.", **values)
    if name == "below":
        return said("Below the band: {height} mm against {band}; probability of being inside {inside}.", **values)
    return said("Too close to call: {height} mm against {band}; probability of being inside {inside}.", **values)
