"""From a result to its record: every figure that a person or a program will read, in one place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from calib.words.said import said
from photomeasure import __version__
from photomeasure.asked.request import Request
from photomeasure.interval.budget import budget
from photomeasure.interval.coach import NEAR_MM, coach
from photomeasure.interval.expanded import Expanded
from photomeasure.pipeline import Result
from photomeasure.record.bar_parts import bar_parts
from photomeasure.record.cautions import CAUTIONS
from photomeasure.record.input_rows import input_rows
from photomeasure.record.needs import needs_of, needs_of_refusal
from photomeasure.record.schema import (
    AdjustmentPart,
    AmbiguityPart,
    BallPart,
    BudgetRow,
    CentrePart,
    FactPart,
    MonteCarloPart,
    PhotoPart,
    Record,
    RefusalPart,
    RulePart,
    StatePart,
)
from photomeasure.record.seen_parts import camera_part, photo_part, print_number, second_sheet, view_part
from photomeasure.record.tape_instructions import tape_instructions
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused
from photomeasure.solution.scene_of import ground_of
from photomeasure.verdict.judge import Verdict, judge
from photomeasure.verdict.measured import state_of, what_was_measured
from photomeasure.verdict.rests_on import rests_on

if TYPE_CHECKING:
    from photomeasure.interval.montecarlo import MonteCarloCheck

COVERAGE = 0.95  # nominal; the interval holds 0.9545, as two u of a normal distribution do


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _taken(photos: Iterable[Photo]) -> list[datetime]:
    """When each was taken, by its camera's clock, earliest first; those that do not tell are left out."""
    return sorted(photo.facts.taken for photo in photos if photo.facts.taken is not None)


def _first_taken(photos: Iterable[Photo]) -> str | None:
    times = _taken(photos)
    return times[0].isoformat() if times else None


def _state(request: Request) -> StatePart:
    state = request.state
    return StatePart(
        coupling=request.coupling,
        coupled=state.coupled,
        laden=state.laden,
        level_ground=state.level_ground,
        level_control=state.level_control,
        sinking=request.sag.text or None,
        level_within_mm_per_m=request.level_within_mm_per_m,
    )


def _rule(request: Request, verdict: Verdict | None) -> RulePart:
    rule = request.rule
    band = verdict.band if verdict is not None else None
    decision = rule.decision if request.decision is None else request.decision
    return RulePart(
        name=rule.name,
        title=rule.title,
        low_mm=band.low_mm if band else None,
        high_mm=band.high_mm if band else None,
        source=rule.source,
        edition=rule.edition,
        confidence=rule.confidence,
        notes=[note for note in (band.note if band else None, *rule.notes) if note],
        contradictions=[row.text for row in rule.contradictions],
        decision=decision.text,
        decision_kind=decision.kind,
        decision_number=decision.number,
        decision_from="rule" if request.decision is None else "user",
        guard_band_mm=verdict.guard_band_mm if verdict is not None else None,
    )


def _adjustment(verdict: Verdict) -> AdjustmentPart | None:
    change = verdict.adjustment
    if change is None:
        return None
    return AdjustmentPart(
        sentence=change.sentence,
        down_from_mm=change.least_down_mm,
        down_to_mm=change.most_down_mm,
        to_middle_mm=change.best_down_mm,
        confidence=change.confidence,
    )


def warnings_of(result: Result) -> list[str]:
    """What the reader must know before using the figure."""
    return list(result.warnings)


