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


def same_range(verdict: Verdict, plan: Plan) -> None:
    """The drops that each calls inside, to 2 mm: one is first order, the other draws (40,000) of rectangles."""
    change, inside = verdict.adjustment, plan.ranges.inside
    assert change is not None
    if inside is None or not change.possible:
        room = (inside.high_mm - inside.low_mm) if inside else 0.0
        assert room < 6.0 and not change.possible
        return
    assert (change.least_down_mm, change.most_down_mm) == pytest.approx((-inside.high_mm, -inside.low_mm), abs=2.0)


@settings(max_examples=30, deadline=None)
@given(st.floats(300.0, 620.0), st.floats(0.3, 6.0))
def test_a_coupled_laden_photograph_and_its_plan(height_mm: float, u_mm: float) -> None:
    vehicle = {"ball_height": {"mm": height_mm, "u_mm": u_mm}, "coupled": True, "laden": True}
    same_range(judge(height_mm, u_mm, AU, COUNTS, "ball-50"), planned(vehicle, 150.0))


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
    same_range(judge(height_mm, 0.6, AU, state, "ball-50", sag=sag), planned(vehicle, ball_load_kg))


def test_a_vehicle_that_levels_itself_and_its_plan() -> None:
    vehicle = {"ball_height": {"mm": 470, "u_mm": 0.6}, "coupled": False, "laden": True, "level_control": True}
    state = State(coupled=False, laden=False, level_ground=True, level_control=True)
    same_range(judge(470, 0.6, AU, state, "ball-50"), planned(vehicle, 150.0))


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
