"""An invented plant trailer from the coupling back. Rig frame as in towbar.py; the trailer lies at negative x."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from scene.mesh import Array, Mesh, box, shift, turn
from scene.shapes import bolt, cylinder, extruded, lathe, rounded_outline, tube
from scene.stage import Stage
from scene.wheel import add_wheel

HEAD_HALF_WIDTH_MM = 39.0


def add_coupling_head(stage: Stage, world_from_rig: Array, height_mm: float) -> None:
    """A pressed head that hides the ball: cheeks with flat sides at +/- HEAD_HALF_WIDTH_MM, nose, latch and handle."""
    outline = rounded_outline(
        [(-330, -38), (-120, -38), (-52, -30), (44, -30), (44, 16), (20, 50), (-60, 60), (-330, 46)],
        [4, 20, 18, 12, 26, 26, 40, 4],
        steps=8,
    )
    cheeks = (
        extruded(outline, 2 * HEAD_HALF_WIDTH_MM, bevel_mm=7)
        .moved(turn("x", 90))
        .moved(shift(0, HEAD_HALF_WIDTH_MM, height_mm))
    )
    crown = lathe(
        [(0, 62), (14, 61), (26, 56), (34, 46), (37, 32), (38, 10)], segments=48, crease_deg=60
    ).moved(shift(6, 0, height_mm))
    stage.add("head", cheeks, crown, world_from=world_from_rig)
    handle = extruded(
        rounded_outline(
            [(-60, 62), (-40, 72), (-150, 128), (-262, 134), (-266, 120), (-160, 112)], [4, 6, 20, 6, 6, 20]
        ),
        34,
        bevel_mm=3,
    )
    stage.add("zinc", handle.moved(turn("x", 90)).moved(shift(0, 17, height_mm)), world_from=world_from_rig)
    pins = [
        bolt((x, side * 46, height_mm + z), (0, side, 0), size_mm=19)
        for side in (-1, 1)
        for x, z in ((-230, 4), (-295, 4))
    ]
    pins += [
        bolt((-150, side * HEAD_HALF_WIDTH_MM, height_mm + 34), (0, side, 0), size_mm=15) for side in (-1, 1)
    ]
    stage.add("zinc", *pins, world_from=world_from_rig)


AXLES_MM = (-3500.0, -4240.0)
HALF_WIDTH_MM, WHEEL_Y_MM, RAIL_BELOW_MM = 860.0, 990.0, 38.0  # the rail's lower edge is so far below the coupling's height


def add_trailer(stage: Stage, world_from_rig: Array, *, height_mm: float, wheel_mm: float = 330.0) -> None:
    """A-frame, jockey wheel, toolbox, headboard, deck and a pair of axles, level at the coupling's height."""
    add_chassis(stage, world_from_rig, height_mm=height_mm)
    add_axles(stage, world_from_rig, AXLES_MM, wheel_mm=wheel_mm)
    for side in (-1, 1):
        guard = [
            (-4240 - 400, 330),
            (-4240 - 330, 640),
            (-4100, 720),
            (-3640, 720),
            (-3500 + 330, 640),
            (-3500 + 400, 330),
        ]
        path = [(x, side * WHEEL_Y_MM, z) for x, z in guard]
        stage.add(
            "trailer-paint",
            *[_guard_plate(a, b) for a, b in pairwise(path)],
            world_from=world_from_rig,
        )


def add_axles(
    stage: Stage, world_from_rig: Array, at_mm: tuple[float, ...], *, wheel_mm: float = 330.0
) -> None:
    """Two wheels on each axle."""
    for x in at_mm:
        for side in (-1, 1):
            add_wheel(
                stage, world_from_rig, x_mm=x, y_mm=side * WHEEL_Y_MM, radius_mm=wheel_mm, width_mm=200, rim="rim"
            )


def add_chassis(stage: Stage, world_from_rig: Array, *, height_mm: float) -> None:
    """All of the trailer but its wheels and their guards."""
    low, high = height_mm - 38, height_mm + 42
    beams = [box((-470, -46, low), (-200, 46, high), radius_mm=6)]
    for side in (-1, 1):
        length = float(np.hypot(1750, 560))
        beam = box((0, -28, low), (length, 28, high), radius_mm=6)
        angle = 180 - side * np.rad2deg(np.arctan2(560, 1750))
        beams.append(beam.moved(shift(-290, side * 18, 0) @ turn("z", float(angle))))
    beams += [
        box((-1010, -300, low + 5), (-950, 300, high - 5), radius_mm=6),
        box((-2060, -860, low), (-1980, 860, high + 10), radius_mm=6),
    ]
    beams += [box((-5600, side * 790, low), (-1980, side * 860, high + 10), radius_mm=6) for side in (-1, 1)]
    beams += [box((x - 60, -800, low + 5), (x, 800, high - 5), radius_mm=6) for x in (-2800, -3600, -4400)]
    stage.add("drawbar", *beams, world_from=world_from_rig)
    _jockey_wheel(stage, world_from_rig, height_mm)
    _box_and_deck(stage, world_from_rig, high)


