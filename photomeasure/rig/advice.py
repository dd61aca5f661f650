"""The plan in sentences: who is at fault, what to do, what remains, what to measure next."""

from __future__ import annotations

from calib.words.said import Digits, joined, said
from photomeasure.rig.articulation import Bend
from photomeasure.rig.loads_said import overloaded_sentence, unusual_sentence
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan
from photomeasure.rig.quantities_said import named

BENDS = {"crest": said("fold down (crest)"), "dip": said("fold up (dip)"), "roll": said("roll")}


def fault_sentence(plan: Plan) -> str:
    """Say in one sentence whether vehicle or trailer is the problem."""
    now, trailer = plan.outcomes[0], plan.trailer
    ball = said("the vehicle's ball would sit at {mm:.0f} mm coupled", mm=now.height_mm.mean)
    rides = said("the trailer rides level with its coupling at {mm:.0f} mm", mm=trailer.level_height_mm.mean)
    where, level_where = (_place(mm, plan) for mm in (now.height_mm.mean, trailer.level_height_mm.mean))
    if plan.fault == "nobody":
        if plan.too_much:
            return said(
                "Neither height is a problem: {ball}, {where}, and {rides}.", ball=ball, where=where, rides=rides
            )
        return said("Neither is a problem: {ball}, {where}, and {rides}.", ball=ball, where=where, rides=rides)
    if plan.fault == "vehicle":
        return said(
            "The vehicle is the problem: {ball}, {where}, while {rides}, which a ball inside the band can meet.",
            ball=ball,
            where=where,
            rides=rides,
        )
    if plan.fault == "trailer":
        return said(
            "The trailer is the problem: {rides}, {level_where}; {ball}, {where}.",
            rides=rides,
            level_where=level_where,
            ball=ball,
            where=where,
        )
    if plan.fault == "both":
        return said(
            "Both are the problem: {ball}, {where}, and {rides}, {level_where}, so that no ball inside the band carries it level.",
            ball=ball,
            where=where,
            rides=rides,
            level_where=level_where,
        )
    if plan.fault == "unsure":
        return said(
            "Too close to call for the vehicle: {ball} ± {half:.0f} mm, {where}; {rides}.",
            ball=ball,
            half=_half(now),
            where=where,
            rides=rides,
        )
    return said(
        "They do not match: {ball}, {where}, but {rides}: {pitch} as it is.",
        ball=ball,
        where=where,
        rides=rides,
        pitch=_pitch(now.trailer_pitch_deg.mean),
    )


def recommendation(plan: Plan) -> str:
    """Say what to do, in a sentence or two, and where a plate or the way asks otherwise."""
    parts = (
        _on_level_ground(plan),
        overloaded_sentence(plan.shown, plan.overloaded),
        unusual_sentence(plan.shown) if plan.chosen is not None or plan.conclusion == "obtain" else "",
        _too_much(plan) if plan.too_much else "",
        empty_sentence(plan),
    )
    return joined((part for part in parts if part), " ")


def empty_sentence(plan: Plan) -> str:
    """What the outcome shown comes to with the trailer empty; empty where the setup does not speak of it."""
    one = plan.shown_empty
    if one is None or plan.empty is None:
        return ""
    found = [said("{mm:.0f} ± {half:.0f} mm", mm=one.height_mm.mean, half=_half(one))]
    if one.p_inside is not None:
        found.append(VERDICTS[one.verdict])
    if plan.empty.target.indicative:
        against = said("(the band {band} is not for this state)", band=plan.empty.target.text)
        found[-1] = joined((found[-1], against), " ")
    found.append(_pitch(one.trailer_pitch_deg.mean))
    return said("With the trailer empty: {found}.", found=joined(found))


VERDICTS = {
    "within": said("within the band"), "above": said("above the band"), "below": said("below the band"),
    "undecided": said("too close to call"), "no-band": said("no band applies"),
}  # fmt: skip


