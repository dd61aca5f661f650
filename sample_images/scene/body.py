"""What truck and van share: sizes, pressed sides, underbody, plate and sticker. Rig frame as in towbar.py."""

from __future__ import annotations

import numpy as np

from scene.mesh import Array, Mesh, box, rectangle, shift, turn
from scene.shapes import cylinder, extruded, lathe, rounded_outline, tube
from scene.stage import Stage

HALF_WIDTH_MM = 890.0
TRACK_MM = 765.0
AXLE_AHEAD_MM = {"truck": 1010.0, "van": 920.0}  # of the bumper's rear face
WHEEL_MM = {"truck": 365.0, "van": 335.0}


def side_panel(outline: list[tuple[float, float]], radii: list[float], y_mm: float, thick_mm: float) -> Mesh:
    """A plate standing lengthwise: outline in (x forward, z up), from y to y + thickness."""
    plate = extruded(rounded_outline(outline, radii, steps=8), thick_mm, bevel_mm=5)
    return plate.moved(turn("x", 90)).moved(shift(0, y_mm + thick_mm, 0))


def arched(
    x0: float, x1: float, z0: float, z1: float, wheel_x: float, arch: float, axle_z: float
) -> tuple[list[tuple[float, float]], list[float]]:
    """A side's outline with a wheel arch cut out of its lower edge."""
    reach = float(np.sqrt(arch**2 - (z0 - axle_z) ** 2))
    start = np.arctan2(z0 - axle_z, -reach)
    arc = [
        (wheel_x + arch * np.cos(a), axle_z + arch * np.sin(a)) for a in np.linspace(start, np.pi - start, 25)
    ]
    outline = [(x0, z0), *arc, (x1, z0), (x1, z1), (x0, z1)]
    return outline, [25.0, *([0.0] * len(arc)), 10.0, 30.0, 40.0]


def underbody(
    stage: Stage, world_from_rig: Array, back_mm: float, lift_mm: float, axle_x_mm: float, wheel_mm: float
) -> None:
    z = 470 + lift_mm
    parts = [box((back_mm + 60, side * 430, z), (5200, side * 520, z + 130), radius_mm=8) for side in (-1, 1)]
    parts += [
        box((x, -440, z + 20), (x + 70, 440, z + 110), radius_mm=8) for x in (back_mm + 240, 1750.0, 2600.0)
    ]
    parts.append(cylinder((axle_x_mm, -700, wheel_mm), (axle_x_mm, 700, wheel_mm), 48))
    parts.append(
        lathe(
            [(0, -150), (70, -135), (125, -60), (135, 0), (125, 60), (70, 135), (0, 150)],
            segments=40,
            crease_deg=60,
        ).moved(shift(axle_x_mm, -60, wheel_mm) @ turn("y", 90))
    )
    for side in (-1, 1):
        t = np.linspace(-1, 1, 15)
        for leaf in range(3):
            path = np.stack(
                [
                    axle_x_mm + t * (640 - 150 * leaf),
                    np.full(15, side * 560.0),
                    wheel_mm + 62 - 13 * leaf + 90 * t**2,
                ],
                axis=1,
            )
            parts.append(tube(path, 8).stretched((1, 1, 1)))
        parts.append(
            cylinder((axle_x_mm - 60, side * 470, wheel_mm + 10), (axle_x_mm - 200, side * 430, z + 90), 30)
        )
    parts.append(
        lathe(
            [(0, -95), (210, -95), (290, -80), (300, -40), (300, 40), (270, 95), (0, 95)], segments=48
        ).moved(shift(back_mm + 680, 0, z + 10))
    )
    parts.append(box((back_mm + 900, -420, z - 40), (back_mm + 1650, 420, z + 170), radius_mm=40))
    parts.append(
        box((back_mm + 60, -HALF_WIDTH_MM + 60, z + 140), (5200, HALF_WIDTH_MM - 60, z + 170), radius_mm=5)
    )
    stage.add("chassis", *parts, world_from=world_from_rig)
    exhaust = tube(
        [
            (back_mm + 30, -600, z - 40),
            (back_mm + 330, -600, z - 30),
            (back_mm + 560, -560, z + 20),
            (back_mm + 1500, -500, z + 20),
        ],
        32,
        bend_mm=90,
    )
    stage.add("zinc", exhaust, world_from=world_from_rig)
    flap = [
        box(
            (axle_x_mm - wheel_mm - 70, side * 640, 150),
            (axle_x_mm - wheel_mm - 62, side * 870, 560 + lift_mm),
            radius_mm=3,
        )
        for side in (-1, 1)
    ]
    stage.add("rubber", *flap, world_from=world_from_rig)


def plate_and_lamp(stage: Stage, world_from_rig: Array, x_mm: float, y_mm: float, z_mm: float) -> None:
    stage.add(
        "plate",
        box((x_mm - 5, y_mm - 186, z_mm - 67), (x_mm - 1, y_mm + 186, z_mm + 67), radius_mm=1.9),
        world_from=world_from_rig,
    )
    stage.add(
        "plastic",
        box((x_mm - 3, y_mm - 194, z_mm - 75), (x_mm + 4, y_mm + 194, z_mm + 75), radius_mm=3),
        box((x_mm - 26, y_mm - 80, z_mm + 76), (x_mm + 10, y_mm + 80, z_mm + 98), radius_mm=6),
        world_from=world_from_rig,
    )


def sticker(stage: Stage, world_from_rig: Array, x_mm: float, y_mm: float, z_mm: float) -> None:
    """The yard's sticker on a rear panel; the caller defines the material "fleet"."""
    corner = np.array([x_mm - 0.4, y_mm + 130, z_mm - 45])
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    stage.add(
        "fleet",
        rectangle(corner, np.array([0, -260.0, 0]), np.array([0, 0, 90.0]), uv_mm=uv),
        world_from=world_from_rig,
    )
