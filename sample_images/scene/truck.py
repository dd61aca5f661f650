"""An invented utility truck seen from behind. Rig frame as in towbar.py."""

from __future__ import annotations

import numpy as np

from scene.body import AXLE_AHEAD_MM, TRACK_MM, arched, plate_and_lamp, side_panel, sticker, underbody
from scene.mesh import Array, box, shift, turn
from scene.shapes import extruded, rounded_outline, tube
from scene.stage import Stage
from scene.wheel import add_wheel


def add_truck(
    stage: Stage, world_from_rig: Array, *, back_mm: float, lift_mm: float, wheel_mm: float = 365.0
) -> None:
    """A utility truck; `back_mm` is the bumper's rear face ahead of the ball, `lift_mm` raises the body."""
    b, u = back_mm, lift_mm
    axle = b + AXLE_AHEAD_MM["truck"]
    underbody(stage, world_from_rig, b, u, axle, wheel_mm)
    for x in (axle, axle + 3100):
        for side in (-1, 1):
            add_wheel(stage, world_from_rig, x_mm=x, y_mm=side * TRACK_MM, radius_mm=wheel_mm)
    step_bumper = [
        box((b, -430, 520 + u), (b + 150, 430, 655 + u), radius_mm=22),
        box((b + 20, -260, 500 + u), (b + 120, 260, 530 + u), radius_mm=10),
    ]
    stage.add(
        "plastic",
        *step_bumper,
        box((b + 6, -420, 655 + u), (b + 140, 420, 667 + u), radius_mm=4),
        world_from=world_from_rig,
    )
    ends = [
        box((b + 5, side * 440, 530 + u), (b + 260, side * 896, 680 + u), radius_mm=38, steps=5)
        for side in (-1, 1)
    ]
    stage.add("bright", *ends, world_from=world_from_rig)
    gate = [
        box((b + 95, -705, 690 + u), (b + 140, 705, 1190 + u), radius_mm=16, steps=4),
        box((b + 88, -600, 800 + u), (b + 110, 600, 1020 + u), radius_mm=9, steps=3),
        box((b + 90, -640, 1150 + u), (b + 160, 640, 1205 + u), radius_mm=14),
    ]
    stage.add("paint", *gate, world_from=world_from_rig)
    stage.add(
        "plastic",
        box((b + 86, -110, 1060 + u), (b + 100, 110, 1125 + u), radius_mm=6),
        box((b + 80, -75, 1072 + u), (b + 92, 75, 1092 + u), radius_mm=5),
        world_from=world_from_rig,
    )
    for side in (-1, 1):
        outline, radii = arched(b + 100, b + 1760, 560 + u, 1200 + u, axle, wheel_mm + 75, wheel_mm + u * 0.5)
        stage.add(
            "paint", side_panel(outline, radii, 790 if side > 0 else -885, 95), world_from=world_from_rig
        )
        stage.add(
            "chassis",
            box((b + 150, side * 690, 640 + u), (b + 1740, side * 800, 1190 + u), radius_mm=10),
            world_from=world_from_rig,
        )
        lamp = (b + 78, side * 722, side * 872)
        for material, low, high in (
            ("red-lamp", 960, 1120),
            ("amber-lamp", 885, 958),
            ("clear-lamp", 830, 883),
            ("red-lamp", 760, 828),
        ):
            stage.add(
                material,
                box((lamp[0], lamp[1], low + u), (b + 130, lamp[2], high + u), radius_mm=9),
                world_from=world_from_rig,
            )
        stage.add(
            "plastic",
            box((b + 90, side * 712, 745 + u), (b + 140, side * 880, 1135 + u), radius_mm=8),
            world_from=world_from_rig,
        )
        flare = [
            (axle + (wheel_mm + 92) * np.cos(a), side * 872, wheel_mm + u * 0.5 + (wheel_mm + 75) * np.sin(a))
            for a in np.linspace(0.35, np.pi - 0.35, 24)
        ]
        stage.add("plastic", tube(flare, 30), world_from=world_from_rig)
    plate_and_lamp(stage, world_from_rig, b + 88, 0, 745 + u)
    sticker(stage, world_from_rig, b + 94.5, -560, 1085 + u)
    _cab(stage, world_from_rig, b + 1800, u)


def _cab(stage: Stage, world_from_rig: Array, x_mm: float, lift_mm: float) -> None:
    u = lift_mm
    outline = rounded_outline(
        [
            (x_mm, 560 + u),
            (x_mm + 2300, 560 + u),
            (x_mm + 2300, 1150 + u),
            (x_mm + 1900, 1200 + u),
            (x_mm + 1300, 1780 + u),
            (x_mm + 120, 1790 + u),
            (x_mm, 1250 + u),
        ],
        [10, 60, 90, 120, 140, 90, 80],
    )
    cab = extruded(outline, 2 * 840, bevel_mm=50).moved(turn("x", 90)).moved(shift(0, 840, 0))
    stage.add("paint", cab, world_from=world_from_rig)
    tilt = shift(x_mm + 62, 0, 1520 + u) @ turn("y", 12.5)
    stage.add(
        "glass", box((-16, -620, -190), (4, 620, 190), radius_mm=9).moved(tilt), world_from=world_from_rig
    )
    rack = [
        tube(
            [
                (x_mm - 60, -720, 1200 + u),
                (x_mm - 60, -700, 1860 + u),
                (x_mm - 60, 700, 1860 + u),
                (x_mm - 60, 720, 1200 + u),
            ],
            24,
            bend_mm=90,
        )
    ]
    rack += [tube([(x_mm - 60, y, 1215 + u), (x_mm - 60, y, 1850 + u)], 13) for y in (-330, 0, 330)]
    stage.add("chassis", *rack, world_from=world_from_rig)
