"""Bends demanded of the coupling, against plane geometry worked out by hand for roads that allow it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.rig.articulation import RigLengths, Road, bends_on_road_rad

RIG = RigLengths(wheelbase_mm=3000.0, overhang_mm=1200.0, ball_height_mm=430.0, drawbar_mm=3600.0)
grades = st.floats(-0.25, 0.25)


@given(grades, st.floats(0.0, 50000.0))
@settings(max_examples=30, deadline=None)
def test_one_grade_bends_nothing(grade: float, radius: float) -> None:
    road = Road(grade_in_rad=grade, grade_out_rad=grade, radius_mm=radius)
    assert bends_on_road_rad(RIG, road) == pytest.approx((0.0, 0.0), abs=1e-9)


@given(st.floats(0.02, 0.25))
@settings(max_examples=30, deadline=None)
def test_a_ball_on_the_rear_axle_at_the_ground_bends_by_the_change_of_grade(change: float) -> None:
    # vehicle wholly on one grade and trailer wholly on the other: the angle between the two planes, exactly
    rig = RigLengths(wheelbase_mm=3000.0, overhang_mm=0.0, ball_height_mm=0.0, drawbar_mm=3600.0)
    dip = Road(grade_in_rad=0.0, grade_out_rad=change, radius_mm=0.0)
    crest = Road(grade_in_rad=0.0, grade_out_rad=-change, radius_mm=0.0)
    assert bends_on_road_rad(rig, dip)[1] == pytest.approx(change, abs=1e-6)
    assert bends_on_road_rad(rig, crest)[0] == pytest.approx(change, abs=1e-6)


@given(st.floats(0.02, 0.2), st.floats(200.0, 1800.0))
@settings(max_examples=30, deadline=None)
def test_overhang_adds_to_the_bend_on_a_sharp_edge(change: float, overhang: float) -> None:
    # flat, then up by `change`; rear axle just past the edge, ball at ground height: the ball is b behind
    # the axle on the ramp's line, at (-b cos, -b sin) from the edge; the trailer's axle stands on the flat D
    # away, so the trailer leans nose-down by asin(b sin / D) against the flat and `change` more against the
    # vehicle
    rig = RigLengths(wheelbase_mm=3000.0, overhang_mm=overhang, ball_height_mm=0.0, drawbar_mm=3600.0)
    road = Road(grade_in_rad=0.0, grade_out_rad=change, radius_mm=0.0)
    expected = change + math.asin(overhang * math.sin(change) / 3600.0)
    assert bends_on_road_rad(rig, road)[1] == pytest.approx(expected, abs=1e-6)


def test_on_a_long_round_dip_the_bend_is_that_of_two_chords() -> None:
    # all wheels on one circle of radius R: the bend does not change while driving through. Vehicle: a chord
    # L with its end b further out; trailer: from the coupling to a point on the circle at distance hypot(D,
    # h)
    radius, rig = 60000.0, RIG
    road = Road(grade_in_rad=-0.2, grade_out_rad=0.2, radius_mm=radius)
    deep = math.sqrt(radius**2 - (rig.wheelbase_mm / 2.0) ** 2)  # centre of the circle above the chord
    ball = np.array([rig.wheelbase_mm / 2.0 + rig.overhang_mm, deep - rig.ball_height_mm])  # from the centre, z down
    out = float(np.hypot(*ball))
    slant = math.hypot(rig.drawbar_mm, rig.ball_height_mm)
    # law of cosines in the triangle centre, coupling, trailer's wheel
    at_ball = math.acos((out**2 + slant**2 - radius**2) / (2.0 * out * slant))
    from_upright = math.atan2(ball[0], ball[1])  # the ball's radius against the vehicle's upright, backwards
    # turning from the vehicle's upright: coupling to centre at from_upright + pi, coupling to wheel at_ball
    # less; on flat ground it would be pi/2 less the slant
    flat = math.pi / 2.0 - math.atan2(rig.ball_height_mm, rig.drawbar_mm)
    expected = from_upright + math.pi - at_ball - flat
    assert bends_on_road_rad(rig, road)[1] == pytest.approx(expected, abs=2e-5)


def test_rounding_a_dip_eases_it_and_never_below_nothing() -> None:
    bends = [
        bends_on_road_rad(RIG, Road(grade_in_rad=-0.1, grade_out_rad=0.1, radius_mm=radius))[1]
        for radius in (0.0, 5000.0, 20000.0, 100000.0)
    ]
    assert bends == sorted(bends, reverse=True)
    assert 0.0 < bends[-1] < 0.5 * bends[0]


@given(grades, grades, st.floats(0.0, 40000.0))
@settings(max_examples=30, deadline=None)
def test_a_road_is_continuous_and_keeps_its_grades(grade_in: float, grade_out: float, radius: float) -> None:
    road = Road(grade_in_rad=grade_in, grade_out_rad=grade_out, radius_mm=radius)
    x = np.linspace(-30000.0, 30000.0, 6001)
    slopes = np.diff(road.height_mm(x)) / np.diff(x)
    steepest = max(abs(math.tan(grade_in)), abs(math.tan(grade_out)))
    assert np.max(np.abs(slopes)) <= steepest + 1e-6
    assert slopes[0] == pytest.approx(math.tan(grade_in), abs=1e-6)
    assert slopes[-1] == pytest.approx(math.tan(grade_out), abs=1e-6)
