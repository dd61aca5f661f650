"""Two invented vehicles seen from behind: a utility truck with a tub, and a van. Rig frame as in towbar.py."""

from __future__ import annotations

import numpy as np

from scene.mesh import Array, Mesh, box, joined, shift, turn
from scene.shapes import bolt, cylinder, extruded, lathe, rounded_outline, tube
from scene.stage import Stage

HALF_WIDTH_MM = 890.0


def add_wheel(stage: Stage, world_from_rig: Array, *, x_mm: float, y_mm: float, radius_mm: float = 365.0, width_mm: float = 235.0, rim: str = "rim") -> None:
    """Tyre, rim with holes, hub and nuts; the outer side looks away from y = 0."""
    r, w, rim_r = radius_mm, width_mm / 2, radius_mm * 0.56
    groove = 8.0
    tread: list[tuple[float, float]] = []
    for centre in (-0.5, 0.0, 0.5):
        at = centre * w
        tread += [(r, at - 0.13 * w), (r - groove, at - 0.09 * w), (r - groove, at + 0.09 * w), (r, at + 0.13 * w)]
    side = [(rim_r, 0.72 * w), (rim_r + 12, 0.86 * w), (rim_r + 0.5 * (r - rim_r), w), (r - 26, 0.93 * w), (r - 6, 0.80 * w)]
    profile = [(radius, -z) for radius, z in side] + tread + list(reversed(side))
    tyre = lathe(profile, segments=120, crease_deg=28)
    lugs = _lugs(r, w)
    dish = [(rim_r + 3, 0.80 * w), (rim_r - 6, 0.80 * w), (rim_r - 10, 0.45 * w), (rim_r * 0.86, 0.30 * w), (rim_r * 0.62, 0.42 * w), (rim_r * 0.36, 0.46 * w), (rim_r * 0.34, 0.62 * w), (0, 0.62 * w)]
    inner = [(0.0, -0.2 * w), (rim_r, -0.2 * w), (rim_r, -0.75 * w), (rim_r + 3, -0.80 * w), (rim_r + 3, 0.80 * w)]
    outward = turn("x", -90) if y_mm > 0 else turn("x", 90)
    to_rig = shift(x_mm, y_mm, radius_mm) @ outward @ turn("z", 17.0)
    stage.add("rubber", tyre.moved(to_rig), lugs.moved(to_rig), world_from=world_from_rig)
    stage.add(rim, lathe(dish, segments=72).moved(to_rig), lathe(inner, segments=72).moved(to_rig), world_from=world_from_rig)
    holes, nuts = [], []
    for angle in np.arange(8) * np.pi / 4:
        x, y = 0.72 * rim_r * np.cos(angle), 0.72 * rim_r * np.sin(angle)
        holes.append(cylinder((x, y, 0.2 * w), (x, y, 0.395 * w), 0.10 * rim_r, segments=24))
    for angle in np.arange(6) * np.pi / 3:
        nuts.append(bolt((0.46 * rim_r * np.cos(angle), 0.46 * rim_r * np.sin(angle), 0.44 * w), (0, 0, 1), size_mm=21))
    stage.add("chassis", *[hole.moved(to_rig) for hole in holes], world_from=world_from_rig)
    stage.add("zinc", *[nut.moved(to_rig) for nut in nuts], world_from=world_from_rig)


def _lugs(radius_mm: float, half_mm: float) -> Mesh:
    """Shoulder blocks of the tread."""
    blocks = []
    for number in range(52):
        block = box((radius_mm - 22, -11, 0.62 * half_mm), (radius_mm + 0.5, 11, 0.90 * half_mm), radius_mm=3, steps=1)
        for mirror in (1, -1):
            turned = block.moved(turn("z", number * 360 / 52 + (3.4 if mirror < 0 else 0)))
            blocks.append(turned if mirror > 0 else turned.moved(turn("x", 180)))
    return joined(blocks)


def _side_panel(outline: list[tuple[float, float]], radii: list[float], y_mm: float, thick_mm: float) -> Mesh:
    """A plate standing lengthwise: outline in (x forward, z up), from y to y + thickness."""
    plate = extruded(rounded_outline(outline, radii, steps=8), thick_mm, bevel_mm=5)
    return plate.moved(turn("x", 90)).moved(shift(0, y_mm + thick_mm, 0))


