"""Where vehicle and trailer come to rest when coupled: ball load, coupling height and pitch solved together.

The vehicle is a linear spring at the ball: h = h_free - c S. The trailer is a rigid body on its axles, in
body axes with the origin at the middle of the axle group, u forward along the frame and v up from the wheel
centres: coupling at (D, v_c), centre of gravity at (d, v_g), axle i at (u_i, 0). Nose-up by theta, the
horizontal levers about the group are

    x_C = D cos - v_c sin        x_G = d cos - v_g sin

and, with vertical reactions only (level ground, brakes off), moments and forces balance when

    S x_C = W x_G + Q sin cos,   Q = k sum(u_i^2) where axles do not share load, else 0
    z = (S_level - S)/K          how far the group goes down as the ball takes less
    h = h_axle - z + D sin + v_c cos

d follows from the ball load when level: d = S_level D / W. The one unknown left is theta (Newton,
vectorised).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.statics import coupling_rise_mm, trailer_pitch_rad

Array = NDArray[np.float64]

_PITCH_TOLERANCE_RAD = 1e-12
_MOST_STEPS = 50


class NoEquilibriumError(ArithmeticError):
    """The springs are too soft for the trailer's top-heaviness: it would tip until something else stops
    it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBallLoad:
    """A trailer whose ball load is taken as the same at every pitch; only its geometry moves."""

    level_height_mm: Array  # (N,)
    drawbar_mm: Array  # (N,)
    level_ball_load_n: Array  # (N,)

    def at_height(self, height_mm: Array) -> tuple[Array, Array]:
        """Return (pitch_rad, ball_load_n), each (N,), with the coupling held at a height."""
        pitch_rad = np.asarray(trailer_pitch_rad(height_mm - self.level_height_mm, self.drawbar_mm))
        return pitch_rad, self.level_ball_load_n + 0.0 * pitch_rad

    def at_pitch(self, pitch_rad: Array) -> tuple[Array, Array]:
        """Return (height_mm, ball_load_n), each (N,), at a nose-up pitch."""
        height_mm = self.level_height_mm + coupling_rise_mm(pitch_rad, self.drawbar_mm)
        return np.asarray(height_mm), self.level_ball_load_n + 0.0 * height_mm

    def on_vehicle(self, free_height_mm: Array, compliance_mm_per_n: Array) -> Coupled:
        """Return the rest position on a ball whose unloaded height and compliance are given."""
        height_mm = free_height_mm - compliance_mm_per_n * self.level_ball_load_n
        pitch_rad, ball_load_n = self.at_height(height_mm)
        return Coupled(height_mm=height_mm, ball_load_n=ball_load_n, pitch_rad=pitch_rad)


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingBallLoad:
    """A trailer whose ball load follows its pitch, from its centre of gravity and its axles' rates."""

    level_height_mm: Array  # (N,) coupling centre above ground when level
    drawbar_mm: Array  # (N,) D
    level_ball_load_n: Array  # (N,)
    weight_n: Array  # (N,) W
    gravity_height_mm: Array  # (N,) centre of gravity above ground when level
    axle_height_mm: Array  # (N,) wheel centres above ground
    group_compliance_mm_per_n: Array  # (N,) 1/K of the whole group; 0 is rigid
    pitch_stiffness_n_mm: Array  # (N,) Q = k sum(u_i^2), in N mm per radian; 0 where load is shared

    def at_pitch(self, pitch_rad: Array) -> tuple[Array, Array]:
        """Return (height_mm, ball_load_n), each (N,), at a nose-up pitch."""
        load_n, _ = self._load_and_slope(pitch_rad)
        v_c = self.level_height_mm - self.axle_height_mm
        sunk_mm = (self.level_ball_load_n - load_n) * self.group_compliance_mm_per_n
        rise_mm = self.drawbar_mm * np.sin(pitch_rad) + v_c * np.cos(pitch_rad)
        return self.axle_height_mm - sunk_mm + rise_mm, load_n

    def at_height(self, height_mm: Array) -> tuple[Array, Array]:
        """Return (pitch_rad, ball_load_n), each (N,), with the coupling held at a height."""
        rest = self.on_vehicle(height_mm, np.zeros_like(self.drawbar_mm))
        return rest.pitch_rad, rest.ball_load_n

    def on_vehicle(self, free_height_mm: Array, compliance_mm_per_n: Array) -> Coupled:
        """Return the rest position on a ball whose unloaded height and compliance are given.

        Raises NoEquilibriumError where the slope of the balance is not positive (no stable position).
        """
        pitch_rad = (free_height_mm - self.level_height_mm) / self.drawbar_mm
        for _ in range(_MOST_STEPS):
            height_mm, load_n = self.at_pitch(pitch_rad)
            _, slope_n = self._load_and_slope(pitch_rad)
            gap_mm = height_mm + compliance_mm_per_n * load_n - free_height_mm
            stiffness = self._lever_mm(pitch_rad) + (self.group_compliance_mm_per_n + compliance_mm_per_n) * slope_n
            if not bool(np.all(stiffness > 0.0)):
                raise NoEquilibriumError(said("no stable rest position: too soft for so high a centre of gravity"))
            step_rad = gap_mm / stiffness
            pitch_rad = pitch_rad - step_rad
            if bool(np.all(np.abs(step_rad) < _PITCH_TOLERANCE_RAD)):
                break
        else:
            raise NoEquilibriumError(said("the balance of vehicle and trailer did not settle"))
        height_mm, load_n = self.at_pitch(pitch_rad)
        return Coupled(height_mm=height_mm, ball_load_n=load_n, pitch_rad=pitch_rad)

    def _lever_mm(self, pitch_rad: Array) -> Array:
        v_c = self.level_height_mm - self.axle_height_mm
        return np.asarray(self.drawbar_mm * np.cos(pitch_rad) - v_c * np.sin(pitch_rad))

    def _load_and_slope(self, pitch_rad: Array) -> tuple[Array, Array]:
        """Return the ball load S(theta) from moments about the group, and dS/dtheta."""
        sin, cos = np.sin(pitch_rad), np.cos(pitch_rad)
        v_c = self.level_height_mm - self.axle_height_mm
        v_g = self.gravity_height_mm - self.axle_height_mm
        moment_g = self.level_ball_load_n * self.drawbar_mm  # W d
        lever = self._lever_mm(pitch_rad)
        moment = moment_g * cos - self.weight_n * v_g * sin + self.pitch_stiffness_n_mm * sin * cos
        load_n = moment / lever
        moment_slope = -moment_g * sin - self.weight_n * v_g * cos + self.pitch_stiffness_n_mm * np.cos(2 * pitch_rad)
        lever_slope = -self.drawbar_mm * sin - v_c * cos
        return load_n, (moment_slope - load_n * lever_slope) / lever


Trailer = HeldBallLoad | MovingBallLoad


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupled:
    """The rest position: every field (N,)."""

    height_mm: Array
    ball_load_n: Array
    pitch_rad: Array  # nose-up positive


def free_height_from_coupled_mm(trailer: Trailer, coupled_height_mm: Array, compliance_mm_per_n: Array) -> Array:
    """Return the height the ball would have without the trailer that holds it at a measured coupled
    height."""
    _, load_n = trailer.at_height(coupled_height_mm)
    return coupled_height_mm + compliance_mm_per_n * load_n


def axle_offsets_mm(axles: int, spacing_mm: Array) -> Array:
    """Return where the axles of an evenly spaced group sit, forward of its middle: (axles, N)."""
    places = (axles - 1) / 2.0 - np.arange(axles, dtype=np.float64)  # (axles,)
    return np.asarray(places[:, None] * np.atleast_1d(spacing_mm)[None, :])
