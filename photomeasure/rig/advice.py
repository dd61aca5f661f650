"""The plan in sentences: who is at fault, what to do, what remains, what to measure next."""

from __future__ import annotations

from photomeasure.rig.articulation import Bend
from photomeasure.rig.loads_said import overloaded_sentence, unusual_sentence
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan

BENDS = {"crest": "fold down (crest)", "dip": "fold up (dip)", "roll": "roll"}


def fault_sentence(plan: Plan) -> str:
    """Say in one sentence whether vehicle or trailer is the problem."""
    now, trailer = plan.outcomes[0], plan.trailer
    ball = f"the vehicle's ball would sit at {now.height_mm.mean:.0f} mm coupled"
    rides = f"the trailer rides level with its coupling at {trailer.level_height_mm.mean:.0f} mm"
    where, level_where = (_place(mm, plan) for mm in (now.height_mm.mean, trailer.level_height_mm.mean))
    if plan.fault == "nobody":
        neither = "Neither height is a problem" if plan.too_much else "Neither is a problem"
        return f"{neither}: {ball}, {where}, and {rides}."
    if plan.fault == "vehicle":
        meets = "which a ball inside the band can meet"
        return f"The vehicle is the problem: {ball}, {where}, while {rides}, {meets}."
    if plan.fault == "trailer":
        return f"The trailer is the problem: {rides}, {level_where}; {ball}, {where}."
    if plan.fault == "both":
        return (
            f"Both are the problem: {ball}, {where}, and {rides}, {level_where}, so that no ball inside "
            "the band carries it level."
        )
    if plan.fault == "unsure":
        return f"Too close to call for the vehicle: {ball} \N{PLUS-MINUS SIGN} {_half(now):.0f} mm, {where}; {rides}."
    return f"They do not match: {ball}, {where}, but {rides}: {_pitch(now.trailer_pitch_deg.mean)} as it is."


def recommendation(plan: Plan) -> str:
    """Say what to do, in a sentence or two, and where a plate or the way asks otherwise."""
    said = (
        _on_level_ground(plan),
        overloaded_sentence(plan.shown, plan.overloaded),
        unusual_sentence(plan.shown) if plan.chosen is not None or plan.conclusion == "obtain" else "",
        _too_much(plan) if plan.too_much else "",
        empty_sentence(plan),
    )
    return " ".join(part for part in said if part)


def empty_sentence(plan: Plan) -> str:
    """What the outcome shown comes to with the trailer empty; empty where the setup does not speak of it."""
    one = plan.shown_empty
    if one is None or plan.empty is None:
        return ""
    inside = "" if one.p_inside is None else f", {_VERDICTS[one.verdict]}"
    against = f" (the band {plan.empty.target.text} is not for this state)" if plan.empty.target.indicative else ""
    height = f"{one.height_mm.mean:.0f} \N{PLUS-MINUS SIGN} {_half(one):.0f} mm"
    return f"With the trailer empty: {height}{inside}{against}, {_pitch(one.trailer_pitch_deg.mean)}."


_VERDICTS = {
    "within": "within the band", "above": "above the band", "below": "below the band", "undecided": "too close to call",
}  # fmt: skip


def _on_level_ground(plan: Plan) -> str:
    band = "inside the band and level" if plan.target.has_band else "level"
    barred = plan.too_much or bool(plan.overloaded)
    if plan.conclusion == "as-is" and barred:
        return f"{_alone(plan)} nothing needs changing: as it is, the rig runs {band}."
    if plan.conclusion == "as-is":
        return f"Nothing needs changing: as it is, the rig runs {band}."
    if plan.conclusion == "option":
        one = plan.shown
        if barred:
            return f"{_alone(plan)} the {one.name} ({one.move}) would do: {_in_numbers(one)}."
        return f"Fit the {one.name} ({one.move}): {_in_numbers(one)}."
    if plan.conclusion == "obtain" and plan.ranges.both is not None:
        return f"None of the listed drops and rises does it. {_sentence(plan.ranges.both.text)} would: {band}."
    if plan.conclusion == "compromise":
        one = plan.shown
        limit = plan.setup.level.nose_down_limit_deg
        return (
            "No 50 mm ball set-up is both inside the band and level. Within your stated limit of "
            f"{limit:g} deg nose-down, the {one.name} ({one.move}) does: {_in_numbers(one)}."
        )
    if plan.target.has_band:
        return "No 50 mm ball set-up is both inside the band and level. What remains is listed below."
    return "No listed drop or rise makes the trailer level."


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
    over = f"{over_deg:.1f} deg" if over_deg >= 0.05 else "less than 0.1 deg"
    return f"{bend.demand_deg:.1f} deg of {BENDS[bend.direction]}, {over} more than the limit of {bend.limit_deg:.1f}"


def _alone(plan: Plan) -> str:
    """What is not asked yet by an answer that something else forbids."""
    return "For height and level alone" if plan.overloaded else "On level ground"


def _too_much(plan: Plan) -> str:
    """Where and by how much the way bends the coupling too far."""
    found = [
        f"{place.name} asks for {too_much(bend)}"
        for place in plan.articulations
        for bend in place.bends
        if bend.too_much
    ]
    return f"TOO MUCH for the coupling on the way: {_with(plan)}, {'; '.join(found)}."


def _with(plan: Plan) -> str:
    return "with the rig as it is" if plan.shown is plan.outcomes[0] else f"with the {plan.shown.name}"


