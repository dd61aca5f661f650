"""An invented panel van seen from behind. Rig frame as in towbar.py."""

from __future__ import annotations

from scene.body import AXLE_AHEAD_MM, arched, plate_and_lamp, side_panel, sticker, underbody
from scene.mesh import Array, box
from scene.shapes import cylinder
from scene.stage import Stage
from scene.wheel import add_wheel


def add_van(
    stage: Stage, world_from_rig: Array, *, back_mm: float, lift_mm: float, wheel_mm: float = 335.0
) -> None:
    """A panel van with two rear doors; `back_mm` is the bumper's rear face ahead of the ball."""
    b, u = back_mm, lift_mm
    axle = b + AXLE_AHEAD_MM["van"]
    underbody(stage, world_from_rig, b, u - 60, axle, wheel_mm)
    for x in (axle, axle + 3200):
        for side in (-1, 1):
            add_wheel(stage, world_from_rig, x_mm=x, y_mm=side * 790, radius_mm=wheel_mm, width_mm=215)
    stage.add(
        "plastic",
        box((b, -930, 430 + u), (b + 200, 930, 640 + u), radius_mm=45, steps=6),
        box((b + 30, -900, 400 + u), (b + 180, 900, 450 + u), radius_mm=16),
        box((b - 3, -520, 560 + u), (b + 40, 520, 575 + u), radius_mm=5),
        world_from=world_from_rig,
    )
    for side in (-1, 1):
        door = box((b + 40, side * 5, 630 + u), (b + 110, side * 770, 2150 + u), radius_mm=18, steps=4)
        press = box((b + 34, side * 70, 760 + u), (b + 60, side * 690, 1080 + u), radius_mm=11, steps=3)
        stage.add("paint", door, press, world_from=world_from_rig)
        stage.add(
            "glass",
            box((b + 35, side * 90, 1250 + u), (b + 48, side * 680, 1850 + u), radius_mm=6),
            world_from=world_from_rig,
        )
        stage.add(
            "plastic",
            box((b + 38, side * 72, 1232 + u), (b + 44, side * 698, 1868 + u), radius_mm=2.9),
            world_from=world_from_rig,
        )
        outline, radii = arched(b + 60, b + 2600, 470 + u, 2180 + u, axle, wheel_mm + 62, wheel_mm + u * 0.5)
        stage.add(
            "paint", side_panel(outline, radii, 850 if side > 0 else -945, 95), world_from=world_from_rig
        )
        stage.add(
            "chassis",
            box((b + 120, side * 650, 540 + u), (b + 5000, side * 860, 2100 + u), radius_mm=8),
            world_from=world_from_rig,
        )
        for material, low, high in (
            ("red-lamp", 1060, 1290),
            ("amber-lamp", 940, 1055),
            ("clear-lamp", 860, 935),
            ("red-lamp", 780, 855),
        ):
            stage.add(
                material,
                box((b + 30, side * 790, low + u), (b + 120, side * 915, high + u), radius_mm=14),
                world_from=world_from_rig,
            )
        stage.add(
            "paint",
            box((b + 46, side * 775, 640 + u), (b + 150, side * 940, 2170 + u), radius_mm=22),
            world_from=world_from_rig,
        )
        for z in (760, 1150, 1700):
            stage.add(
                "chassis",
                cylinder((b + 42, side * 778, z - 50 + u), (b + 42, side * 778, z + 50 + u), 11),
                world_from=world_from_rig,
            )
        strip = box((b + 300, side * 940, 690 + u), (b + 2600, side * 958, 780 + u), radius_mm=8)
        stage.add("plastic", strip, world_from=world_from_rig)
    stage.add(
        "plastic",
        box((b + 24, -46, 1130 + u), (b + 44, -12, 1200 + u), radius_mm=5),
        world_from=world_from_rig,
    )
    stage.add(
        "chassis",
        box((b + 90, -770, 640 + u), (b + 130, 770, 2140 + u), radius_mm=4),
        world_from=world_from_rig,
    )
    plate_and_lamp(stage, world_from_rig, b + 34, 380, 920 + u)
    sticker(stage, world_from_rig, b + 39.5, -560, 1160 + u)
    stage.add(
        "paint",
        box((b + 50, -900, 2150 + u), (b + 5200, 900, 2240 + u), radius_mm=40),
        world_from=world_from_rig,
    )
