"""What lies about in the yard: pallets, drums, cones, tyres, a painted line, wheel chocks."""

from __future__ import annotations

import numpy as np

from scene.mesh import Array, Mesh, box, joined, shift, turn
from scene.noise import dusty, rusty
from scene.shapes import extruded, lathe, rounded_outline
from scene.stage import Stage, coated, matt


def define_clutter(stage: Stage, rng: np.random.Generator) -> None:
    """Materials that only the yard uses."""
    stage.define("drum-blue", coated(dusty(rng, (0.03, 0.12, 0.33), dust=0.4, tile_mm=900), roughness=0.45))
    stage.define("drum-rust", coated(rusty(rng, (0.28, 0.05, 0.03), rust=0.35, tile_mm=900), roughness=0.6))
    stage.define("safety", coated(dusty(rng, (0.74, 0.50, 0.03), dust=0.35, tile_mm=900), roughness=0.5))
    stage.define("line", matt(dusty(rng, (0.60, 0.45, 0.08), dust=0.8, tile_mm=1500)))


def add_clutter(
    stage: Stage, rng: np.random.Generator, *, distance_mm: float, sides: tuple[int, ...] = (-1, 1)
) -> None:
    """Pallets, drums, cones, a stack of tyres and a painted line, along the wall and out of the rig's way."""
    for side in sides:
        x = side * rng.uniform(3000, 4200)
        y = distance_mm - rng.uniform(1100, 1500)
        stage.add(
            "timber",
            _pallets(int(rng.integers(4, 9))).moved(shift(x, y, 0) @ turn("z", rng.uniform(-12, 12))),
        )
        for number in range(3):
            at = shift(x + side * (1300 + 640 * number), y + rng.uniform(-150, 250), 0) @ turn(
                "z", rng.uniform(0, 360)
            )
            stage.add(("drum-blue", "drum-rust", "drum-blue")[number], _drum().moved(at))
        stage.add("rubber", _tyre_stack(int(rng.integers(3, 6))).moved(shift(x - side * 1350, y + 300, 0)))
    for x, y in ((-1750.0, 1750.0), (2050.0, 2500.0)):
        cone, bands, foot = _cone()
        at = shift(x + rng.uniform(-250, 250), y + rng.uniform(-300, 300), 0) @ turn("z", rng.uniform(0, 90))
        stage.add("orange", cone.moved(at), foot.moved(at))
        stage.add("band", bands.moved(at))
    line = box((-15000, distance_mm - 2300, -1), (15000, distance_mm - 2200, 0.4), radius_mm=0.2, steps=1)
    stage.add("line", line)


def _pallets(count: int) -> Mesh:
    parts = []
    for level in range(count):
        z = level * 144.0
        parts += [
            box((-600, y, z + 118), (600, y + 98, z + 140), radius_mm=2, steps=1)
            for y in np.linspace(-500, 402, 7)
        ]
        parts += [
            box((x, -500, z + 96), (x + 98, 500, z + 118), radius_mm=2, steps=1)
            for x in (-600.0, -49.0, 502.0)
        ]
        parts += [
            box((x, y, z + 22), (x + 98, y + 140, z + 96), radius_mm=2, steps=1)
            for x in (-600.0, -49.0, 502.0)
            for y in (-500.0, -70.0, 360.0)
        ]
        parts += [
            box((-600, y, z), (600, y + 98, z + 22), radius_mm=2, steps=1) for y in (-480.0, -49.0, 382.0)
        ]
    return joined(parts)


def _drum() -> Mesh:
    side = [
        (285, 0),
        (290, 6),
        (286, 14),
        (284, 280),
        (294, 292),
        (284, 304),
        (284, 570),
        (294, 582),
        (284, 594),
        (284, 866),
        (290, 874),
        (284, 880),
    ]
    return lathe([(0.0, 0.0), *[(float(r), float(z)) for r, z in side], (276, 866), (0, 866)], segments=72)


def _tyre_stack(count: int) -> Mesh:
    ring = lathe(
        [
            (190, 10),
            (230, 0),
            (300, 12),
            (335, 40),
            (338, 110),
            (335, 180),
            (300, 208),
            (230, 220),
            (190, 210),
            (190, 10),
        ],
        segments=64,
        crease_deg=50,
    )
    return joined(
        [ring.moved(shift(9 * np.sin(3.1 * n), 9 * np.cos(2.3 * n), 221.0 * n)) for n in range(count)]
    )


def _cone() -> tuple[Mesh, Mesh, Mesh]:
    cone = lathe([(150, 30), (140, 60), (30, 700), (24, 708), (0, 708)], segments=56)
    bands = joined(
        [
            lathe(
                [(140 - 110 * (z - 60) / 640 + 1.2, z), (140 - 110 * (z + h - 60) / 640 + 1.2, z + h)],
                segments=56,
            )
            for z, h in ((240.0, 130.0), (470.0, 110.0))
        ]
    )
    foot = extruded(rounded_outline([(-190, -190), (190, -190), (190, 190), (-190, 190)], 30), 32, bevel_mm=5)
    return cone, bands, foot


def add_chocks(
    stage: Stage, world_from_rig: Array, *, wheel_x_mm: float, wheel_y_mm: float, wheel_mm: float
) -> None:
    """A wedge before and behind a wheel."""
    wedge = (
        extruded(rounded_outline([(0, 0), (230, 0), (70, 165), (0, 175)], [6, 14, 18, 10]), 150, bevel_mm=4)
        .moved(turn("x", 90))
        .moved(shift(0, 75, 0))
    )
    reach = float(np.sqrt(wheel_mm**2 - (wheel_mm - 130) ** 2)) + 30
    behind = wedge.moved(shift(wheel_x_mm - reach, wheel_y_mm, 0) @ turn("z", 180) @ shift(0, 0, 0))
    ahead = wedge.moved(shift(wheel_x_mm + reach, wheel_y_mm, 0))
    stage.add("orange", behind, ahead, world_from=world_from_rig)