def _arched(x0: float, x1: float, z0: float, z1: float, wheel_x: float, arch: float, axle_z: float) -> tuple[list[tuple[float, float]], list[float]]:
    """A side's outline with a wheel arch cut out of its lower edge."""
    reach = float(np.sqrt(arch**2 - (z0 - axle_z) ** 2))
    start = np.arctan2(z0 - axle_z, -reach)
    arc = [(wheel_x + arch * np.cos(a), axle_z + arch * np.sin(a)) for a in np.linspace(start, np.pi - start, 25)]
    outline = [(x0, z0), *arc, (x1, z0), (x1, z1), (x0, z1)]
    return outline, [25.0, *([0.0] * len(arc)), 10.0, 30.0, 40.0]


def _underbody(stage: Stage, world_from_rig: Array, back_mm: float, lift_mm: float, axle_x_mm: float, wheel_mm: float) -> None:
    z = 470 + lift_mm
    parts = [box((back_mm + 60, side * 430, z), (5200, side * 520, z + 130), radius_mm=8) for side in (-1, 1)]
    parts += [box((x, -440, z + 20), (x + 70, 440, z + 110), radius_mm=8) for x in (back_mm + 240, 1750.0, 2600.0)]
    parts.append(cylinder((axle_x_mm, -700, wheel_mm), (axle_x_mm, 700, wheel_mm), 48))
    parts.append(lathe([(0, -150), (70, -135), (125, -60), (135, 0), (125, 60), (70, 135), (0, 150)], segments=40, crease_deg=60).moved(shift(axle_x_mm, -60, wheel_mm) @ turn("y", 90)))
    for side in (-1, 1):
        t = np.linspace(-1, 1, 15)
        for leaf in range(3):
            path = np.stack([axle_x_mm + t * (640 - 150 * leaf), np.full(15, side * 560.0), wheel_mm + 62 - 13 * leaf + 90 * t**2], axis=1)
            parts.append(tube(path, 8).stretched((1, 1, 1)))
        parts.append(cylinder((axle_x_mm - 60, side * 470, wheel_mm + 10), (axle_x_mm - 200, side * 430, z + 90), 30))
    parts.append(lathe([(0, -95), (210, -95), (290, -80), (300, -40), (300, 40), (270, 95), (0, 95)], segments=48).moved(shift(back_mm + 680, 0, z + 10)))
    parts.append(box((back_mm + 900, -420, z - 40), (back_mm + 1650, 420, z + 170), radius_mm=40))
    parts.append(box((back_mm + 60, -HALF_WIDTH_MM + 60, z + 140), (5200, HALF_WIDTH_MM - 60, z + 170), radius_mm=5))
    stage.add("chassis", *parts, world_from=world_from_rig)
    exhaust = tube([(back_mm + 30, -600, z - 40), (back_mm + 330, -600, z - 30), (back_mm + 560, -560, z + 20), (back_mm + 1500, -500, z + 20)], 32, bend_mm=90)
    stage.add("zinc", exhaust, world_from=world_from_rig)
    flap = [box((axle_x_mm - wheel_mm - 70, side * 640, 150), (axle_x_mm - wheel_mm - 62, side * 870, 560 + lift_mm), radius_mm=3) for side in (-1, 1)]
    stage.add("rubber", *flap, world_from=world_from_rig)


def _plate_and_lamp(stage: Stage, world_from_rig: Array, x_mm: float, y_mm: float, z_mm: float) -> None:
    stage.add("plate", box((x_mm - 5, y_mm - 186, z_mm - 67), (x_mm - 1, y_mm + 186, z_mm + 67), radius_mm=1.9), world_from=world_from_rig)
    stage.add("plastic", box((x_mm - 3, y_mm - 194, z_mm - 75), (x_mm + 4, y_mm + 194, z_mm + 75), radius_mm=3), box((x_mm - 26, y_mm - 80, z_mm + 76), (x_mm + 10, y_mm + 80, z_mm + 98), radius_mm=6), world_from=world_from_rig)