def _load_choice(plan: Plan) -> str:
    names = ", ".join(check.name for check in plan.overloaded)
    return f"The load, {_with(plan)}: carry less, shift it, or find parts whose plates allow it; too much or too close: {names}."


def _way_choice(plan: Plan) -> str:
    places = [place.name for place in plan.articulations if any(bend.too_much for bend in place.bends)]
    most: dict[str, Bend] = {}
    for bend in (bend for place in plan.articulations for bend in place.bends if bend.too_much):
        before = most.get(bend.direction)
        most[bend.direction] = bend if before is None or bend.demand_deg > before.demand_deg else before
    worst = "; ".join(too_much(bend) for bend in most.values())
    return (
        f"The way, {_with(plan)}: keep off {', '.join(places)}, have it eased, or find a coupling whose maker allows it; it "
        f"asks for {worst}."
    )


def measure_next(plan: Plan) -> str:
    """Say which input to measure better, and what that would give; empty where nothing would change much."""
    parts = [part for part in plan.sensitivities if part.name in plan.quantities]
    if not parts:
        return ""
    first = parts[0]
    now_mm = (first.u_without_mm**2 + first.height_u_mm**2) ** 0.5
    gain = f"the coupled height's u would go from {now_mm:.1f} to {first.u_without_mm:.1f} mm at best"
    by_pitch = max(parts, key=lambda part: part.pitch_share)
    also = ""
    if by_pitch.name != first.name and by_pitch.pitch_share > 0.3:
        also = f" For the pitch it is the {by_pitch.name} ({100.0 * by_pitch.pitch_share:.0f} % of its variance)."
    return f"Measure the {first.name} better ({100.0 * first.height_share:.0f} % of the variance): {gain}.{also}"


def _nose_down_choice(plan: Plan) -> str:
    inside, level, pitch = plan.ranges.inside, plan.ranges.level, plan.in_band_pitch_deg
    if inside is None:
        return (
            "Nose-down: the uncertainty is too wide for any height to be inside the band at "
            f"{100.0 * plan.target.confidence:.1f} %; measure better first."
        )
    if level is not None and inside.low_mm > level.high_mm:
        return "Nose-down is no way out: a ball inside the band would carry the nose up, which is not advised."
    if pitch is None:
        return "Nose-down: the band is open, so no figure is given."
    down = f"{-pitch[1]:.1f} to {-pitch[0]:.1f} deg down"
    need = f"{inside.text} keeps the ball inside the band with the nose {down}"
    limit = plan.setup.level.nose_down_limit_deg
    if limit is None:
        return f"Run nose-down: {need}. Say in level.nose_down_limit_deg how much its maker or you accept."
    allowed = "some of that is" if -pitch[1] <= limit else "that is not"
    return f"Run nose-down: {need}; {allowed} within your {limit:g} deg."


def _other_coupling_choice(plan: Plan) -> str:
    now = plan.trailer.level_height_mm.mean
    return (
        "A coupling kind to which no band is known to apply (a pin coupling; see the rule au-pin), at "
        f"about {now:.0f} mm: bar, vehicle and trailer must be rated and approved for it."
    )


def _trailer_change_choice(plan: Plan) -> str:
    trailer, target = plan.trailer, plan.target
    if target.high_mm is not None and trailer.low_mm > target.high_mm:
        way, least_mm, edge_mm = "lower", trailer.low_mm - target.high_mm, target.high_mm
    elif target.low_mm is not None and trailer.high_mm < target.low_mm:
        way, least_mm, edge_mm = "raise", target.low_mm - trailer.high_mm, target.low_mm
    else:
        return "Change the trailer: too little of the band counts as level to be sure; measure better first."
    full_mm = abs(trailer.level_height_mm.mean - edge_mm)
    return (
        f"Change the trailer: {way} its coupling on the drawbar, or the axles under it, by at least "
        f"{least_mm:.0f} mm (nearest that counts as level, before any margin), {full_mm:.0f} mm to be "
        "level at the band's edge; its maker or a licensed workshop."
    )


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]


def _in_numbers(one: Outcome) -> str:
    inside = "" if one.p_inside is None else f", inside the band with probability {chance(one.p_inside)}"
    height = f"coupled height {one.height_mm.mean:.0f} \N{PLUS-MINUS SIGN} {_half(one):.0f} mm"
    return f"{height}{inside}, {_pitch(one.trailer_pitch_deg.mean)}"


def _half(one: Outcome) -> float:
    """Return half the 95 % interval of the height, mm."""
    return 0.5 * (one.height_mm.high - one.height_mm.low)


def _pitch(pitch_deg: float) -> str:
    if abs(pitch_deg) < 0.05:
        return "trailer level"
    return f"trailer {abs(pitch_deg):.1f} deg nose-{'up' if pitch_deg > 0 else 'down'}"


def chance(p: float) -> str:
    """Write a probability from draws: never 0 or 1, which draws cannot prove."""
    if p > 0.999:
        return "> 99.9 %"
    return "< 0.1 %" if p < 0.001 else f"{100.0 * p:.1f} %"


def _place(height_mm: float, plan: Plan) -> str:
    low, high = plan.target.low_mm, plan.target.high_mm
    if not plan.target.has_band:
        return "no band known to apply"
    if high is not None and height_mm > high:
        return f"{height_mm - high:.0f} mm above the band ({plan.target.text})"
    if low is not None and height_mm < low:
        return f"{low - height_mm:.0f} mm below the band ({plan.target.text})"
    return f"inside the band ({plan.target.text})"
