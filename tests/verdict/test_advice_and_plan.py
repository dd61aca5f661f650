"""Advice of `measure` and `plan` say the same of one rig: where they speak of the same state, the same range of drops."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calib.outcome.errors import InputError
from photomeasure.asked.sag import Sag, check_sag
from photomeasure.asked.state import State
from photomeasure.rig.plan import Plan, make_plan
from photomeasure.rig.target import target_of
from photomeasure.rules import load_rule
from photomeasure.verdict.judge import Verdict, judge
from tests.rig.scenario import checked, plain

AU = load_rule("au-ball-50")
COUNTS = State(coupled=True, laden=True, level_ground=True)
DRAWS = 40_000


def planned(vehicle: dict[str, Any], ball_load_kg: float) -> Plan:
    """The plan of a rig whose figures are known as well as those typed beside a photograph."""
    raw = plain()
    raw["vehicle"] = {"name": "truck", **vehicle}
    raw["trailer"]["ball_load"] = {"kg": ball_load_kg, "plus_minus_kg": 0.1 * ball_load_kg}
    raw["monte_carlo"] = {"draws": DRAWS}
    setup = checked(raw)
    target = target_of(AU, laden=True, level_control=setup.vehicle.level_control, confidence=None)
    return make_plan(setup, target, np.random.default_rng(5))


NARROW_MM = 6.0  # a range so narrow may be called none: one side is first order, the other draws


def drops(verdict: Verdict) -> tuple[float, float] | None:
    """Least and most lowering, mm, that the advice calls inside; None where it says that there is none."""
    change = verdict.adjustment
    if change is None or not change.possible or change.least_down_mm is None or change.most_down_mm is None:
        return None
    return change.least_down_mm, change.most_down_mm


def drops_of(plan: Plan) -> tuple[float, float] | None:
    """The same by the plan."""
    inside = plan.ranges.inside
    return None if inside is None else (-inside.high_mm, -inside.low_mm)


def agree(advice: tuple[float, float] | None, plan: tuple[float, float] | None) -> bool:
    """Whether both call the same drops inside, to 2 mm, or one calls none what the other finds narrow."""
    if advice is None or plan is None:
        return all(one is None or one[1] - one[0] < NARROW_MM for one in (advice, plan))
    return advice == pytest.approx(plan, abs=2.0)


@pytest.mark.parametrize(
    ("advice", "plan", "same"),
    [
        ((10.0, 60.0), (11.5, 58.5), True),
        ((10.0, 60.0), (13.0, 60.0), False),
        ((10.0, 60.0), None, False),
        (None, (10.0, 60.0), False),
        (None, (10.0, 15.0), True),
        (None, None, True),
    ],
)
def test_what_counts_as_agreement(
    advice: tuple[float, float] | None, plan: tuple[float, float] | None, same: bool
) -> None:
    assert agree(advice, plan) is same


@settings(max_examples=30, deadline=None)
@given(st.floats(300.0, 620.0), st.floats(0.3, 6.0))
def test_a_coupled_laden_photograph_and_its_plan(height_mm: float, u_mm: float) -> None:
    vehicle = {"ball_height": {"mm": height_mm, "u_mm": u_mm}, "coupled": True, "laden": True}
    advice, plan = drops(judge(height_mm, u_mm, AU, COUNTS, "ball-50")), drops_of(planned(vehicle, 150.0))
    assert agree(advice, plan), (advice, plan)


@settings(max_examples=30, deadline=None)
@given(
    st.floats(330.0, 620.0),
    st.floats(40.0, 250.0),
    st.floats(5.0, 20.0),
    st.one_of(st.none(), st.floats(5.0, 60.0)),
)
def test_an_uncoupled_photograph_with_its_sinking_stated_and_its_plan(
    height_mm: float, ball_load_kg: float, stand_mm: float, load_mm: float | None
) -> None:
    vehicle: dict[str, Any] = {
        "ball_height": {"mm": height_mm, "u_mm": 0.6},
        "coupled": False,
        "laden": load_mm is None,
        "stand_test": {
            "drop": {"mm": stand_mm, "plus_minus_mm": 2.0}, "mass": {"kg": 92.0, "plus_minus_kg": 2.0},
        },
    }  # fmt: skip
    if load_mm is not None:
        vehicle["added_load_drop"] = {"mm": load_mm, "plus_minus_mm": 5.0}
    sag = Sag(ball_load_kg=ball_load_kg, stand_mass_kg=92.0, stand_drop_mm=stand_mm, load_drop_mm=load_mm)
    state = State(coupled=False, laden=load_mm is None, level_ground=True)
    advice, plan = drops(judge(height_mm, 0.6, AU, state, "ball-50", sag=sag)), drops_of(planned(vehicle, ball_load_kg))
    assert agree(advice, plan), (advice, plan)


def test_a_vehicle_that_levels_itself_and_its_plan() -> None:
    vehicle = {"ball_height": {"mm": 470, "u_mm": 0.6}, "coupled": False, "laden": True, "level_control": True}
    state = State(coupled=False, laden=False, level_ground=True, level_control=True)
    advice, plan = drops(judge(470, 0.6, AU, state, "ball-50")), drops_of(planned(vehicle, 150.0))
    assert advice is not None and plan is not None
    assert advice == pytest.approx(plan, abs=2.0)


def test_the_bare_ball_of_the_yard() -> None:
    """An unladen bare ball at 498 mm, 200 kg to come on it, 10 mm under 92 kg, 28 mm by the load: 498 - 21.7 - 28."""
    bare = State(coupled=False, laden=False, level_ground=True)
    known = Sag(ball_load_kg=200.0, stand_mass_kg=92.0, stand_drop_mm=10.0, load_drop_mm=28.0)
    said = judge(498, 0.6, AU, bare, "ball-50", sag=known)
    change = said.adjustment
    assert change is not None and change.least_down_mm is not None and change.most_down_mm is not None
    mean_mm = 498 - 200 * 10 / 92 - 28
    relative = math.hypot(0.1, 2 / 92, 2 / 10) / math.sqrt(3.0)
    U_mm = 2 * math.hypot(0.6, 200 * 10 / 92 * relative, 5 / math.sqrt(3.0))
    assert change.least_down_mm == pytest.approx(mean_mm + U_mm - 460, abs=0.1)
    assert change.most_down_mm == pytest.approx(mean_mm - U_mm - 350, abs=0.1)
    assert said.verdict == "above" and said.indicative  # the verdict stays that of the photograph
    assert said.advice[0].startswith("With the trailer connected and laden as the rule says it would stand at")
    assert "best" not in said.advice[0]
    # the load of the vehicle alone, or the trailer alone, is not enough
    for part in (replace(known, load_drop_mm=None), replace(known, ball_load_kg=None)):
        less = judge(498, 0.6, AU, bare, "ball-50", sag=part).adjustment
        assert less is not None and not less.possible and "No drop or rise can be chosen" in less.sentence


def test_what_is_not_said_is_asked_first_whatever_is_known_of_the_sinking() -> None:
    known = Sag(ball_load_kg=200.0, stand_mass_kg=92.0, stand_drop_mm=10.0, load_drop_mm=28.0)
    change = judge(498, 0.6, AU, State(laden=True, level_ground=True), "ball-50", sag=known).adjustment
    assert change is not None and "before it is known whether the trailer is connected" in change.sentence


@pytest.mark.parametrize(
    "sag",
    [Sag(stand_mass_kg=92.0), Sag(stand_drop_mm=10.0), Sag(stand_mass_kg=390.0, stand_drop_mm=0.6)],
)
def test_half_a_stand_test_or_one_that_no_vehicle_gives(sag: Sag) -> None:
    with pytest.raises(InputError):
        check_sag(sag)