def advice_of(result: Result) -> tuple[str, ...]:
    """The coach's sentences, of the kit or of the bay."""
    upright = result.views[0].finding.of_role("upright")
    in_bay = result.request.bay is not None
    if result.request.before_photos:  # what would help is worked out of photographs of one moment
        return ()
    if upright is None and not in_bay:
        return ()
    return coach(
        result.estimate,
        None if in_bay or upright is None else upright.sheet.paper,
        decided=result.verdict.verdict != "undecided",
        near_ground=ground_of(result.request, NEAR_MM),
        now_mm=result.expanded.U_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stated:
    """What is reported: the first order, or the Monte Carlo result where that differs by more than the digit."""

    height_mm: float
    u_mm: float
    interval_mm: tuple[float, float]
    factor: float
    factor_sentence: str
    verdict: Verdict
    part: MonteCarloPart | None = None


def _first_order(result: Result) -> _Stated:
    known: Expanded = result.expanded
    return _Stated(
        height_mm=known.height_mm,
        u_mm=known.u_mm,
        interval_mm=known.interval_mm,
        factor=known.factor,
        factor_sentence=known.sentence,
        verdict=result.verdict,
    )


def _stated(result: Result, check: MonteCarloCheck | None) -> _Stated:
    plain = _first_order(result)
    if check is None:
        return plain
    draws, takes_over = check.draws, check.takes_over
    part = MonteCarloPart(
        trials=draws.draws,
        height_mm=draws.value,
        u_mm=draws.u,
        interval_mm=(draws.low, draws.high),
        reported=takes_over,
        sentence=said(
            "Monte Carlo ({draws} draws) differs from the first order by more than the reported digit and is the one reported.",
            draws=draws.draws,
        )
        if takes_over
        else said("Monte Carlo ({draws} draws) agrees with the first order.", draws=draws.draws),
    )
    if not takes_over:
        return replace(plain, part=part)
    request, interval = result.request, (draws.low, draws.high)
    verdict = judge(
        draws.value, draws.u, request.rule, state_of(request), request.coupling,
        interval_mm=interval, samples_mm=draws.sorted_draws if draws.draws >= 1000 else None,
        what=what_was_measured(result.sightings.way, request.state.coupled), decision=request.decision,
        sag=request.sag, doubts=result.doubts,
    )  # fmt: skip
    factor = (draws.high - draws.low) / 2 / draws.u
    return _Stated(
        height_mm=draws.value,
        u_mm=draws.u,
        interval_mm=interval,
        factor=factor,
        factor_sentence=said("k = {factor:.2f} for 95 % by the draws of the Monte Carlo.", factor=factor),
        verdict=verdict,
        part=part,
    )


def record_of(
    result: Result,
    *,
    advice: tuple[str, ...] = (),
    check: MonteCarloCheck | None = None,
    with_rests: bool = True,
) -> Record:
    """The record of a measurement. check: Monte Carlo of the same estimate, which takes over where the two differ. with_rests:
    whether what the photographs cannot show is worked out, two thirds of the time of the whole."""
    solved, request = result.estimate, result.request
    stated = _stated(result, check)
    verdict = stated.verdict
    return Record(
        version=__version__,
        computed=_now(),
        photographed=_first_taken(view.photo for view in result.views if not view.before),
        height_mm=stated.height_mm,
        u_mm=stated.u_mm,
        U_mm=(stated.interval_mm[1] - stated.interval_mm[0]) / 2,
        coverage=COVERAGE,
        coverage_factor=stated.factor,
        coverage_sentence=stated.factor_sentence,
        interval_mm=stated.interval_mm,
        monte_carlo=stated.part,
        verdict=verdict.verdict,
        sentence=verdict.sentence,
        p_inside=verdict.p_inside,
        p_above=verdict.p_above,
        p_below=verdict.p_below,
        indicative=verdict.indicative,
        indicative_why=list(verdict.indicative_why),
        rule=_rule(request, verdict),
        state=_state(request),
        facts=[FactPart(question=fact.question, value=fact.value, from_=fact.source) for fact in result.facts],
        print_number=print_number(result.views),
        second_sheet=second_sheet(result.views, solved),
        adjustment=_adjustment(verdict),
        advice=list(verdict.advice),
        coach=list(advice),
        rests_on=_rests_on(result, stated) if with_rests else [],
        needs=needs_of(result, verdict),
        warnings=warnings_of(result),
        budget=[BudgetRow(quantity=row.quantity, u_mm=row.u_mm, share=row.share) for row in budget(solved)],
        inputs=input_rows(solved),
        centre=CentrePart(
            source=result.sightings.way,
            px=[None if px is None else [float(px[0]), float(px[1])] for px in result.sightings.centre_px],
            checks=list(result.sightings.checks),
        ),
        ball=None if result.ball is None else BallPart(diameter_mm=result.ball.diameter_mm, u_mm=result.ball.u_mm),
        **bar_parts(result),
        camera=camera_part(result),
        ambiguity=None
        if solved.ambiguity is None
        else AmbiguityPart(
            photo=solved.ambiguity.photo,
            extra_chi2=solved.ambiguity.extra_chi2,
            other_height_mm=solved.ambiguity.other_height_mm,
        ),
        confirm=list(
            tape_instructions(
                request.coupling,
                request.state,
                tagged=result.sightings.way == "tag",
                ball_diameter_mm=request.ball_diameter_mm,
            )
        ),
        cautions=list(CAUTIONS),
        photos=[view_part(view, result, number) for number, view in enumerate(result.views)],
    )


def _rests_on(result: Result, stated: _Stated) -> list[str]:
    upright = next((one for view in result.views if (one := view.finding.of_role("upright")) is not None), None)
    if upright is None:
        return []
    half_foot_mm = upright.sheet.width_mm / 2.0
    return list(rests_on(result.estimate, stated.interval_mm, stated.verdict, half_foot_mm, result.contradicted))


def record_of_refusal(refused: Refused) -> Record:
    """The record of a refusal: no figure, a reason and a remedy."""
    refusal = refused.refusal
    seen = {photo.path: photo_part(photo) for photo in refused.photos}
    return Record(
        version=__version__,
        computed=_now(),
        photographed=_first_taken(refused.photos),
        verdict="refused",
        sentence=said("Cannot measure: {reason}", reason=refusal.reason),
        rule=_rule(refused.request, None),
        state=_state(refused.request),
        print_number=print_number(refused.views),
        advice=[refusal.remedy],
        needs=needs_of_refusal(refusal.code),
        confirm=list(
            tape_instructions(
                refused.request.coupling, refused.request.state, ball_diameter_mm=refused.request.ball_diameter_mm
            )
        ),
        cautions=list(CAUTIONS),
        refusal=RefusalPart(code=refusal.code, reason=refusal.reason, remedy=refusal.remedy),
        photos=[seen.get(path, PhotoPart(file=path.name)) for path in refused.request.photos],
    )