def _on_level_ground(plan: Plan) -> str:
    band = said("inside the band and level") if plan.target.has_band else said("level")
    barred = plan.too_much or bool(plan.overloaded)
    if plan.conclusion == "as-is" and barred:
        return said("{alone} nothing needs changing: as it is, the rig runs {band}.", alone=_alone(plan), band=band)
    if plan.conclusion == "as-is":
        return said("Nothing needs changing: as it is, the rig runs {band}.", band=band)
    if plan.conclusion == "option":
        one = plan.shown
        if barred:
            return said(
                "{alone} the {name} ({move}) would do: {figures}.",
                alone=_alone(plan),
                name=one.called,
                move=one.move,
                figures=_in_numbers(one),
            )
        return said("Fit the {name} ({move}): {figures}.", name=one.called, move=one.move, figures=_in_numbers(one))
    if plan.conclusion == "obtain" and plan.ranges.both is not None:
        return said(
            "None of the listed drops and rises does it. What would: {range}; the rig then runs {band}.",
            range=plan.ranges.both.text,
            band=band,
        )
    if plan.conclusion == "compromise":
        one = plan.shown
        limit = plan.setup.level.nose_down_limit_deg
        return said(
            "No 50 mm ball set-up is both inside the band and level. Within your stated limit of {limit_deg:g} deg nose-down, "
            "the {name} ({move}) does: {figures}.",
            limit_deg=limit,
            name=one.called,
            move=one.move,
            figures=_in_numbers(one),
        )
    if plan.target.has_band:
        return said("No 50 mm ball set-up is both inside the band and level. What remains is listed below.")
    return said("No listed drop or rise makes the trailer level.")


def remaining_choices(plan: Plan) -> tuple[str, ...]:
    """List what is left where no ball set-up is inside the band and level, or where the way bends its coupling too far;
    empty where one is, and gets through."""
    load = (_load_choice(plan),) if plan.overloaded else ()
    way = (*load, _way_choice(plan)) if plan.too_much else load
    if plan.conclusion not in ("compromise", "none") or not plan.target.has_band:
        return way
    return (_nose_down_choice(plan), *way, _other_coupling_choice(plan), _trailer_change_choice(plan))


def too_much(bend: Bend) -> str:
    """What a place asks for beyond the maker's limit: "12.7 deg of fold up (dip), 2.7 deg more than the limit of 10.0"."""
    over_deg = -(bend.margin_deg or 0.0)
    over = said("{over_deg:.1f} deg", over_deg=over_deg) if over_deg >= 0.05 else said("less than 0.1 deg")
    return said(
        "{demand_deg:.1f} deg of {bend}, {over} more than the limit of {limit_deg:.1f}",
        demand_deg=bend.demand_deg,
        bend=BENDS[bend.direction],
        over=over,
        limit_deg=bend.limit_deg,
    )


def _alone(plan: Plan) -> str:
    """What is not asked yet by an answer that something else forbids."""
    return said("For height and level alone") if plan.overloaded else said("On level ground")


def _too_much(plan: Plan) -> str:
    """Where and by how much the way bends the coupling too far."""
    found = [
        said("{place} asks for {bend}", place=place.name, bend=too_much(bend))
        for place in plan.articulations
        for bend in place.bends
        if bend.too_much
    ]
    return said(
        "TOO MUCH for the coupling on the way: {fitted}, {found}.", fitted=_with(plan), found=joined(found, "; ")
    )


def _with(plan: Plan) -> str:
    if plan.shown is plan.outcomes[0]:
        return said("with the rig as it is")
    return said("with the {name}", name=plan.shown.called)


def _load_choice(plan: Plan) -> str:
    return said(
        "The load, {fitted}: carry less, shift it, or find parts whose plates allow it; too much or too close: {names}.",
        fitted=_with(plan),
        names=[check.name for check in plan.overloaded],
    )


def _way_choice(plan: Plan) -> str:
    places = [place.name for place in plan.articulations if any(bend.too_much for bend in place.bends)]
    most: dict[str, Bend] = {}
    for bend in (bend for place in plan.articulations for bend in place.bends if bend.too_much):
        before = most.get(bend.direction)
        most[bend.direction] = bend if before is None or bend.demand_deg > before.demand_deg else before
    return said(
        "The way, {fitted}: keep off {places}, have it eased, or find a coupling whose maker allows it; it asks for {worst}.",
        fitted=_with(plan),
        places=places,
        worst=joined((too_much(bend) for bend in most.values()), "; "),
    )


def measure_next(plan: Plan) -> str:
    """Say which input to measure better, and what that would give; empty where nothing would change much."""
    parts = [part for part in plan.sensitivities if part.name in plan.quantities]
    if not parts:
        return ""
    first = parts[0]
    now_mm = (first.u_without_mm**2 + first.height_u_mm**2) ** 0.5
    by_pitch = max(parts, key=lambda part: part.pitch_share)
    told = said(
        "Measure the {name} better ({share:.0f} % of the variance): the coupled height's u would go from {now_mm:.1f} to "
        "{then_mm:.1f} mm at best.",
        name=named(first.name),
        share=100.0 * first.height_share,
        now_mm=now_mm,
        then_mm=first.u_without_mm,
    )
    if by_pitch.name == first.name or by_pitch.pitch_share <= 0.3:
        return told
    also = said(
        "For the pitch it is the {name} ({share:.0f} % of its variance).",
        name=named(by_pitch.name),
        share=100.0 * by_pitch.pitch_share,
    )
    return joined((told, also), " ")