def add_truck(stage: Stage, world_from_rig: Array, *, back_mm: float, lift_mm: float, wheel_mm: float = 365.0) -> None:
    """A utility truck; `back_mm` is the bumper's rear face ahead of the ball, `lift_mm` raises the body."""
    b, u = back_mm, lift_mm
    axle = b + 1010
    _underbody(stage, world_from_rig, b, u, axle, wheel_mm)
    for x in (axle, axle + 3100):
        for side in (-1, 1):
            add_wheel(stage, world_from_rig, x_mm=x, y_mm=side * 765, radius_mm=wheel_mm)
    step_bumper = [box((b, -430, 520 + u), (b + 150, 430, 655 + u), radius_mm=22), box((b + 20, -260, 500 + u), (b + 120, 260, 530 + u), radius_mm=10)]
    stage.add("plastic", *step_bumper, box((b + 6, -420, 655 + u), (b + 140, 420, 667 + u), radius_mm=4), world_from=world_from_rig)
    ends = [box((b + 5, side * 440, 530 + u), (b + 260, side * 885, 680 + u), radius_mm=38, steps=5) for side in (-1, 1)]
    stage.add("zinc" if False else "bright", *ends, world_from=world_from_rig)
    gate = [box((b + 95, -705, 690 + u), (b + 140, 705, 1190 + u), radius_mm=16, steps=4), box((b + 88, -600, 800 + u), (b + 110, 600, 1020 + u), radius_mm=9, steps=3), box((b + 90, -640, 1150 + u), (b + 160, 640, 1205 + u), radius_mm=14)]
    stage.add("paint", *gate, world_from=world_from_rig)
    stage.add("plastic", box((b + 86, -110, 1060 + u), (b + 100, 110, 1125 + u), radius_mm=6), box((b + 80, -75, 1072 + u), (b + 92, 75, 1092 + u), radius_mm=5), world_from=world_from_rig)
    for side in (-1, 1):
        outline, radii = _arched(b + 100, b + 1760, 560 + u, 1200 + u, axle, wheel_mm + 75, wheel_mm + u * 0.5)
        stage.add("paint", _side_panel(outline, radii, 790 if side > 0 else -885, 95), world_from=world_from_rig)
        stage.add("chassis", box((b + 150, side * 690, 640 + u), (b + 1740, side * 800, 1190 + u), radius_mm=10), world_from=world_from_rig)
        lamp = (b + 78, side * 722, side * 872)
        for material, low, high in (("red-lamp", 960, 1120), ("amber-lamp", 885, 958), ("clear-lamp", 830, 883), ("red-lamp", 760, 828)):
            stage.add(material, box((lamp[0], lamp[1], low + u), (b + 130, lamp[2], high + u), radius_mm=9), world_from=world_from_rig)
        stage.add("plastic", box((b + 90, side * 712, 745 + u), (b + 140, side * 880, 1135 + u), radius_mm=8), world_from=world_from_rig)
        flare = [(axle + (wheel_mm + 92) * np.cos(a), side * 872, wheel_mm + u * 0.5 + (wheel_mm + 75) * np.sin(a)) for a in np.linspace(0.35, np.pi - 0.35, 24)]
        stage.add("plastic", tube(flare, 30), world_from=world_from_rig)
    _plate_and_lamp(stage, world_from_rig, b + 94 - 6, 0, 735 + u + 10)
    _cab(stage, world_from_rig, b + 1800, u)


def _cab(stage: Stage, world_from_rig: Array, x_mm: float, lift_mm: float) -> None:
    u = lift_mm
    outline = rounded_outline([(x_mm, 560 + u), (x_mm + 2300, 560 + u), (x_mm + 2300, 1150 + u), (x_mm + 1900, 1200 + u), (x_mm + 1300, 1780 + u), (x_mm + 120, 1790 + u), (x_mm, 1250 + u)], [10, 60, 90, 120, 140, 90, 80])
    cab = extruded(outline, 2 * 840, bevel_mm=50).moved(turn("x", 90)).moved(shift(0, 840, 0))
    stage.add("paint", cab, world_from=world_from_rig)
    tilt = shift(x_mm + 62, 0, 1520 + u) @ turn("y", 12.5)
    stage.add("glass", box((-16, -620, -190), (4, 620, 190), radius_mm=9).moved(tilt), world_from=world_from_rig)
    rack = [tube([(x_mm - 60, -720, 1200 + u), (x_mm - 60, -700, 1860 + u), (x_mm - 60, 700, 1860 + u), (x_mm - 60, 720, 1200 + u)], 24, bend_mm=90)]
    rack += [tube([(x_mm - 60, y, 1215 + u), (x_mm - 60, y, 1850 + u)], 13) for y in (-330, 0, 330)]
    stage.add("chassis", *rack, world_from=world_from_rig)


