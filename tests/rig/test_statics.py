"""The static formulas against a recomputed table, a published weighbridge example, and the laws of statics.

Sources: "computed" values were recomputed apart from this program, from the formulas of any statics text;
"read" values were read in the publication named. Nothing here comes from the code under test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure import statics

# b 1.25 m, L 2.85 m, k_f 60, k_r 70 kN/m (computed): kg on the ball -> hitch drop mm, vehicle pitch deg
OVERHANG_RATIO, WHEELBASE_MM, FRONT_N_MM, REAR_N_MM = 1250.0 / 2850.0, 2850.0, 60.0, 70.0
TABLE = ((100.0, 32.1, 0.55), (200.0, 64.3, 1.10), (300.0, 96.4, 1.65))

loads = st.floats(10.0, 6000.0)
ratios = st.floats(0.0, 1.2)
rates = st.floats(15.0, 600.0)
wheelbases = st.floats(1500.0, 7000.0)


def test_gravity_is_the_defined_one() -> None:
    # 3rd CGPM (1901): 9.80665 m/s^2 exactly (read); scipy carries the same constant
    from scipy import constants

    assert constants.g == statics.STANDARD_GRAVITY_M_S2


@pytest.mark.parametrize(("ball_kg", "drop_mm", "pitch_deg"), TABLE)
def test_hitch_drop_and_pitch_of_the_computed_table(ball_kg: float, drop_mm: float, pitch_deg: float) -> None:
    load = ball_kg * 9.80665
    compliance = statics.hitch_compliance_mm_per_n(OVERHANG_RATIO, FRONT_N_MM, REAR_N_MM)
    pitch = statics.vehicle_pitch_rad(load, OVERHANG_RATIO, WHEELBASE_MM, FRONT_N_MM, REAR_N_MM)
    assert compliance * load == pytest.approx(drop_mm, abs=0.05)  # half of the last printed digit
    assert math.degrees(pitch) == pytest.approx(pitch_deg, abs=0.005)


def test_weighbridge_example() -> None:
    # a magazine's weighbridge figures (read): 270 kg on the ball, rear axle 1233 -> 1650 kg, so 147 kg leave
    # the front; b/L = 0.5444 follows
    rear, front = statics.axle_load_changes_n(270.0, 147.0 / 270.0)
    assert pytest.approx(0.5444, abs=5e-5) == 147.0 / 270.0
    assert rear == pytest.approx(1650.0 - 1233.0, abs=0.5)
    assert front == pytest.approx(-147.0, abs=0.5)


@pytest.mark.parametrize(("drawbar_mm", "pitch_deg"), [(3500.0, 0.82), (5000.0, 0.57)])
def test_trailer_pitch_of_50_mm(drawbar_mm: float, pitch_deg: float) -> None:
    # atan(50 mm / D) (computed)
    assert math.degrees(statics.trailer_pitch_rad(50.0, drawbar_mm)) == pytest.approx(pitch_deg, abs=0.005)


def test_load_difference_of_two_axles_without_load_sharing() -> None:
    # 100 kN/m per axle, 0.9 m apart, 1 degree: about 160 kg (computed)
    difference = statics.group_load_difference_n(100.0, 900.0, math.radians(1.0))
    assert statics.kg_from_n(difference) == pytest.approx(160.0, abs=0.5)


@given(loads, ratios, wheelbases, st.floats(-5000.0, 5000.0))
def test_moments_balance_about_any_point(load: float, ratio: float, wheelbase: float, about: float) -> None:
    # Newton: forces and moments on a body at rest add up to zero, about every point
    rear, front = statics.axle_load_changes_n(load, ratio)
    forces = np.array([-load, rear, front])
    places = np.array([-ratio * wheelbase, 0.0, wheelbase])  # forward of the rear axle
    assert abs(forces.sum()) < 1e-9 * load
    assert abs(np.sum(forces * (places - about))) < 1e-9 * load * (wheelbase + abs(about))


@given(loads, ratios, wheelbases, rates, rates)
def test_drop_and_pitch_are_those_of_a_rigid_bar_on_two_springs(
    load: float, ratio: float, wheelbase: float, front: float, rear: float
) -> None:
    # stiffness matrix of a rigid bar on two springs (any finite element text), solved for heave and turn
    stiffness = np.array([[rear + front, -front * wheelbase], [-front * wheelbase, front * wheelbase**2]])
    down, nose_up = np.linalg.solve(stiffness, [load, load * ratio * wheelbase])
    drop = down + nose_up * ratio * wheelbase
    assert statics.hitch_compliance_mm_per_n(ratio, front, rear) * load == pytest.approx(drop, rel=1e-9)
    pitch = statics.vehicle_pitch_rad(load, ratio, wheelbase, front, rear)
    assert pitch == pytest.approx(nose_up, rel=1e-9)


@given(loads, rates)
def test_ball_over_the_rear_axle_leaves_the_front_alone(load: float, rear: float) -> None:
    assert statics.axle_load_changes_n(load, 0.0) == (load, 0.0)
    assert statics.hitch_compliance_mm_per_n(0.0, 55.0, rear) == pytest.approx(1.0 / rear)


@given(loads, ratios)
def test_rigid_springs_do_not_move(load: float, ratio: float) -> None:
    assert statics.hitch_compliance_mm_per_n(ratio, math.inf, math.inf) == 0.0
    assert statics.vehicle_pitch_rad(load, ratio, 3000.0, math.inf, math.inf) == 0.0


@given(ratios, rates, st.floats(0.3, 3.0))
def test_rate_from_a_stand_test_gives_the_test_back(ratio: float, rear: float, share: float) -> None:
    compliance = statics.hitch_compliance_mm_per_n(ratio, share * rear, rear)
    assert statics.rear_rate_from_compliance_n_mm(compliance, ratio, share) == pytest.approx(rear, rel=1e-12)


@given(st.floats(-300.0, 300.0), st.floats(800.0, 12000.0))
def test_rise_and_pitch_are_inverse(rise: float, drawbar: float) -> None:
    back = statics.coupling_rise_mm(statics.trailer_pitch_rad(rise, drawbar), drawbar)
    assert back == pytest.approx(rise, abs=1e-9)
