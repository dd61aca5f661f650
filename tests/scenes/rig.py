"""Solids that make a tow bar, the rear of a vehicle, a coupled trailer, and clutter in the yard.

Shapes and sizes are common practice, no source; nothing is taken from a maker's drawing.
"""

from __future__ import annotations

import numpy as np

from .camera import FloatArray
from .surfaces import Ball, Box, Cylinder, Solid, Surface, frame

UP = np.array([0.0, 0.0, 1.0])


def _box(
    centre: FloatArray,
    along: FloatArray,
    size_mm: tuple[float, float, float],
    finish: str,
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> Box:
    """A box of a size along, across and up."""
    length, width, height = size_mm
    half = (0.5 * length, 0.5 * height, 0.5 * width)
    return Box(world_from_box=frame(centre, along, UP), half_mm=half, finish=finish, tint_bgr=tint)


def _upright_cylinder(centre: FloatArray, radius_mm: float, height_mm: float, finish: str) -> Cylinder:
    world = frame(centre, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    return Cylinder(world_from_cylinder=world, radius_mm=radius_mm, half_length_mm=0.5 * height_mm, finish=finish)


def _lying_cylinder(centre: FloatArray, axis: FloatArray, radius_mm: float, length_mm: float, finish: str) -> Cylinder:
    across = np.cross(UP, axis)
    world = frame(centre, across, np.cross(axis, across))  # z = across x (axis x across) = axis
    return Cylinder(world_from_cylinder=world, radius_mm=radius_mm, half_length_mm=0.5 * length_mm, finish=finish)


def tow_bar(
    centre_mm: FloatArray, toward: FloatArray, *, diameter_mm: float, finish: str, bar_finish: str = "steel"
) -> tuple[Solid, ...]:
    """Ball, neck, flange, nut, tongue and receiver; toward is the horizontal unit vector to the vehicle."""

    def at(along_mm: float, down_mm: float) -> FloatArray:
        return np.asarray(centre_mm + along_mm * toward - down_mm * UP)

    return (
        Ball(centre_mm=centre_mm, diameter_mm=diameter_mm, finish=finish),
        _upright_cylinder(at(0, 38), 14.0, 50.0, finish),
        _upright_cylinder(at(0, 66), 29.0, 8.0, finish),
        _upright_cylinder(at(0, 102), 20.0, 26.0, bar_finish),
        _box(at(95, 80), toward, (260.0, 63.0, 18.0), bar_finish),
        _box(at(330, 80), toward, (260.0, 65.0, 65.0), bar_finish),
    )


def vehicle(
    centre_mm: FloatArray,
    toward: FloatArray,
    rng: np.random.Generator,
    *,
    ground_z_mm: float,
    clearance_mm: float,
) -> tuple[Surface, ...]:
    """The rear of a utility vehicle: bumper, body, lamps, plate, wheels; clearance from the ball to the bumper."""
    tint = (rng.uniform(0.35, 1.25), rng.uniform(0.35, 1.25), rng.uniform(0.35, 1.25))
    across = np.cross(UP, toward)
    foot = np.array([centre_mm[0], centre_mm[1], ground_z_mm])
    bumper_z = float(centre_mm[2] - ground_z_mm) + rng.uniform(10.0, 80.0)
    wheel = rng.uniform(330.0, 380.0)

    def at(along_mm: float, across_mm: float, z_mm: float) -> FloatArray:
        return np.asarray(foot + along_mm * toward + across_mm * across + z_mm * UP)

    face = clearance_mm
    parts: list[Surface] = [
        _box(
            at(face + 60, 0, bumper_z + 90),
            toward,
            (120.0, 1660.0, 180.0),
            str(rng.choice(["black", "chrome", "painted"])),
        ),
        _box(at(face + 900, 0, bumper_z + 640), toward, (1640.0, 1720.0, 1000.0), "body", tint),
        _box(at(face + 900, 0, bumper_z + 60), toward, (1500.0, 1100.0, 160.0), "rubber"),
    ]
    for side in (-1, 1):
        lamp = at(face + 75, side * 720, bumper_z + 420)
        parts.append(_box(lamp, toward, (30.0, 130.0, 380.0), "body", (0.15, 0.15, 1.1)))
        parts.append(_lying_cylinder(at(face + 620, side * 740, wheel), across, wheel, 220.0, "rubber"))
        parts.append(_lying_cylinder(at(face + 620, side * 840, wheel), across, 0.6 * wheel, 40.0, "steel"))
    plate = at(face - 3, 420.0, bumper_z + 90)
    parts.append(_box(plate, toward, (6.0, 370.0, 110.0), "matt", (0.75, 0.75, 0.75)))
    return tuple(parts)


HEAD_HALF_WIDTH_MM = 46.0


def coupled_head(
    centre_mm: FloatArray, toward: FloatArray, rng: np.random.Generator, *, ground_z_mm: float
) -> tuple[Surface, ...]:
    """A coupling head over the ball, with lever, drawbar, jockey wheel and the trailer's front."""
    finish = str(rng.choice(["painted", "black", "rusty", "steel"]))
    across = np.cross(UP, toward)

    def at(along_mm: float, down_mm: float, across_mm: float = 0.0) -> FloatArray:
        return np.asarray(centre_mm - along_mm * toward - down_mm * UP + across_mm * across)

    length = rng.uniform(1500.0, 2400.0)
    reach = float(centre_mm[2] - ground_z_mm)
    return (
        Ball(centre_mm=at(0, -4), diameter_mm=84.0, finish=finish, exact=False),
        _lying_cylinder(at(70, -4), toward, 40.0, 140.0, finish),
        _box(at(20, 8), toward, (110.0, 2 * HEAD_HALF_WIDTH_MM, 84.0), finish),
        _box(at(150, -2), toward, (120.0, 74.0, 70.0), finish),
        _box(at(60, -62), toward, (150.0, 34.0, 22.0), "black"),
        _box(at(200 + 0.5 * length, 6), toward, (length, 66.0, 80.0), finish),
        _upright_cylinder(at(720, 0.5 * reach - 180.0, 70.0), 24.0, reach + 240.0, "steel"),
        _lying_cylinder(at(720, reach - 110.0, 70.0), across, 105.0, 60.0, "rubber"),
        _box(at(200 + length + 600, -260), toward, (1200.0, 1700.0, 620.0), "body", (0.8, 0.8, 0.8)),
        _lying_cylinder(at(200 + length + 900, reach - 320, -800), across, 320.0, 200.0, "rubber"),
    )


def clutter(rng: np.random.Generator, *, near_y_mm: float, far_y_mm: float) -> tuple[Surface, ...]:
    """Crates, drums and posts between the rig and the wall."""
    parts: list[Surface] = []
    for _ in range(int(rng.integers(2, 7))):
        x, y = rng.uniform(-3200.0, 3200.0), rng.uniform(near_y_mm, far_y_mm)
        kind = rng.integers(3)
        if kind == 0:
            size = rng.uniform(250.0, 900.0, size=3)
            turn = rng.uniform(-0.7, 0.7)
            along = np.array([np.cos(turn), np.sin(turn), 0.0])
            tint = (0.7, 0.9, 1.1)
            parts.append(_box(np.array([x, y, 0.5 * size[2]]), along, (size[0], size[1], size[2]), "timber", tint))
        elif kind == 1:
            parts.append(
                _upright_cylinder(np.array([x, y, 440.0]), 290.0, 880.0, str(rng.choice(["rusty", "painted"])))
            )
        else:
            height = rng.uniform(900.0, 2200.0)
            parts.append(_upright_cylinder(np.array([x, y, 0.5 * height]), rng.uniform(30, 80), height, "steel"))
    return tuple(parts)


def backing(width_mm: float, height_mm: float, gap_mm: float) -> Box:
    """The carton or block that the upright sheet is stuck to, right behind it."""
    centre = np.array([0.0, gap_mm + 45.0, 0.5 * height_mm])
    return _box(centre, np.array([0.0, 1.0, 0.0]), (90.0, width_mm, height_mm), "timber", (0.75, 0.9, 1.05))
