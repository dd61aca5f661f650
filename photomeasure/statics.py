"""Static formulas of a tow vehicle and its trailer, each on its own: plain numbers or arrays in, the same
out.

One set of units inside: millimetres, newtons, radians; a rate is N/mm (the same number as kN/m). Angles are
small enough for a linear vehicle; nose-up is positive, a load that is added to an axle is positive.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Value: TypeAlias = float | NDArray[np.float64]

STANDARD_GRAVITY_M_S2 = 9.80665
"""Exact by definition (3rd CGPM, 1901): what turns a mass in kg into a force in N here."""


def axle_load_changes_n(ball_load_n: Value, overhang_ratio: Value) -> tuple[Value, Value]:
    """Return (rear, front) load added to the vehicle's axles by a force down on the ball: S (1 + b/L) and -S
    b/L.

    ball_load_n:     S, force down on the ball.
    overhang_ratio:  b/L, rear axle to ball over wheelbase.
    Moment balance about the other axle (any textbook of statics).
    """
    return ball_load_n * (1.0 + overhang_ratio), -ball_load_n * overhang_ratio


def hitch_compliance_mm_per_n(overhang_ratio: Value, front_rate_n_mm: Value, rear_rate_n_mm: Value) -> Value:
    """Return how far the ball goes down per newton on it: (1 + b/L)^2 / k_r + (b/L)^2 / k_f.

    From z_r = S (1 + b/L)/k_r down, z_f = S (b/L)/k_f up and drop = z_r + b (z_r + z_f)/L.
    A rate is that of the whole axle, springs and tyres in series; infinity is a rigid axle.
    """
    return (1.0 + overhang_ratio) ** 2 / rear_rate_n_mm + overhang_ratio**2 / front_rate_n_mm


def stand_compliance_mm_per_n(drop_mm: Value, mass_kg: Value) -> Value:
    """Return how far the ball goes down per newton on it, by a known mass that stood on the bar at the ball."""
    return drop_mm / n_from_kg(mass_kg)


def vehicle_pitch_rad(
    ball_load_n: Value,
    overhang_ratio: Value,
    wheelbase_mm: Value,
    front_rate_n_mm: Value,
    rear_rate_n_mm: Value,
) -> Value:
    """Return the nose-up pitch that a ball load gives the vehicle: (z_r + z_f)/L."""
    rear_down_mm = ball_load_n * (1.0 + overhang_ratio) / rear_rate_n_mm
    front_up_mm = ball_load_n * overhang_ratio / front_rate_n_mm
    return (rear_down_mm + front_up_mm) / wheelbase_mm


def rear_rate_from_compliance_n_mm(compliance_mm_per_n: Value, overhang_ratio: Value, front_to_rear: Value) -> Value:
    """Return the rear axle's rate k_r that gives a measured compliance of the ball, the front's being rho
    k_r.

    Solves hitch_compliance_mm_per_n for k_r: k_r = ((1 + b/L)^2 + (b/L)^2 / rho) / c.
    """
    return ((1.0 + overhang_ratio) ** 2 + overhang_ratio**2 / front_to_rear) / compliance_mm_per_n


def trailer_pitch_rad(height_difference_mm: Value, drawbar_mm: Value) -> Value:
    """Return the trailer's nose-up pitch, atan(dh/D), for a coupling carried dh above its level height.

    drawbar_mm:  D, coupling centre to the axle, or to the middle of the axle group.
    """
    return np.arctan(np.divide(height_difference_mm, drawbar_mm))


def coupling_rise_mm(pitch_rad: Value, drawbar_mm: Value) -> Value:
    """Return dh = D tan(pitch), the inverse of trailer_pitch_rad."""
    return drawbar_mm * np.tan(pitch_rad)


def group_load_difference_n(axle_rate_n_mm: Value, first_to_last_mm: Value, pitch_rad: Value) -> Value:
    """Return last axle's load less the first's in a group whose axles do not share load: k s theta, nose-up
    positive.

    axle_rate_n_mm:     k, rate of one axle of the group (both its wheels).
    first_to_last_mm:   s, distance between the first and the last axle of the group.
    """
    return axle_rate_n_mm * first_to_last_mm * np.sin(pitch_rad)


def kg_from_n(force_n: Value) -> Value:
    """Return the mass that weighs `force_n` under standard gravity."""
    return force_n / STANDARD_GRAVITY_M_S2


def n_from_kg(mass_kg: Value) -> Value:
    """Return the weight of a mass under standard gravity."""
    return mass_kg * STANDARD_GRAVITY_M_S2
