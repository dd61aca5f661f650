"""Loads against plates and practice, the way back empty, and vehicles that level themselves: worked by hand."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat, umath  # type: ignore[import-untyped, unused-ignore]

from calib.outcome.errors import InputError
from photomeasure.rig import advice, remarks
from photomeasure.rig.document import plan_document
from photomeasure.rig.loads import Check
from photomeasure.rig.loads_said import load_lines
from photomeasure.rig.plan import Plan, make_plan
from photomeasure.rig.setup_file import parse_setup
from photomeasure.rig.target import target_of
from photomeasure.rules import load_rule
from tests.rig.scenario import band, checked, plain, sample


def planned(raw: dict[str, Any], **more: Any) -> Plan:
    return make_plan(checked(raw), band(), np.random.default_rng(7), **more)


def weighed() -> dict[str, Any]:
    """Yard truck 2 on the scales, with plates; invented."""
    raw = sample("ferncombe-yard-truck-2.toml")
    raw["vehicle"]["front_axle_load"] = {"kg": 1150, "u_kg": 10}
    raw["vehicle"]["rear_axle_load"] = {"kg": 1250, "u_kg": 10}
    raw["ratings"] = {
        "ball_load_kg": 250, "coupling_load_kg": 350, "rear_axle_kg": 1700, "front_axle_kg": 1300, "vehicle_kg": 2900,
        "trailer_axle_kg": 1250, "trailer_kg": 2600, "source": "invented plates",
    }  # fmt: skip
    return raw


def of(plan: Plan, name: str) -> Check:
    return next(check for check in plan.shown.checks if name in f"{check.name} " and "share of" not in check.name)


def test_loads_are_those_of_the_moment_balance() -> None:
    """Ball load 8.5 % of 2350 kg = 199.75 kg; lever (1210 + 80) / 3050 with the 130 mm bar."""
    plan = planned(weighed())
    assert plan.shown.name == "130 mm drop bar"
    ratio, ball = (1210 + 80) / 3050, 0.085 * 2350
    for name, kg in (
        ("rear axle", 1250 + ball * (1 + ratio)),
        ("front axle", 1150 - ball * ratio),
        ("vehicle's mass", 1150 + 1250 + ball),
        ("trailer axle", (2350 - ball) / 2),
        ("trailer's mass ", 2350),
        ("coupling's plate", ball),
    ):
        found = of(plan, name).found
        assert found is not None and found.mean == pytest.approx(kg, abs=0.6), name
        assert of(plan, name).state == "kept"
    share = plan.shown.checks[0].found
    assert share is not None and share.mean == pytest.approx(8.5, abs=0.02)
    assert plan.recommended is plan.shown and not plan.overloaded
    assert plan_document(plan)["recommended"] == "130 mm drop bar"
    assert all(line.endswith(("kept.", "usual.")) for line in load_lines(plan))


def test_the_chance_of_too_much_is_that_of_the_sum() -> None:
    """Normal axle load, rectangular share: against a convolution drawn by itself (scipy)."""
    raw = weighed()
    raw["ratings"]["rear_axle_kg"] = 1560
    rear = of(planned({**raw, "monte_carlo": {"draws": 200_000}}), "rear axle")
    ratio = (1210 + 80) / 3050
    shares = np.random.default_rng(3).uniform(0.07, 0.10, 400_000)
    limit = 1560 - shares * 2350 * (1 + ratio)
    spread = np.hypot(10.0, shares * 60 * (1 + ratio))
    assert rear.p_out == pytest.approx(float(np.mean(stats.norm.sf(limit, 1250, spread))), abs=0.004)
    assert rear.state == "unsure" and rear.failed


@pytest.mark.parametrize(
    ("rating", "kg", "name"),
    [
        ("ball_load_kg", 150, "the ball's plates"),
        ("tow_bar_load_kg", 150, "the tow bar's"),
        ("coupling_load_kg", 150, "the coupling's"),
        ("rear_axle_kg", 1400, "rear axle"),
        ("front_axle_kg", 1000, "front axle"),
        ("vehicle_kg", 2500, "vehicle's mass"),
        ("trailer_axle_kg", 900, "trailer axle"),
        ("trailer_kg", 2000, "trailer's mass"),
    ],
)
def test_nothing_is_recommended_that_a_plate_does_not_allow(rating: str, kg: float, name: str) -> None:
    raw = weighed()
    raw["ratings"][rating] = kg
    plan = planned(raw)
    assert [name in check.name for check in plan.overloaded] == [True] and plan.overloaded[0].state == "over"
    said, document = advice.recommendation(plan), plan_document(plan)
    assert (
        "TOO MUCH for a rating" in said
        and name in said.lower()
        and "Fit the" not in said
        and f"at most {kg} kg" in said
    )
    assert document["recommended"] is None and document["overloaded"] == [plan.overloaded[0].name]
    assert document["best_on_level_ground"] == plan.shown.name
    assert any(name in line for line in advice.remaining_choices(plan))


def test_of_good_options_one_that_plates_allow_goes_before() -> None:
    raw = weighed()  # the 130 mm bar sets the ball 80 mm back: 1250 + 199.75 x (1 + 1290/3050) = 1534.2 kg
    raw["option"].append({"name": "short 125 mm bar", "drop_mm": 125, "u_mm": 1, "extra_lever_mm": -200})
    raw["trailer"]["ball_load"] = {"percent": 8.5, "u_percent": 0.1}
    raw["trailer"]["mass"]["u_kg"] = 5
    raw["vehicle"]["rear_axle_load"]["u_kg"] = 2
    raw["ratings"]["rear_axle_kg"] = 1526  # 1250 + 199.75 x (1 + 1010/3050) = 1515.9 kg
    plan = planned(raw)
    assert plan.shown.name == "short 125 mm bar" and not plan.overloaded
    assert plan.outcomes[3].good and plan.outcomes[3].overloaded


def test_a_rating_that_nothing_tells_is_named_with_what_it_needs() -> None:
    raw = weighed()
    del raw["vehicle"]["rear_axle_load"]
    plan = planned(raw)
    assert of(plan, "rear axle").state == of(plan, "vehicle's mass").state == "unknown"
    assert not plan.overloaded and any("it needs" in line and "rear_axle_load" in line for line in load_lines(plan))
    raw["ratings"].pop("source")
    with pytest.raises(InputError, match="ratings need source"):
        checked(raw)


@pytest.mark.parametrize(("percent", "word"), [(2.5, "UNUSUALLY LOW"), (19.0, "UNUSUALLY HIGH")])
def test_an_unusual_share_is_said_with_the_recommendation(percent: float, word: str) -> None:
    """Germany at least 4 % (StVZO 44 (3), read); 15 % from memory."""
    raw = weighed()
    raw["trailer"]["ball_load"] = {"percent": percent, "u_percent": 0.3}
    raw["ratings"] = {}
    plan = planned(raw)
    assert f"{percent:.1f} % of the trailer's mass" in advice.recommendation(plan)
    assert "4 to 15 % is usual" in advice.recommendation(plan)
    assert any(word in line for line in load_lines(plan))


def test_the_share_is_that_of_the_outcome_not_of_the_level_trailer() -> None:
    """Trailer B carries its centre of gravity high: nose-down it takes load off the ball."""
    plan = planned(sample("ferncombe-plant-trailer-b.toml"))
    now = next(check for check in plan.outcomes[0].checks if "share" in check.name).found
    assert now is not None and now.mean == pytest.approx(100 * plan.outcomes[0].ball_load_kg.mean / 2900, abs=0.1)


def test_a_vehicle_that_levels_itself_does_not_sag() -> None:
    raw = plain()
    sagging = planned(raw).outcomes[0]
    raw["vehicle"]["level_control"] = True
    levelled = planned(raw)
    now = levelled.outcomes[0]
    # 12/90 mm a kg x 120 kg = 16 mm less sag, whatever the load; 10 mm rectangular beside the ball's own 3 mm
    assert now.height_mm.mean - sagging.height_mm.mean == pytest.approx(16.0, abs=0.2)
    assert now.height_mm.mean == pytest.approx(470.0, abs=0.1)
    assert now.height_mm.u == pytest.approx(math.hypot(3.0, 10.0 / math.sqrt(3.0)), rel=0.02)
    text = " ".join(remarks.warnings(levelled))
    assert "levels itself" in text and "stand test or axle rates are not used" in text and "from memory" in text
    heavy = {**raw, "trailer": {**raw["trailer"], "ball_load": {"kg": 300, "u_kg": 10}}}
    assert planned(heavy).outcomes[0].height_mm.mean == pytest.approx(470.0, abs=0.1)


@pytest.mark.parametrize("field", ["added_load_drop", "helper_lift"])
def test_what_contradicts_level_control_is_refused(field: str) -> None:
    raw = plain()
    raw["vehicle"].update({"level_control": True, field: {"mm": 20, "u_mm": 2}})
    with pytest.raises(InputError, match="levels itself"):
        checked(raw)


def test_bags_lift_the_ball_and_the_trailer_sinks_when_loaded() -> None:
    raw = plain()
    before = planned(raw)
    raw["vehicle"]["helper_lift"] = {"mm": 20, "u_mm": 2}
    raw["trailer"]["load_drop"] = {"mm": 15, "u_mm": 2}
    after = planned(raw)
    assert after.outcomes[0].height_mm.mean - before.outcomes[0].height_mm.mean == pytest.approx(20.0, abs=0.2)
    assert before.trailer.level_height_mm.mean - after.trailer.level_height_mm.mean == pytest.approx(15.0, abs=0.2)
    # 454 + 20 - (420 - 15) = 69 mm over 3500 mm
    assert after.outcomes[0].trailer_pitch_deg.mean == pytest.approx(math.degrees(math.atan(69 / 3500)), abs=0.01)
    plain_words = " ".join(remarks.warnings(before))
    assert "are not in it" in plain_words and "load_drop" in plain_words


def emptied(**more: Any) -> dict[str, Any]:
    raw = plain()
    raw["option"] = [{"name": "40 mm drop", "drop_mm": 40, "u_mm": 1}]
    raw["empty"] = {"ball_load": {"kg": 45, "u_kg": 5}, "vehicle_rise": {"mm": 22, "u_mm": 2}, **more}
    return raw


def test_empty_and_laden_in_one_plan() -> None:
    plan = planned(emptied(level_coupling_height={"mm": 436, "u_mm": 3}))
    assert plan.empty is not None and len(plan.empty.outcomes) == len(plan.outcomes)
    # 470 + 22 - 12/90 x 45 = 486 mm; with the drop 446
    assert plan.empty.outcomes[0].height_mm.mean == pytest.approx(486.0, abs=0.2)
    assert plan.shown_empty is not None and plan.shown_empty.name == plan.shown.name == "40 mm drop"
    assert plan.shown_empty.height_mm.mean == pytest.approx(446.0, abs=0.2)
    assert plan.shown_empty.trailer_pitch_deg.mean == pytest.approx(math.degrees(math.atan(10 / 3500)), abs=0.01)
    assert "With the trailer empty: 446" in advice.recommendation(plan)
    written = plan_document(plan)["empty"]
    assert [one["name"] for one in written["options"]] == ["as it is", "40 mm drop"]
    # what is the same laden and empty is drawn once: the ball's 3 mm and its springs are shared
    assert (
        plan.outcomes[1].height_mm.mean
        == planned({k: v for k, v in emptied().items() if k != "empty"}).outcomes[1].height_mm.mean
    )


def test_the_same_trailer_empty_gives_the_same_heights() -> None:
    raw = plain()
    raw["empty"] = {"ball_load": dict(raw["trailer"]["ball_load"]), "vehicle_laden": True}
    plan = planned(raw)
    assert plan.empty is not None and plan.empty.outcomes[0].height_mm.mean == plan.outcomes[0].height_mm.mean


def test_a_ball_measured_coupled_comes_up_with_less_on_it() -> None:
    raw = emptied()
    raw["vehicle"].update(coupled=True, ball_height={"mm": 454, "u_mm": 3})
    plan = planned(raw)
    assert plan.empty is not None  # 454 + 16 of the laden trailer, + 22, - 6 of the empty one
    assert plan.empty.outcomes[0].height_mm.mean == pytest.approx(486.0, abs=0.3)
    del raw["vehicle"]["stand_test"]
    with pytest.raises(InputError, match="nobody knows how far"):
        checked(raw)


def test_the_empty_way_needs_to_know_how_far_the_ball_comes_up() -> None:
    raw = emptied()
    del raw["empty"]["vehicle_rise"]
    with pytest.raises(InputError, match="vehicle_rise"):
        checked(raw)
    raw["empty"]["vehicle_laden"] = True
    assert planned(raw).empty is not None
    measured_unladen = emptied()
    measured_unladen["vehicle"].update(laden=False, added_load_drop={"mm": 22, "u_mm": 2})
    with pytest.raises(InputError, match="vehicle_rise only goes"):
        checked(measured_unladen)
    del measured_unladen["empty"]["vehicle_rise"]
    plan = planned(measured_unladen)
    assert plan.empty is not None and plan.empty.outcomes[0].height_mm.mean == pytest.approx(464.0, abs=0.2)


def test_the_band_of_the_empty_way_is_its_own() -> None:
    """Denmark: 350-420 laden, 400-500 unladen without level control (Detailforskrifter for køretøjer 9.05.310, read)."""
    raw = emptied()
    raw["vehicle"]["level_control"] = False
    dk = load_rule("dk")
    laden, empty = (target_of(dk, laden=state, level_control=False, confidence=None) for state in (True, False))
    plan = make_plan(checked(raw), laden, np.random.default_rng(7), empty_target=empty)
    assert plan.empty is not None and (plan.empty.target.low_mm, plan.empty.target.high_mm) == (400, 500)
    assert plan.empty.outcomes[0].verdict == "within" and plan.outcomes[0].verdict == "above"


def standing(**more: Any) -> dict[str, Any]:
    raw = plain()
    del raw["trailer"]["level_coupling_height"]
    raw["trailer"].update(
        standing_coupling_height={"mm": 390, "u_mm": 1}, standing_pitch={"deg": -0.8, "u_deg": 0.15}, **more
    )
    return raw


def test_the_level_height_follows_from_how_the_trailer_stands() -> None:
    """390 + 3500 tan 0.8 degrees; u by an independent library (uncertainties 3.2), the drawbar's share in it."""
    raw = standing()
    raw["monte_carlo"] = {"draws": 200_000}
    plan = planned(raw)
    level = ufloat(390, 1) - ufloat(3500, 20) * umath.tan(ufloat(-0.8, 0.15) * math.pi / 180)
    assert plan.trailer.level_height_mm.mean == pytest.approx(level.n, abs=0.05)
    assert plan.trailer.level_height_mm.u == pytest.approx(level.s, rel=0.02)
    names = {part.name for part in plan.sensitivities}
    assert {"coupling height as it stands", "pitch as it stands"} <= names
    assert any("h - D tan(pitch)" in line for line in remarks.warnings(plan))
    # as it stands is as it stands: a ball at that height gives that pitch back
    raw["vehicle"].update(coupled=True, ball_height={"mm": 390, "u_mm": 1})
    assert planned(raw).outcomes[0].trailer_pitch_deg.mean == pytest.approx(-0.8, abs=0.01)


