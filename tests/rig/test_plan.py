"""The plan: against `uncertainties` and JCGM 106 on a linear rig, and its decisions on worked rigs."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat, umath  # type: ignore[import-untyped, unused-ignore]

from calib.outcome.errors import InputError
from photomeasure.rig import advice, remarks
from photomeasure.rig.document import plan_document
from photomeasure.rig.plan import Plan, make_plan
from photomeasure.rig.target import Target, target_of
from photomeasure.rules import load_rule
from tests.rig.scenario import band, checked, plain, sample

GRAVITY = 9.80665  # m/s^2, 3rd CGPM (1901)


def planned(raw: dict[str, Any], target: Target | None = None, seed: int = 7) -> Plan:
    return make_plan(checked(raw), target or band(), np.random.default_rng(seed))


def worked(name: str) -> Plan:
    setup = checked(sample(name))
    target = target_of(
        load_rule(setup.rule.name),
        laden=setup.vehicle.laden_on_the_way,
        level_control=setup.vehicle.level_control,
        confidence=setup.rule.confidence,
    )
    return make_plan(setup, target, np.random.default_rng(setup.monte_carlo.seed))


def test_height_and_pitch_agree_with_the_uncertainties_library() -> None:
    # first-order propagation by an independent library (uncertainties 3.2), the formulas written out again
    # here
    raw = plain()
    raw["monte_carlo"] = {"draws": 200_000}
    now = planned(raw).outcomes[0]
    drop, mass, load = ufloat(12, 1), ufloat(90, 1), ufloat(120, 10)
    height = ufloat(470, 3) - drop / mass * load
    pitch = umath.atan((height - ufloat(420, 4)) / ufloat(3500, 20)) * 180 / math.pi
    assert now.height_mm.mean == pytest.approx(height.n, abs=0.03)
    assert now.height_mm.u == pytest.approx(height.s, rel=0.02)
    assert now.trailer_pitch_deg.mean == pytest.approx(pitch.n, abs=0.001)
    assert now.trailer_pitch_deg.u == pytest.approx(pitch.s, rel=0.02)


def test_sensitivities_are_those_of_the_uncertainties_library_and_add_up() -> None:
    parts = {part.name: part for part in planned(plain()).sensitivities}
    inputs = {
        "ball height": ufloat(470, 3),
        "stand-test drop": ufloat(12, 1),
        "stand-test mass": ufloat(90, 1),
        "ball load": ufloat(120, 10),
    }
    height = inputs["ball height"] - inputs["stand-test drop"] / inputs["stand-test mass"] * inputs["ball load"]
    components = height.error_components()
    for name, quantity in inputs.items():
        assert parts[name].height_u_mm == pytest.approx(components[quantity], rel=1e-3)
    assert sum(part.height_share for part in parts.values()) == pytest.approx(1.0)
    assert sum(part.pitch_share for part in parts.values()) == pytest.approx(1.0)
    rest = math.sqrt(height.s**2 - components[inputs["ball height"]] ** 2)
    assert parts["ball height"].u_without_mm == pytest.approx(rest, rel=1e-3)
    assert next(iter(parts)) == "ball height"  # the largest first


def test_chances_are_those_of_a_normal_height() -> None:
    # JCGM 106:2012 clause 7: p = Phi((U - y)/u) - Phi((L - y)/u), from scipy's normal distribution
    raw = plain()
    raw["vehicle"]["stand_test"]["drop"]["u_mm"] = 0.0
    raw["monte_carlo"] = {"draws": 200_000}
    now = planned(raw, band(confidence=0.975)).outcomes[0]
    u = math.hypot(3.0, math.hypot(12 / 90 * 10, 16.0 * 1 / 90))
    normal = stats.norm(454.0, u)
    assert now.p_inside == pytest.approx(normal.cdf(460) - normal.cdf(350), abs=0.004)
    assert now.p_above == pytest.approx(normal.sf(460), abs=0.004)
    assert now.verdict == "undecided"


def test_listed_offsets_at_the_ends_of_a_range_reach_just_the_stated_confidence() -> None:
    raw = plain()
    raw["monte_carlo"] = {"draws": 100_000}
    reach = planned(raw).ranges
    assert reach.inside is not None and reach.level is not None and reach.both is not None
    for offset in (reach.inside.low_mm, reach.inside.high_mm):
        one = (
            {"name": "end", "rise_mm": offset, "u_mm": 0}
            if offset > 0
            else {"name": "end", "drop_mm": -offset, "u_mm": 0}
        )
        end = planned({**raw, "option": [one]}).outcomes[1]
        assert end.p_inside == pytest.approx(0.95, abs=0.003)
    one = {"name": "end", "drop_mm": -reach.level.low_mm, "u_mm": 0}
    assert planned({**raw, "option": [one]}).outcomes[1].p_level == pytest.approx(0.5, abs=0.005)
    assert reach.both.low_mm == max(reach.inside.low_mm, reach.level.low_mm)
    assert reach.both.high_mm == min(reach.inside.high_mm, reach.level.high_mm)


def test_vehicle_at_fault_is_cured_by_the_listed_drop() -> None:
    plan = worked("ferncombe-yard-truck-2.toml")
    # 90 mm stands it dead level, half of it nose-up by chance; 130 mm slightly nose-down, as its usual to run
    assert (plan.fault, plan.conclusion, plan.shown.name) == ("vehicle", "option", "130 mm drop bar")
    assert plan.outcomes[2].good and plan.outcomes[2].name == "90 mm drop bar"
    assert plan.outcomes[0].verdict == "above"
    # by hand: 541 - 10/92 x 0.085 x 2350 = 519.3 mm; bar 90 mm down, a slightly longer lever
    assert plan.outcomes[0].height_mm.mean == pytest.approx(519.3, abs=0.2)
    one = plan.outcomes[2]
    assert one.height_mm.mean == pytest.approx(428.6, abs=0.5)
    assert one.rear_change_kg is not None and one.front_change_kg is not None
    # moment balance by hand: 199.75 kg x (1 + 1270/3050) and x 1270/3050
    assert one.rear_change_kg.mean == pytest.approx(282.9, abs=0.5)
    assert one.front_change_kg.mean == pytest.approx(-83.2, abs=0.3)
    assert advice.remaining_choices(plan) == ()
    assert "The vehicle is the problem" in advice.fault_sentence(plan)
    assert "130 mm drop bar" in advice.recommendation(plan)


def test_trailer_at_fault_leaves_a_compromise_and_a_change_of_the_trailer() -> None:
    plan = worked("ferncombe-plant-trailer-b.toml")
    assert (plan.fault, plan.conclusion) == ("trailer", "compromise")
    assert plan.outcomes[0].verdict == "within" and not plan.outcomes[0].level
    assert plan.shown.verdict == "within"
    assert plan.shown.trailer_pitch_deg.low >= -1.6  # the stated limit, for the whole interval
    assert plan.ranges.both is None
    text = " ".join(advice.remaining_choices(plan))
    for way in ("Run nose-down", "no band is known", "lower its coupling"):
        assert way in text
    # nose-down: the ball load falls below the level 190 kg, and the front trailer axle carries more than the
    # rear
    assert plan.shown.ball_load_kg.mean < 190.0
    assert plan.shown.group_difference_kg is not None and plan.shown.group_difference_kg.mean < 0.0


def test_neither_cured_with_a_ball_is_said_clearly() -> None:
    plan = worked("ferncombe-yard-truck-5.toml")
    assert (plan.fault, plan.conclusion, plan.chosen) == ("both", "none", None)
    assert advice.recommendation(plan).startswith("No 50 mm ball set-up is both inside the band and level")
    assert not plan.outcomes[0].level and plan.outcomes[0].verdict == "above"  # 0.1 degrees nose-up
    assert plan.outcomes[2].verdict == "within" and not plan.outcomes[2].level
    # typed limit 10 degrees in a dip: the stated ramp asks for more
    assert min(bend.margin_deg for bend in plan.articulations[0].bends if bend.margin_deg is not None) < 0.0


def ramped(limit_deg: float) -> dict[str, Any]:
    """Yard truck 2, whose gate ramp folds the coupling up by 12.7 degrees with the 90 mm bar."""
    raw = sample("ferncombe-yard-truck-2.toml")
    raw["option"] = raw["option"][:2]
    raw["articulation"]["dip_limit_deg"] = limit_deg
    return raw


def test_a_way_that_asks_too_much_of_the_coupling_is_said_with_the_recommendation() -> None:
    plan = planned(ramped(10.0))
    assert plan.too_much and plan.shown.name == "90 mm drop bar"
    said, (remains,) = advice.recommendation(plan), advice.remaining_choices(plan)
    for text in (said, remains):
        assert "yard gate ramp" in text and "90 mm drop bar" in text
        assert "12.7 deg of fold up (dip), 2.7 deg more than the limit of 10.0" in text
    assert "Fit the" not in said and "TOO MUCH" in said
    document = plan_document(plan)
    assert document["too_much_on_the_way"] and document["recommended"] is None
    assert document["best_on_level_ground"] == "90 mm drop bar"
    assert "TOO MUCH" not in advice.recommendation(planned(ramped(20.0)))
    none = worked("ferncombe-yard-truck-5.toml")  # what is proposed, though nothing is recommended
    assert "with the drop of 149 mm, washdown ramp asks for 14.3 deg" in advice.recommendation(none)
    assert "4.3 deg more than the limit of 10.0" in " ".join(advice.remaining_choices(none))


def test_of_good_options_one_that_gets_through_goes_before() -> None:
    raw = ramped(12.6)
    raw["level"] = {"nose_up_deg": 0.5, "nose_down_deg": 0.5}
    raw["option"].append({"name": "75 mm drop bar", "drop_mm": 75, "u_mm": 1})
    plan = planned(raw)  # it is less level, but folds up the less
    assert plan.shown.name == "75 mm drop bar" and plan.outcomes[2].good and not plan.too_much
    as_it_is = planned({**ramped(1.0), "vehicle": {**raw["vehicle"], "ball_height": {"mm": 450, "u_mm": 3}}})
    said = advice.recommendation(as_it_is) + advice.fault_sentence(as_it_is)
    assert as_it_is.conclusion == "as-is" and "Nothing needs" not in said and "Neither height" in said


def test_a_measured_coupled_height_is_the_coupled_height() -> None:
    raw = plain()
    raw["vehicle"].update(coupled=True, ball_height={"mm": 430, "u_mm": 3})
    for springs in (raw["vehicle"]["stand_test"], None):
        if springs is None:
            del raw["vehicle"]["stand_test"]
        now = planned(raw).outcomes[0]
        assert now.height_mm.mean == pytest.approx(430.0, abs=0.1)
        assert now.height_mm.u == pytest.approx(3.0, rel=0.03)


def test_what_is_loaded_later_lowers_the_ball_by_what_was_typed() -> None:
    raw = plain()
    before = planned(raw).outcomes[0].height_mm.mean
    raw["vehicle"].update(laden=False, added_load_drop={"mm": 25, "u_mm": 2})
    after = planned(raw)
    assert before - after.outcomes[0].height_mm.mean == pytest.approx(25.0, abs=0.2)
    assert after.setup.vehicle.laden_on_the_way


def test_a_drop_that_is_not_listed_is_proposed() -> None:
    raw = plain()
    raw["vehicle"]["ball_height"] = {"mm": 560, "u_mm": 3}
    raw["option"] = [{"name": "20 mm drop", "drop_mm": 20, "u_mm": 1}]
    plan = planned(raw)
    assert plan.conclusion == "obtain" and plan.chosen is None and plan.proposal is not None
    assert plan.proposal.verdict == "within" and plan.proposal.level
    assert "None of the listed" in advice.recommendation(plan)
    assert "drop of" in advice.recommendation(plan)


def test_nothing_is_changed_where_the_rig_is_fine() -> None:
    raw = plain()
    raw["vehicle"]["ball_height"] = {"mm": 430, "u_mm": 3}
    raw["option"] = [{"name": "5 mm drop", "drop_mm": 5, "u_mm": 1}]
    plan = planned(raw)
    assert (plan.conclusion, plan.fault, plan.chosen) == ("as-is", "nobody", 0)


def test_a_low_trailer_is_never_told_to_run_nose_up() -> None:
    raw = plain()
    raw["trailer"]["level_coupling_height"] = {"mm": 250, "u_mm": 4}
    plan = planned(raw)
    assert (plan.conclusion, plan.fault) == ("none", "trailer")
    text = " ".join(advice.remaining_choices(plan))
    assert "nose up" in text and "not advised" in text
    assert "raise its coupling" in text


def test_no_band_leaves_level_and_never_within() -> None:
    target = target_of(load_rule("au-pin"), laden=True, level_control=None, confidence=None)
    plan = planned(plain(), target)
    assert {one.verdict for one in plan.outcomes} == {"no-band"}
    assert all(one.p_inside is None for one in plan.outcomes)
    assert plan.ranges.inside is None
    assert "within" not in json.dumps(plan_document(plan)["options"])


def test_open_bands_work_at_both_ends() -> None:
    below = planned(plain(), band(low_mm=None))
    assert below.ranges.inside is not None and below.ranges.inside.low_mm == -math.inf
    assert "or anything lower" in below.ranges.inside.text
    above = planned(plain(), band(high_mm=None))
    assert above.ranges.inside is not None and above.ranges.inside.high_mm == math.inf
    json.dumps(plan_document(below), allow_nan=False)
    json.dumps(plan_document(above), allow_nan=False)


def test_a_hopelessly_uncertain_height_finds_no_offset() -> None:
    raw = plain()
    raw["vehicle"]["ball_height"] = {"mm": 470, "u_mm": 120}
    plan = planned(raw)
    assert plan.ranges.inside is None
    assert plan.outcomes[0].verdict == "undecided"
    assert "too wide" in " ".join(advice.remaining_choices(plan))


def test_the_same_seed_gives_the_same_plan_and_another_nearly_the_same() -> None:
    first, again, other = (json.dumps(plan_document(planned(plain(), seed=seed))) for seed in (3, 3, 4))
    assert first == again != other
    means = [json.loads(text)["options"][0]["height_mm"]["mean"] for text in (first, other)]
    assert means[0] == pytest.approx(means[1], abs=0.2)


def test_confidence_follows_the_rules_own_decision() -> None:
    # guard band w = U = 2u leaves 0.02275 at the acceptance limit (ILAC-G8:09/2019, computed)
    target = target_of(load_rule("au-ball-50"), laden=True, level_control=None, confidence=None)
    assert 1.0 - target.confidence == pytest.approx(0.02275, abs=5e-6)
    assert (target.low_mm, target.high_mm) == (350.0, 460.0)
    assert target.indicative == ""
    assert "laden" in target_of(load_rule("au-ball-50"), laden=False, level_control=None, confidence=0.9).indicative


def test_bands_of_one_rule_are_told_apart_by_state() -> None:
    # Danish bands: laden 350-420; unladen 400-500, or 350-450 with level control (read)
    rule = load_rule("dk")
    pick = [
        (target.low_mm, target.high_mm)
        for target in (
            target_of(rule, laden=laden, level_control=control, confidence=None)
            for laden, control in ((True, None), (False, False), (False, True))
        )
    ]
    assert pick == [(350.0, 420.0), (400.0, 500.0), (350.0, 450.0)]
    with pytest.raises(InputError, match="tell them apart"):
        target_of(rule, laden=False, level_control=None, confidence=None)
    with pytest.raises(InputError, match="another thing"):
        target_of(load_rule("un-r55-trailer-head"), laden=True, level_control=None, confidence=None)


def test_a_longer_lever_loads_the_rear_axle_more_and_sinks_further() -> None:
    raw = sample("ferncombe-plant-trailer-b.toml")
    raw["option"] = [
        {"name": "short", "drop_mm": 0, "u_mm": 0, "extra_lever_mm": 0},
        {"name": "long", "drop_mm": 0, "u_mm": 0, "extra_lever_mm": 400},
    ]
    _, short, long = planned(raw).outcomes
    assert short.rear_change_kg is not None and long.rear_change_kg is not None
    assert long.rear_change_kg.mean > short.rear_change_kg.mean
    assert long.height_mm.mean < short.height_mm.mean


def test_springs_without_a_rest_position_are_wrong_input() -> None:
    raw = sample("ferncombe-plant-trailer-b.toml")
    raw["trailer"].update(
        shares_load=True, drawbar={"mm": 800, "u_mm": 5},
        gravity_height={"mm": 3000, "u_mm": 0},
        axle_rate={"kN_per_m": 10, "u_kN_per_m": 0},
        mass={"kg": 9000, "u_kg": 0}, ball_load={"kg": 500, "u_kg": 0},
    )  # fmt: skip
    raw["vehicle"].update(
        front_axle_rate={"kN_per_m": 10, "u_kN_per_m": 0}, rear_axle_rate={"kN_per_m": 10, "u_kN_per_m": 0}
    )
    with pytest.raises(InputError, match="no rest position"):
        planned(raw)


def test_what_is_assumed_is_said() -> None:
    plan = worked("ferncombe-yard-truck-2.toml")
    said = " ".join(remarks.warnings(plan))
    assert "from memory" in said  # the assumed rate ratio keeps its label
    assert "our own choice" in said
    raw = sample("ferncombe-yard-truck-2.toml")
    raw["trailer"]["ball_load"] = {"percent": 2, "u_percent": 0.3}
    assert "2.0 \N{PLUS-MINUS SIGN}" in " ".join(remarks.warnings(planned(raw)))
    indicative = dataclasses.replace(
        band(), indicative="the rule speaks of a laden vehicle, the setup of an unladen one"
    )
    assert "Indicative" in " ".join(remarks.warnings(planned(plain(), indicative)))


def test_cautions_say_ratings_lever_licence_tape_and_no_certificate() -> None:
    text = " ".join(remarks.CAUTIONS)
    for word in ("ratings", "lever", "licensed", "chocked", "jack", "no certificate", "tape"):
        assert word in text


def test_a_stated_nose_down_limit_holds_for_the_whole_interval() -> None:
    # the 50 mm rise runs 1.35 deg nose-down, 95 % interval to 1.53 deg: inside 1.6 deg, not inside 1.45 deg
    raw = sample("ferncombe-plant-trailer-b.toml")
    for limit_deg, conclusion in ((1.6, "compromise"), (1.45, "none")):
        raw["level"]["nose_down_limit_deg"] = limit_deg
        assert planned(raw, band(confidence=0.977)).conclusion == conclusion
