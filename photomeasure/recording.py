"""From a result to its record: every figure that a person or a program will read, in one place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from photomeasure import __version__
from photomeasure.budget import budget, sensitivities
from photomeasure.cautions import CAUTIONS
from photomeasure.coach import coach
from photomeasure.estimate import Estimate
from photomeasure.image import Photo
from photomeasure.model import cam_from_world
from photomeasure.montecarlo import MonteCarloCheck
from photomeasure.notices import notices
from photomeasure.pipeline import Refused, Request, Result, View
from photomeasure.record import (
    AdjustmentPart,
    AmbiguityPart,
    BudgetRow,
    CameraPart,
    CentrePart,
    InputRow,
    MonteCarloPart,
    PhotoPart,
    Record,
    RefusalPart,
    RulePart,
    StatePart,
)
from photomeasure.tape import tape_instructions
from photomeasure.verdict import Verdict, judge

COVERAGE_FACTOR = 2.0
COVERAGE = 0.95  # nominal; 0.9545 for a normal distribution


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _state(request: Request) -> StatePart:
    state = request.state
    return StatePart(
        coupling=request.coupling, coupled=state.coupled, laden=state.laden, level_ground=state.level_ground
    )


def _rule(request: Request, verdict: Verdict | None) -> RulePart:
    rule = request.rule
    band = verdict.band if verdict is not None else None
    return RulePart(
        name=rule.name,
        title=rule.title,
        low_mm=band.low_mm if band else None,
        high_mm=band.high_mm if band else None,
        source=rule.source,
        edition=rule.edition,
        confidence=rule.confidence,
        decision=rule.decision.text,
        guard_band_mm=verdict.guard_band_mm if verdict is not None else None,
    )


def _photo(photo: Photo) -> PhotoPart:
    width, height = photo.size_px
    return PhotoPart(file=str(photo.path), sha256=photo.sha256, width_px=width, height_px=height)


def _view(view: View, result: Result, number: int) -> PhotoPart:
    upright = view.finding.of_role("upright")
    rotation, translation = cam_from_world(result.estimate.where, result.estimate.x, number)
    lens = -rotation.T @ translation  # in the world
    return _photo(view.photo).model_copy(
        update={
            "corners": sum(len(sheet.index) for sheet in view.finding.sheets),
            "cell_px": None if upright is None else round(upright.cell_px, 2),
            "blur_px": None if upright is None else round(upright.blur_px, 2),
            "distance_mm": round(float(np.linalg.norm(lens - _centre(result.estimate)))),
            "lens_height_mm": round(float(lens[2])),
        }
    )


def _centre(solved: Estimate) -> NDArray[np.float64]:  # (3,) world mm
    return np.array([solved.value(name) for name in ("centre.x", "centre.y", "centre.z")])


_NOISE_SOURCES = {
    "corner noise": "scatter of the sheet's corners in the photographs",
    "marker corner noise": "scatter of the markers' corners in the photographs",
    "tag corners": "fit of the tag's pattern in the photographs",
    "pick": "stated by the user",
    "ball outline": "scatter of the ball's edge in the photographs",
}


def _inputs(solved: Estimate) -> list[InputRow]:
    """Every input quantity: observations by kind, the camera's, then the priors as they went in."""
    effects = sensitivities(solved)
    quantities, observed = solved.rows.quantities, solved.rows.observed
    inputs = []
    for quantity in dict.fromkeys(q for q, seen in zip(quantities, observed, strict=True) if seen):
        own = np.array([q == quantity and bool(seen) for q, seen in zip(quantities, observed, strict=True)])
        inputs.append(
            InputRow(
                quantity=quantity,
                value=0.0,
                u=_noise_px(solved, quantity),
                unit="px",
                distribution="normal",
                source=f"{int(own.sum())} coordinates; {_NOISE_SOURCES.get(quantity, 'observed')}",
                height_u_mm=float(np.linalg.norm(effects[own])),
            )
        )
    priors = len(solved.scene.priors)
    first = int(observed.sum())
    for row in range(first, len(quantities) - priors):
        inputs.append(
            InputRow(
                quantity=quantities[row], value=0.0, u=1.0, unit="its own u", distribution="normal",
                source=solved.scene.cameras[0].source if row - first < len(solved.scene.cameras[0].quantities) else "survey",
                height_u_mm=float(effects[row]),
            )
        )  # fmt: skip
    for prior, effect in zip(solved.scene.priors, effects[len(quantities) - priors :], strict=True):
        inputs.append(
            InputRow(
                quantity=prior.quantity,
                value=prior.mean,
                u=prior.u,
                unit=prior.unit,
                distribution=prior.distribution,
                source=prior.source,
                height_u_mm=float(effect),
            )
        )
    return inputs