def test_records_of_height_and_level_are_taken(tmp_path: Path) -> None:
    (tmp_path / "coupling.json").write_text(json.dumps({"height_mm": 390.0, "u_mm": 1.0}), encoding="utf-8")
    (tmp_path / "level.json").write_text(json.dumps({"pitch_deg": -0.8, "u_deg": 0.15}), encoding="utf-8")
    raw = standing()
    raw["trailer"].update(standing_coupling_height={"record": "coupling.json"}, standing_pitch={"record": "level.json"})
    trailer = parse_setup(raw, folder=tmp_path, label="setup.toml").trailer
    assert trailer.standing_pitch is not None and trailer.standing_pitch.value == pytest.approx(math.radians(-0.8))
    assert trailer.standing_pitch.source == "level.json"
    (tmp_path / "level.json").write_text(json.dumps({"pitch_deg": None, "refusal": {}}), encoding="utf-8")
    with pytest.raises(InputError, match="gives no pitch_deg"):
        parse_setup(raw, folder=tmp_path, label="setup.toml")


def test_one_of_level_and_standing() -> None:
    both, half = standing(level_coupling_height={"mm": 420, "u_mm": 4}), standing()
    del half["trailer"]["standing_pitch"]
    for raw, word in ((both, "tell the same thing"), (half, "both standing_coupling_height and standing_pitch")):
        with pytest.raises(InputError, match=word):
            checked(raw)