def _nose_down_choice(plan: Plan) -> str:
    inside, level, pitch = plan.ranges.inside, plan.ranges.level, plan.in_band_pitch_deg
    if inside is None:
        return said(
            "Nose-down: the uncertainty is too wide for any height to be inside the band at {percent:.1f} %; measure better first.",
            percent=100.0 * plan.target.confidence,
        )
    if level is not None and inside.low_mm > level.high_mm:
        return said("Nose-down is no way out: a ball inside the band would carry the nose up, which is not advised.")
    if pitch is None:
        return said("Nose-down: the band is open, so no figure is given.")
    need = said(
        "{range} keeps the ball inside the band with the nose {least:.1f} to {most:.1f} deg down",
        range=inside.text,
        least=-pitch[1],
        most=-pitch[0],
    )
    limit = plan.setup.level.nose_down_limit_deg
    if limit is None:
        return said(
            "Run nose-down: {need}. Say in level.nose_down_limit_deg how much its maker or you accept.", need=need
        )
    if -pitch[1] <= limit:
        return said("Run nose-down: {need}; some of that is within your {limit_deg:g} deg.", need=need, limit_deg=limit)
    return said("Run nose-down: {need}; that is not within your {limit_deg:g} deg.", need=need, limit_deg=limit)


def _other_coupling_choice(plan: Plan) -> str:
    now = plan.trailer.level_height_mm.mean
    return said(
        "A coupling kind to which no band is known to apply (a pin coupling; see the rule au-pin), at about {mm:.0f} mm: bar, "
        "vehicle and trailer must be rated and approved for it.",
        mm=now,
    )


def _trailer_change_choice(plan: Plan) -> str:
    trailer, target = plan.trailer, plan.target
    if target.high_mm is not None and trailer.low_mm > target.high_mm:
        lower, least_mm, edge_mm = True, trailer.low_mm - target.high_mm, target.high_mm
    elif target.low_mm is not None and trailer.high_mm < target.low_mm:
        lower, least_mm, edge_mm = False, target.low_mm - trailer.high_mm, target.low_mm
    else:
        return said("Change the trailer: too little of the band counts as level to be sure; measure better first.")
    full_mm = abs(trailer.level_height_mm.mean - edge_mm)
    values = {"least_mm": least_mm, "full_mm": full_mm}
    if lower:
        return said(
            "Change the trailer: lower its coupling on the drawbar, or the axles under it, by at least {least_mm:.0f} mm (nearest "
            "that counts as level, before any margin), {full_mm:.0f} mm to be level at the band's edge; its maker or a licensed "
            "workshop.",
            **values,
        )
    return said(
        "Change the trailer: raise its coupling on the drawbar, or the axles under it, by at least {least_mm:.0f} mm (nearest that "
        "counts as level, before any margin), {full_mm:.0f} mm to be level at the band's edge; its maker or a licensed workshop.",
        **values,
    )


def _in_numbers(one: Outcome) -> str:
    found = [said("coupled height {mm:.0f} ± {half:.0f} mm", mm=one.height_mm.mean, half=_half(one))]
    if one.p_inside is not None:
        found.append(said("inside the band with probability {chance}", chance=chance(one.p_inside)))
    return joined((*found, _pitch(one.trailer_pitch_deg.mean)))


def _half(one: Outcome) -> float:
    """Return half the 95 % interval of the height, mm."""
    return 0.5 * (one.height_mm.high - one.height_mm.low)


def _pitch(pitch_deg: float) -> str:
    if abs(pitch_deg) < 0.05:
        return said("trailer level")
    if pitch_deg > 0:
        return said("trailer {deg:.1f} deg nose-up", deg=pitch_deg)
    return said("trailer {deg:.1f} deg nose-down", deg=-pitch_deg)


def chance(p: float) -> str:
    """Write a probability from draws: never 0 or 1, which draws cannot prove."""
    if p > 0.999:
        return Digits("> 99.9 %")
    return Digits("< 0.1 %" if p < 0.001 else f"{100.0 * p:.1f} %")


def _place(height_mm: float, plan: Plan) -> str:
    low, high = plan.target.low_mm, plan.target.high_mm
    if not plan.target.has_band:
        return said("no band known to apply")
    if high is not None and height_mm > high:
        return said("{mm:.0f} mm above the band ({band})", mm=height_mm - high, band=plan.target.text)
    if low is not None and height_mm < low:
        return said("{mm:.0f} mm below the band ({band})", mm=low - height_mm, band=plan.target.text)
    return said("inside the band ({band})", band=plan.target.text)
