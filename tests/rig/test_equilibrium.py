"""The coupled rest position against least potential energy, force by force, and at its limits.

The energy is written here from springs and weights alone (Lagrange-Dirichlet, any mechanics text) and
minimised by scipy; the code under test balances moments instead.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from photomeasure.rig.equilibrium import (
    HeldBallLoad,
    MovingBallLoad,
    NoEquilibriumError,
    axle_offsets_mm,
    free_height_from_coupled_mm,
)

rigs = st.fixed_dictionaries(
    {
        "level": st.floats(300.0, 650.0),
        "drawbar": st.floats(2000.0, 6000.0),
        "weight": st.floats(6000.0, 35000.0),
        "share": st.floats(0.03, 0.15),
        "gravity": st.floats(500.0, 1500.0),
        "axle_height": st.floats(250.0, 450.0),
        "rate": st.floats(100.0, 400.0),
        "spacing": st.floats(600.0, 1100.0),
        "axles": st.integers(1, 3),
        "free": st.floats(330.0, 700.0),
        "compliance": st.floats(0.001, 0.02),
    }
)


def one(value: float) -> np.ndarray:
    return np.array([value])


def moving(rig: dict[str, Any], *, shares: bool) -> MovingBallLoad:
    offsets = axle_offsets_mm(rig["axles"], one(rig["spacing"]))
    return MovingBallLoad(
        level_height_mm=one(rig["level"]),
        drawbar_mm=one(rig["drawbar"]),
        level_ball_load_n=one(rig["share"] * rig["weight"]),
        weight_n=one(rig["weight"]),
        gravity_height_mm=one(rig["gravity"]),
        axle_height_mm=one(rig["axle_height"]),
        group_compliance_mm_per_n=one(1.0 / (rig["axles"] * rig["rate"])),
        pitch_stiffness_n_mm=one(0.0 if shares else rig["rate"] * float(np.sum(offsets**2))),
    )


def energy(state: np.ndarray, rig: dict[str, Any]) -> float:
    """Potential energy, N mm, of (pitch rad x 1000, group's sinking mm), each axle on its own spring."""
    pitch, sunk = state[0] / 1000.0, state[1]
    v_c, v_g = rig["level"] - rig["axle_height"], rig["gravity"] - rig["axle_height"]
    forward = rig["share"] * rig["drawbar"]  # centre of gravity ahead of the group
    coupling = rig["axle_height"] - sunk + rig["drawbar"] * math.sin(pitch) + v_c * math.cos(pitch)
    centre = rig["axle_height"] - sunk + forward * math.sin(pitch) + v_g * math.cos(pitch)
    total = rig["weight"] * centre + (rig["free"] - coupling) ** 2 / (2.0 * rig["compliance"])
    each = (1.0 - rig["share"]) * rig["weight"] / rig["axles"]
    for offset in (np.arange(rig["axles"]) - (rig["axles"] - 1) / 2.0) * rig["spacing"]:
        squeezed = each / rig["rate"] + sunk - offset * math.sin(pitch)
        total += 0.5 * rig["rate"] * squeezed**2
    return float(total)


@given(rigs)
@settings(max_examples=60, deadline=None)
def test_rest_is_where_the_potential_energy_is_least(rig: dict[str, Any]) -> None:
    rest = moving(rig, shares=False).on_vehicle(one(rig["free"]), one(rig["compliance"]))
    start = np.array([0.0, 0.0])
    found = minimize(
        energy,
        start,
        args=(rig,),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000},
    )
    assert rest.pitch_rad[0] * 1000.0 == pytest.approx(found.x[0], abs=2e-3)  # rad/1000
    pitch, sunk = found.x[0] / 1000.0, found.x[1]
    height = rig["axle_height"] - sunk + rig["drawbar"] * math.sin(pitch)
    height += (rig["level"] - rig["axle_height"]) * math.cos(pitch)
    assert rest.height_mm[0] == pytest.approx(height, abs=0.02)
    assert rest.ball_load_n[0] == pytest.approx((rig["free"] - height) / rig["compliance"], abs=25.0)