def _noise_px(solved: Estimate, quantity: str) -> float:
    """Median standard uncertainty of one kind of observation, pixels."""
    scene = solved.scene
    sigmas = [view.sigma_px for view in scene.planes if view.quantity == quantity]
    sigmas += [view.sigma_px for view in scene.markers if view.quantity == quantity]
    sigmas += [view.sigma_px for view in scene.outlines if view.quantity == quantity]
    sigmas += [np.array([view.sigma_px]) for view in scene.points if view.quantity == quantity]
    return float(np.median(np.concatenate(sigmas)))


def _camera(result: Result) -> CameraPart:
    solved = result.estimate
    prior = solved.scene.cameras[0]
    columns = solved.where.camera(0, prior)
    covariance = prior.basis @ solved.covariance[np.ix_(columns, columns)] @ prior.basis.T
    focal = float((prior.mean + prior.basis @ solved.x[columns])[0])
    return CameraPart(
        kind=prior.kind,
        source=prior.source,
        focal_px=round(focal, 1),
        u_focal_px=round(float(np.sqrt(covariance[0, 0])), 1),
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
    request, solved = result.request, result.estimate
    notes = [*result.sightings.contradictions, *result.warnings, *notices(solved)]
    if request.bars.x_mm is None or request.bars.y_mm is None:
        notes.append(
            "The check bars were not measured, so the print's scale is not known: measure both 150 mm bars with a rule "
            "and pass --bar-x and --bar-y."
        )
    if solved.scene.cameras[0].kind == "assumed":
        notes.append("The file does not tell the camera's focal length; a phone's main camera was assumed.")
    if request.state.level_ground is None:
        notes.append("Assumed: hard, level ground between sheet and coupling. Say --level-ground or --unknown-ground.")
    lean_deg, u_lean_deg = (np.degrees(value) for value in (solved.value("sheet.lean"), solved.u("sheet.lean")))
    if abs(lean_deg) > max(1.5, 2 * u_lean_deg):
        notes.append(
            f"The upright sheet leans by {abs(lean_deg):.1f} degrees; it was allowed for, but stand it square."
        )
    if solved.noise_scale > 2.5:
        notes.append(
            f"The sheet's corners scatter {solved.noise_scale:.1f} times more than they should: the paper is bowed or the "
            "lens distorts; the interval is wider for it."
        )
    if solved.dropped:
        notes.append(f"{solved.dropped} corners of the sheet did not fit and were left out.")
    return notes


def advice_of(result: Result) -> tuple[str, ...]:
    """The coach's sentences; with a bay instead of the kit there is no sheet to move, so there are none."""
    upright = result.views[0].finding.of_role("upright")
    if result.request.bay is not None or upright is None:
        return ()
    return coach(result.estimate, upright.sheet.paper, decided=result.verdict.verdict != "undecided")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stated:
    """What is reported: the first order, or the Monte Carlo result where that differs by more than the digit."""

    height_mm: float
    u_mm: float
    interval_mm: tuple[float, float]
    verdict: Verdict
    part: MonteCarloPart | None


def _stated(result: Result, check: MonteCarloCheck | None) -> _Stated:
    solved = result.estimate
    U_mm = COVERAGE_FACTOR * solved.u_mm
    plain = (solved.height_mm - U_mm, solved.height_mm + U_mm)
    if check is None:
        return _Stated(
            height_mm=solved.height_mm, u_mm=solved.u_mm, interval_mm=plain, verdict=result.verdict, part=None
        )
    draws, takes_over = check.draws, check.takes_over
    part = MonteCarloPart(
        trials=draws.draws,
        height_mm=draws.value,
        u_mm=draws.u,
        interval_mm=(draws.low, draws.high),
        reported=takes_over,
        sentence=f"Monte Carlo ({draws.draws} draws) "
        + (
            "differs from the first order by more than the reported digit and is the one reported."
            if takes_over
            else "agrees with the first order."
        ),
    )
    if not takes_over:
        return _Stated(
            height_mm=solved.height_mm, u_mm=solved.u_mm, interval_mm=plain, verdict=result.verdict, part=part
        )
    request, interval = result.request, (draws.low, draws.high)
    verdict = judge(
        draws.value, draws.u, request.rule, request.state, request.coupling,
        interval_mm=interval, samples_mm=draws.sorted_draws if draws.draws >= 1000 else None,
    )  # fmt: skip
    return _Stated(height_mm=draws.value, u_mm=draws.u, interval_mm=interval, verdict=verdict, part=part)


def record_of(result: Result, *, advice: tuple[str, ...] = (), check: MonteCarloCheck | None = None) -> Record:
    """The record of a measurement. check: Monte Carlo of the same estimate, which takes over where the two differ."""
    solved, request = result.estimate, result.request
    stated = _stated(result, check)
    verdict = stated.verdict
    return Record(
        version=__version__,
        made=_now(),
        height_mm=stated.height_mm,
        u_mm=stated.u_mm,
        U_mm=(stated.interval_mm[1] - stated.interval_mm[0]) / 2,
        coverage=COVERAGE,
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
        adjustment=_adjustment(verdict),
        advice=list(verdict.advice),
        coach=list(advice),
        warnings=warnings_of(result),
        budget=[BudgetRow(quantity=row.quantity, u_mm=row.u_mm, share=row.share) for row in budget(solved)],
        inputs=_inputs(solved),
        centre=CentrePart(
            source=result.sightings.source,
            px=[None if px is None else [float(px[0]), float(px[1])] for px in result.sightings.centre_px],
            checks=list(result.sightings.checks),
        ),
        camera=_camera(result),
        ambiguity=None
        if solved.ambiguity is None
        else AmbiguityPart(
            photo=solved.ambiguity.photo,
            extra_chi2=solved.ambiguity.extra_chi2,
            other_height_mm=solved.ambiguity.other_height_mm,
        ),
        confirm=list(tape_instructions(request.coupling, request.state)),
        cautions=list(CAUTIONS),
        photos=[_view(view, result, number) for number, view in enumerate(result.views)],
    )


def record_of_refusal(refused: Refused) -> Record:
    """The record of a refusal: no figure, a reason and a remedy."""
    refusal = refused.refusal
    seen = {photo.path: _photo(photo) for photo in refused.photos}
    return Record(
        version=__version__,
        made=_now(),
        verdict="refused",
        sentence=f"Cannot measure: {refusal.reason}",
        rule=_rule(refused.request, None),
        state=_state(refused.request),
        advice=[refusal.remedy],
        confirm=list(tape_instructions(refused.request.coupling, refused.request.state)),
        cautions=list(CAUTIONS),
        refusal=RefusalPart(code=refusal.code, reason=refusal.reason, remedy=refusal.remedy),
        photos=[seen.get(path, PhotoPart(file=str(path))) for path in refused.request.photos],
    )
