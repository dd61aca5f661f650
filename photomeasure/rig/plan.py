"""The plan of a rig: draws once, every option on the same draws, the ranges that would do, the
recommendation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.rig.articulation import Articulated, articulations, within_limits
from photomeasure.rig.empty import EmptyWay, empty_way
from photomeasure.rig.equilibrium import NoEquilibriumError
from photomeasure.rig.loads import Check
from photomeasure.rig.model import RigModel, Structure, best_values, drawn_values, quantities_of, structure_of
from photomeasure.rig.options import AS_MEASURED, Outcome, Spread, outcome, spread
from photomeasure.rig.quantity import Quantity
from photomeasure.rig.ranges import OffsetRange, Ranges, ranges
from photomeasure.rig.sensitivity import Sensitivity, sensitivities
from photomeasure.rig.setup import Level, Option, Setup
from photomeasure.rig.target import Target

Conclusion = Literal["as-is", "option", "obtain", "compromise", "none"]
Fault = Literal["nobody", "vehicle", "trailer", "both", "mismatch", "unsure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailerAlone:
    """What the trailer alone asks for: the coupling heights at which it runs level (by the user's tolerance).

    low_mm, high_mm:  best estimates of the heights at the nose-down and the nose-up end of level.
    p_fits_band:      probability that some height inside the band carries it level; None without a band.
    nose_down_in_band_deg:  the least nose-down pitch that a ball inside the band can give, at the best
                            estimate.
    """

    level_height_mm: Spread
    low_mm: float
    high_mm: float
    p_fits_band: float | None
    nose_down_in_band_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything that is known of the rig before pick-up. outcomes[0] is the rig as measured.

    chosen:   index into outcomes of what is recommended; None where nothing listed is.
    proposal: an exactly made drop or rise that is not listed: the middle of what does both, or else the place
    inside
              the band that is nearest to level; None where a listed option is recommended or nothing is
              inside.
    in_band_pitch_deg:  trailer's pitch at the lower and upper end of ranges.inside.
    """

    setup: Setup
    target: Target
    quantities: Mapping[str, Quantity]
    structure: Structure
    outcomes: tuple[Outcome, ...]
    ranges: Ranges
    in_band_pitch_deg: tuple[float, float] | None
    trailer: TrailerAlone
    conclusion: Conclusion
    chosen: int | None
    proposal: Outcome | None
    fault: Fault
    sensitivities: tuple[Sensitivity, ...]
    articulations: tuple[Articulated, ...]
    empty: EmptyWay | None = None

    @property
    def shown(self) -> Outcome:
        """The outcome that a drawing shows beside the rig as measured: chosen, or proposed, or else as
        measured."""
        if self.chosen is None and self.proposal is not None:
            return self.proposal
        return self.outcomes[self.chosen or 0]

    @property
    def too_much(self) -> bool:
        """Whether the way asks more of the coupling of the outcome shown than its maker allows."""
        return not within_limits(self.articulations)

    @property
    def overloaded(self) -> tuple[Check, ...]:
        """Typed ratings that the outcome shown does not surely keep."""
        return self.shown.overloaded

    @property
    def recommended(self) -> Outcome | None:
        """The outcome that may be recommended: chosen, with nothing on the way or on a plate against it."""
        return None if self.chosen is None or self.too_much or self.overloaded else self.outcomes[self.chosen]

    @property
    def shown_empty(self) -> Outcome | None:
        """What the outcome shown comes to with the trailer empty."""
        if self.empty is None:
            return None
        shown = len(self.outcomes) if self.chosen is None and self.proposal is not None else self.chosen or 0
        return self.empty.outcomes[shown]


def make_plan(setup: Setup, target: Target, rng: np.random.Generator, *, empty_target: Target | None = None) -> Plan:
    """Return the plan of a setup against a target; `rng` makes the draws.

    empty_target: of the way back with the trailer empty; None: the same band.
    Raises InputError where the typed springs and centre of gravity have no stable rest position.
    """
    structure, quantities = structure_of(setup), quantities_of(setup)
    model = RigModel(structure, drawn_values(quantities, rng, setup.monte_carlo.draws, setup.correlation))
    options = (AS_MEASURED, *setup.option)
    try:
        outcomes = tuple(_outcome(model, option, target, setup, rng) for option in options)
        reach = ranges(model, target, setup.level)
        trailer = _trailer(model, target, setup)
        conclusion, chosen = _conclude(outcomes, reach, target, setup)
        extra = _proposed(reach) if chosen is None else None
        proposal = _outcome(model, extra, target, setup, rng) if extra else None
        parts = sensitivities(structure, quantities, extra or options[chosen or 0], target, setup.correlation)
        every = (*options, extra) if extra else options
        back = empty_way(setup, model, every, empty_target or target, rng)
    except NoEquilibriumError as error:
        raise InputError(
            said("The rig finds no rest position: {error}.", error=error.args[0]),
            expected=said("axle rates (kN/m), centre of gravity and axle heights (mm) of a trailer that can stand"),
            remedy=said("check trailer.gravity_height, trailer.axle_rate and the vehicle's rates or stand_test"),
        ) from error
    return Plan(
        setup=setup,
        target=target,
        quantities=quantities,
        structure=structure,
        outcomes=outcomes,
        ranges=reach,
        in_band_pitch_deg=_pitch_at(structure, quantities, reach.inside),
        trailer=trailer,
        conclusion=conclusion,
        chosen=chosen,
        proposal=proposal,
        fault=_fault(outcomes[0], trailer, target),
        sensitivities=parts,
        articulations=articulations(setup, proposal or outcomes[chosen or 0]),
        empty=back,
    )


def _outcome(model: RigModel, option: Option, target: Target, setup: Setup, rng: np.random.Generator) -> Outcome:
    tolerance_mm = rng.normal(0.0, option.u_mm, setup.monte_carlo.draws)
    return outcome(model, option, tolerance_mm, target, setup.level, setup.ratings)


def _conclude(
    outcomes: tuple[Outcome, ...], reach: Ranges, target: Target, setup: Setup
) -> tuple[Conclusion, int | None]:
    """Return the conclusion and the option it rests on; one that asks too much of a plate, or that the way bends too far,
    only where no other does."""

    def passing(found: list[int]) -> list[int]:
        kept = [i for i in found if not outcomes[i].overloaded] or found
        return [i for i in kept if within_limits(articulations(setup, outcomes[i]))] or kept

    good = passing([i for i, one in enumerate(outcomes) if one.good])
    if 0 in good:
        return "as-is", 0
    if good:
        return "option", min(good, key=lambda i: _preference(outcomes[i], setup.level))
    if reach.both is not None:
        return "obtain", None
    limit_deg = setup.level.nose_down_limit_deg
    if limit_deg is not None:
        bearable = passing([i for i, one in enumerate(outcomes) if _nose_down_within(one, limit_deg)])
        if bearable:
            return "compromise", max(bearable, key=lambda i: outcomes[i].trailer_pitch_deg.mean)
    return "none", None


def _proposed(reach: Ranges) -> Option | None:
    """Return a whole-millimetre move that is not on the list: amid what does both, or inside the band nearest
    to level."""
    if reach.both is not None:
        offset_mm = reach.both.middle_mm
    elif reach.inside is not None and reach.level is not None:
        offset_mm = reach.inside.nearest_mm(reach.level.middle_mm)
    else:
        return None
    size_mm = abs(float(round(offset_mm)))
    if not 0.0 < size_mm <= 500.0:
        return None
    if offset_mm < 0.0:
        return Option(name=f"drop of {size_mm:g} mm", drop_mm=size_mm, u_mm=0.0)
    return Option(name=f"rise of {size_mm:g} mm", rise_mm=size_mm, u_mm=0.0)


def _preference(one: Outcome, level: Level) -> tuple[bool, float, float, float]:
    """Order good options: a usual share on the ball, likeliest to be both (to a per cent), then nearest to the middle of
    what counts as level (unless typed: slightly nose-down), then shortest lever."""
    both = (1.0 if one.p_inside is None else one.p_inside) * one.p_level
    off_deg = abs(round(one.trailer_pitch_deg.mean - 0.5 * (level.nose_up_deg - level.nose_down_deg), 1))
    return bool(one.unusual), -round(both, 2), off_deg, one.extra_lever_mm


def _nose_down_within(one: Outcome, limit_deg: float) -> bool:
    """Inside the band, nose-down, and with its whole 95 % interval no more nose-down than the stated
    limit."""
    return (
        one.verdict in ("within", "no-band")
        and one.trailer_pitch_deg.mean < 0
        and one.trailer_pitch_deg.low >= -limit_deg
    )


def _trailer(model: RigModel, target: Target, setup: Setup) -> TrailerAlone:
    down, up = (model.height_at_pitch_mm(float(np.radians(end))) for end in setup.level.ends_deg)
    fits: float | None = None
    if target.has_band:
        low = -np.inf if target.low_mm is None else target.low_mm
        high = np.inf if target.high_mm is None else target.high_mm
        fits = float(np.mean((down <= high) & (up >= low)))
    least: float | None = None
    if target.high_mm is not None:
        pitch, _ = model.trailer().at_height(np.full_like(down, target.high_mm))
        least = max(0.0, -float(np.degrees(np.mean(pitch))))
    return TrailerAlone(
        level_height_mm=spread(model.trailer().level_height_mm),
        low_mm=float(np.mean(down)),
        high_mm=float(np.mean(up)),
        p_fits_band=fits,
        nose_down_in_band_deg=least,
    )


def _fault(now: Outcome, trailer: TrailerAlone, target: Target) -> Fault:
    """Say who keeps the rig as measured from being inside the band and level."""
    if now.good:
        return "nobody"
    if not target.has_band:
        return "mismatch"
    trailer_fits = (trailer.p_fits_band or 0.0) >= 0.5
    if now.verdict == "undecided":
        return "unsure" if trailer_fits else "trailer"
    if now.verdict == "within":
        return "mismatch" if trailer_fits else "trailer"
    return "vehicle" if trailer_fits else "both"


def _pitch_at(
    structure: Structure, quantities: Mapping[str, Quantity], inside: OffsetRange | None
) -> tuple[float, float] | None:
    """Return the best estimate of the trailer's pitch, degrees, at both ends of the offsets inside the
    band."""
    if inside is None or not (np.isfinite(inside.low_mm) and np.isfinite(inside.high_mm)):
        return None
    model = RigModel(structure, best_values(quantities))
    low, high = (model.respond(end, 0.0).trailer_pitch_rad[0] for end in (inside.low_mm, inside.high_mm))
    return float(np.degrees(low)), float(np.degrees(high))