@given(rigs)
@settings(max_examples=100, deadline=None)
def test_forces_and_moments_on_the_trailer_add_up_to_zero(rig: dict[str, Any]) -> None:
    # Newton, axle by axle, moments about the coupling in the horizontal place of every force
    rest = moving(rig, shares=False).on_vehicle(one(rig["free"]), one(rig["compliance"]))
    pitch, load = rest.pitch_rad[0], rest.ball_load_n[0]
    level_load = rig["share"] * rig["weight"]
    sunk = (level_load - load) / (rig["axles"] * rig["rate"])
    offsets = (np.arange(rig["axles"]) - (rig["axles"] - 1) / 2.0) * rig["spacing"]
    axles = (rig["weight"] - level_load) / rig["axles"] + rig["rate"] * (sunk - offsets * math.sin(pitch))
    assert load + axles.sum() == pytest.approx(rig["weight"], rel=1e-9)
    v_c, v_g = rig["level"] - rig["axle_height"], rig["gravity"] - rig["axle_height"]
    coupling_x = rig["drawbar"] * math.cos(pitch) - v_c * math.sin(pitch)
    centre_x = rig["share"] * rig["drawbar"] * math.cos(pitch) - v_g * math.sin(pitch)
    moment = np.sum(axles * (offsets * math.cos(pitch) - coupling_x)) - rig["weight"] * (centre_x - coupling_x)
    assert abs(moment) < 1e-6 * rig["weight"] * rig["drawbar"]


@given(rigs)
@settings(max_examples=60, deadline=None)
def test_vehicle_spring_holds_exactly_the_ball_load(rig: dict[str, Any]) -> None:
    rest = moving(rig, shares=True).on_vehicle(one(rig["free"]), one(rig["compliance"]))
    assert rest.height_mm[0] == pytest.approx(rig["free"] - rig["compliance"] * rest.ball_load_n[0], abs=1e-6)


@given(rigs)
@settings(max_examples=60, deadline=None)
def test_a_coupled_height_leads_back_to_the_free_height(rig: dict[str, Any]) -> None:
    for trailer in (moving(rig, shares=False), held(rig)):
        rest = trailer.on_vehicle(one(rig["free"]), one(rig["compliance"]))
        back = free_height_from_coupled_mm(trailer, rest.height_mm, one(rig["compliance"]))
        assert back[0] == pytest.approx(rig["free"], abs=1e-6)
        height, load = trailer.at_pitch(rest.pitch_rad)
        assert height[0] == pytest.approx(rest.height_mm[0], abs=1e-6)
        assert load[0] == pytest.approx(rest.ball_load_n[0], abs=1e-5)


def held(rig: dict[str, Any]) -> HeldBallLoad:
    return HeldBallLoad(
        level_height_mm=one(rig["level"]),
        drawbar_mm=one(rig["drawbar"]),
        level_ball_load_n=one(rig["share"] * rig["weight"]),
    )


@given(rigs)
@settings(max_examples=60, deadline=None)
def test_load_stays_where_coupling_axle_and_gravity_are_in_line(rig: dict[str, Any]) -> None:
    # with all three at wheel-centre height both levers shrink by the same cosine: the load cannot move
    flat = {
        **rig,
        "gravity": rig["axle_height"],
        "level": rig["axle_height"],
        "free": rig["axle_height"] + 60.0,
    }
    rest = moving(flat, shares=True).on_vehicle(one(flat["free"]), one(flat["compliance"]))
    assert rest.ball_load_n[0] == pytest.approx(rig["share"] * rig["weight"], rel=1e-9)
    simple = held(flat).on_vehicle(one(flat["free"]), one(flat["compliance"]))
    assert rest.height_mm[0] == pytest.approx(simple.height_mm[0], abs=1e-6)
    assert rest.pitch_rad[0] == pytest.approx(simple.pitch_rad[0], abs=2e-5)  # atan against asin


def test_nose_up_unloads_the_ball_of_a_high_load_and_loads_it_on_separate_axles() -> None:
    # signs, from the physics: a high centre of gravity moves back over the axle; squeezed rear springs push
    # back
    rig = {
        "level": 430.0, "drawbar": 3600.0, "weight": 24000.0, "share": 0.08, "gravity": 1300.0,
        "axle_height": 330.0, "rate": 250.0, "spacing": 900.0, "axles": 2,
    }  # fmt: skip
    up = np.array([math.radians(1.0)])
    level = rig["share"] * rig["weight"]
    assert moving(rig, shares=True).at_pitch(up)[1][0] < level
    assert moving(rig, shares=False).at_pitch(up)[1][0] > level


def test_too_soft_for_so_high_a_load_is_said() -> None:
    rig = {
        "level": 430.0, "drawbar": 1000.0, "weight": 35000.0, "share": 0.08, "gravity": 3000.0,
        "axle_height": 330.0, "rate": 10.0, "spacing": 900.0, "axles": 1,
    }  # fmt: skip
    with pytest.raises(NoEquilibriumError):
        moving(rig, shares=True).on_vehicle(one(450.0), one(0.05))


def test_axle_offsets_are_even_and_balanced() -> None:
    assert axle_offsets_mm(3, one(800.0))[:, 0] == pytest.approx([800.0, 0.0, -800.0])
    assert axle_offsets_mm(2, one(900.0))[:, 0] == pytest.approx([450.0, -450.0])