def _guard_plate(a: tuple[float, float, float], b: tuple[float, float, float]) -> Mesh:
    length = float(np.hypot(b[0] - a[0], b[2] - a[2]))
    plate = box((-6, -120, -3), (length + 6, 120, 3), radius_mm=2.5)
    return plate.moved(shift(*a) @ turn("y", -float(np.rad2deg(np.arctan2(b[2] - a[2], b[0] - a[0])))))


def _jockey_wheel(stage: Stage, world_from_rig: Array, height_mm: float) -> None:
    """Wound up and clamped to the left beam, as it is on the road."""
    x, y, z = -640.0, 205.0, height_mm
    clamp = [
        box((x - 45, y - 70, z - 34), (x + 45, y - 22, z + 34), radius_mm=5),
        cylinder((x, y, z - 40), (x, y, z + 40), 40, bevel_mm=3),
    ]
    handle = [
        cylinder((x, y + 36, z), (x, y + 92, z), 7),
        cylinder((x - 36, y + 92, z + 10), (x + 36, y + 92, z - 10), 6),
    ]
    outer = cylinder((x, y, z - 150), (x, y, z + 330), 30, bevel_mm=3)
    inner = cylinder((x, y, z - 190), (x, y, z - 120), 23)
    crank = tube(
        [(x, y, z + 330), (x, y, z + 352), (x - 105, y, z + 356), (x - 105, y, z + 396)], 7, bend_mm=14
    )
    fork = [
        box((x - 8, y + side * 34, z - 290), (x + 34, y + side * 39, z - 180), radius_mm=2.4)
        for side in (-1, 1)
    ]
    fork.append(box((x - 30, y - 39, z - 192), (x + 34, y + 39, z - 182), radius_mm=4))
    stage.add("zinc", *clamp, *handle, outer, inner, crank, *fork, world_from=world_from_rig)
    stage.add(
        "plastic",
        cylinder((x - 105, y, z + 378), (x - 105, y, z + 470), 13, bevel_mm=5),
        world_from=world_from_rig,
    )
    tyre = lathe(
        [(40, -24), (66, -28), (88, -24), (94, -10), (94, 10), (88, 24), (66, 28), (40, 24)],
        segments=48,
        crease_deg=50,
    )
    hub = lathe(
        [(0, -30), (18, -30), (22, -14), (48, -12), (48, 12), (22, 14), (18, 30), (0, 30)], segments=48
    )
    to_rig = shift(x + 16, y, z - 282) @ turn("x", 90)
    stage.add("rubber", tyre.moved(to_rig), world_from=world_from_rig)
    stage.add("rim", hub.moved(to_rig), world_from=world_from_rig)


def _box_and_deck(stage: Stage, world_from_rig: Array, top_mm: float) -> None:
    tool = box((-1740, -470, top_mm + 8), (-1180, 470, top_mm + 400), radius_mm=10)
    lid = box((-1752, -482, top_mm + 372), (-1168, 482, top_mm + 412), radius_mm=8)
    stage.add("zinc", tool, lid, world_from=world_from_rig)
    latch = [
        box((-1170, y - 30, top_mm + 330), (-1160, y + 30, top_mm + 395), radius_mm=3)
        for y in (-250.0, 250.0)
    ]
    latch += [
        box((-1540, side * 470, top_mm + 325), (-1460, side * 482, top_mm + 392), radius_mm=3)
        for side in (-1, 1)
    ]
    stage.add("bright", *latch, world_from=world_from_rig)
    planks = [
        box((-5600, y, top_mm + 10), (-1985, y + 182, top_mm + 52), radius_mm=4)
        for y in np.arange(-850, 800, 188.0)
    ]
    stage.add("timber", *planks, world_from=world_from_rig)
    posts = [
        box((-2050, y - 30, top_mm), (-1990, y + 30, top_mm + 620), radius_mm=6)
        for y in (-820.0, -280.0, 280.0, 820.0)
    ]
    rails = [
        box((-2045, -850, z), (-1995, 850, z + 90), radius_mm=6)
        for z in (top_mm + 180, top_mm + 380, top_mm + 560)
    ]
    stage.add("trailer-paint", *posts, *rails, world_from=world_from_rig)
    for side in (-1, 1):
        stage.add(
            "red-lamp",
            box((-2600, side * 862, top_mm - 60), (-2500, side * 870, top_mm - 25), radius_mm=3.5),
            world_from=world_from_rig,
        )


def add_cable(
    stage: Stage, world_from_rig: Array, *, height_mm: float, bumper_x_mm: float, receiver_mm: float
) -> None:
    """The lamp cable from the tow bar's socket to the drawbar, with its plug."""
    z = receiver_mm + 8
    stage.add(
        "plastic",
        cylinder((bumper_x_mm - 26, -190, z), (bumper_x_mm - 78, -190, z - 4), 22, bevel_mm=5),
        world_from=world_from_rig,
    )
    path = [
        (bumper_x_mm - 70, -190, z - 4),
        (bumper_x_mm - 150, -190, z - 30),
        (0, -150, height_mm - 170),
        (-200, -110, height_mm - 90),
        (-330, -62, height_mm + 30),
        (-520, -80, height_mm + 46),
        (-900, -200, height_mm + 46),
    ]
    stage.add("hose", tube(path, 7.5, bend_mm=120), world_from=world_from_rig)