def add_van(stage: Stage, world_from_rig: Array, *, back_mm: float, lift_mm: float, wheel_mm: float = 335.0) -> None:
    """A panel van with two rear doors; `back_mm` is the bumper's rear face ahead of the ball."""
    b, u = back_mm, lift_mm
    axle = b + 920
    _underbody(stage, world_from_rig, b, u - 60, axle, wheel_mm)
    for x in (axle, axle + 3200):
        for side in (-1, 1):
            add_wheel(stage, world_from_rig, x_mm=x, y_mm=side * 790, radius_mm=wheel_mm, width_mm=215)
    stage.add("plastic", box((b, -930, 430 + u), (b + 200, 930, 640 + u), radius_mm=45, steps=6), box((b + 30, -900, 400 + u), (b + 180, 900, 450 + u), radius_mm=16), box((b - 3, -520, 560 + u), (b + 40, 520, 575 + u), radius_mm=5), world_from=world_from_rig)
    for side in (-1, 1):
        door = box((b + 40, side * 5, 630 + u), (b + 110, side * 770, 2150 + u), radius_mm=18, steps=4)
        press = box((b + 34, side * 70, 760 + u), (b + 60, side * 690, 1080 + u), radius_mm=11, steps=3)
        stage.add("paint", door, press, world_from=world_from_rig)
        stage.add("glass", box((b + 35, side * 90, 1250 + u), (b + 48, side * 680, 1850 + u), radius_mm=6), world_from=world_from_rig)
        stage.add("plastic", box((b + 38, side * 72, 1232 + u), (b + 44, side * 698, 1868 + u), radius_mm=2.9), world_from=world_from_rig)
        outline, radii = _arched(b + 60, b + 2600, 470 + u, 2180 + u, axle, wheel_mm + 62, wheel_mm + u * 0.5)
        stage.add("paint", _side_panel(outline, radii, 850 if side > 0 else -945, 95), world_from=world_from_rig)
        stage.add("chassis", box((b + 120, side * 650, 540 + u), (b + 5000, side * 860, 2100 + u), radius_mm=8), world_from=world_from_rig)
        for material, low, high in (("red-lamp", 1060, 1290), ("amber-lamp", 940, 1055), ("clear-lamp", 860, 935), ("red-lamp", 780, 855)):
            stage.add(material, box((b + 30, side * 790, low + u), (b + 120, side * 915, high + u), radius_mm=14), world_from=world_from_rig)
        stage.add("paint", box((b + 46, side * 775, 640 + u), (b + 150, side * 940, 2170 + u), radius_mm=22), world_from=world_from_rig)
        for z in (760, 1150, 1700):
            stage.add("chassis", cylinder((b + 42, side * 778, z - 50 + u), (b + 42, side * 778, z + 50 + u), 11), world_from=world_from_rig)
        strip = box((b + 300, side * 940, 690 + u), (b + 2600, side * 958, 780 + u), radius_mm=8)
        stage.add("plastic", strip, world_from=world_from_rig)
    stage.add("plastic", box((b + 24, -46, 1130 + u), (b + 44, -12, 1200 + u), radius_mm=5), world_from=world_from_rig)
    stage.add("chassis", box((b + 90, -770, 640 + u), (b + 130, 770, 2140 + u), radius_mm=4), world_from=world_from_rig)
    _plate_and_lamp(stage, world_from_rig, b + 34, 380, 920 + u)
    stage.add("paint", box((b + 50, -900, 2150 + u), (b + 5200, 900, 2240 + u), radius_mm=40), world_from=world_from_rig)
