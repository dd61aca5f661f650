"""Tow bar, tongue and ball. Rig frame: x forward, y to the vehicle's left, z up; the ball's axis is x = y = 0."""

from __future__ import annotations

import numpy as np

from scene.mesh import Array, Mesh, box, joined, shift, turn
from scene.shapes import bolt, chain, cylinder, extruded, lathe, rounded_outline, tube
from scene.stage import Stage

SEAT_BELOW_CENTRE_MM = 43.0
PLATE_MM = 20.0
BALL_RADIUS_MM = 25.0


def add_ball(stage: Stage, world_from_rig: Array, height_mm: float) -> None:
    """An exact 50 mm sphere on its neck, flange and nut; the centre is at `height_mm` on the rig's axis."""
    centre = world_from_rig @ np.array([0.0, 0.0, height_mm, 1.0])
    stage.add_sphere("ball", centre[:3], BALL_RADIUS_MM)
    seat = -SEAT_BELOW_CENTRE_MM
    neck = [(0.0, -18.0), (13.6, -18.0), (13.6, -27.0), (14.6, -31.0), (17.0, seat + 9.5), (24.0, seat + 9.0)]
    flange = [(25.5, seat + 7.5), (25.5, seat + 1.0), (24.5, seat), (0.0, seat)]
    stage.add("ball", lathe(neck + flange).moved(shift(0, 0, height_mm)), world_from=world_from_rig)
    under = height_mm + seat - PLATE_MM
    stage.add("zinc", bolt((0, 0, under), (0, 0, -1), size_mm=38), world_from=world_from_rig)
    stage.add("zinc", cylinder((0, 0, under - 15), (0, 0, under - 30), 10.5), world_from=world_from_rig)


def add_towbar(
    stage: Stage, world_from_rig: Array, *, height_mm: float, bumper_x_mm: float, receiver_mm: float
) -> None:
    """Cross beam, receiver, pinned tongue, chain eyes and socket; `receiver_mm` is the receiver's height."""
    seat = height_mm - SEAT_BELOW_CENTRE_MM
    parts = [_tongue(seat, receiver_mm, bumper_x_mm - 60)]
    parts.append(
        box((bumper_x_mm - 75, -32, receiver_mm - 32), (bumper_x_mm + 320, 32, receiver_mm + 32), radius_mm=6)
    )
    parts.append(
        box((bumper_x_mm - 80, -40, receiver_mm - 40), (bumper_x_mm - 50, 40, receiver_mm + 40), radius_mm=6)
    )
    parts.append(
        cylinder(
            (bumper_x_mm + 120, -520, receiver_mm + 5),
            (bumper_x_mm + 120, 520, receiver_mm + 5),
            34,
            bevel_mm=4,
        )
    )
    for side in (-1, 1):
        eye = extruded(rounded_outline([(-70, -26), (20, -40), (20, 40), (-70, 26)], [24, 4, 4, 24]), 10)
        parts.append(eye.moved(shift(bumper_x_mm + 55, side * 95, receiver_mm - 6)))
        parts.append(
            box(
                (bumper_x_mm + 40, side * 60, receiver_mm - 10),
                (bumper_x_mm + 75, side * 120, receiver_mm + 8),
                radius_mm=3,
            )
        )
        parts.append(
            box(
                (bumper_x_mm + 90, side * 430, receiver_mm - 60),
                (bumper_x_mm + 102, side * 520, receiver_mm + 170),
                radius_mm=3,
            )
        )
    stage.add("bar", *parts, world_from=world_from_rig)
    pin = cylinder((bumper_x_mm - 20, -58, receiver_mm), (bumper_x_mm - 20, 58, receiver_mm), 8)
    clip = tube(
        [
            (bumper_x_mm - 20, 50, receiver_mm - 16),
            (bumper_x_mm - 20, 50, receiver_mm + 18),
            (bumper_x_mm - 38, 52, receiver_mm + 26),
            (bumper_x_mm - 40, 50, receiver_mm - 10),
        ],
        2.0,
        bend_mm=12,
    )
    shackles = [_shackle().moved(shift(bumper_x_mm + 2, side * 95, receiver_mm - 4)) for side in (-1, 1)]
    stage.add("zinc", pin, clip, *shackles, world_from=world_from_rig)
    _add_socket(stage, world_from_rig, bumper_x_mm, receiver_mm)


def _tongue(seat_mm: float, receiver_mm: float, back_mm: float) -> Mesh:
    """A plate bent between the ball's seat and the receiver's bar, as a side profile cut from 50 mm stock."""
    low, high = seat_mm - PLATE_MM, seat_mm
    bar_low, bar_high = receiver_mm - 25, receiver_mm + 25
    rise = abs(receiver_mm - (seat_mm - PLATE_MM / 2))
    start = 58.0
    end = min(start + max(25.0, 0.75 * rise), back_mm - 12)
    outline = rounded_outline(
        [
            (-34, low),
            (start + 10, low),
            (end + 12, bar_low),
            (back_mm + 120, bar_low),
            (back_mm + 120, bar_high),
            (end - 8, bar_high),
            (start - 12, high),
            (-34, high),
        ],
        [5, 22, 22, 2, 2, 16, 16, 5],
    )
    web = extruded(outline, 50, bevel_mm=2).moved(turn("x", 90)).moved(shift(0, 25, 0))
    pad = extruded(
        rounded_outline([(-36, -34), (44, -34), (44, 34), (-36, 34)], [32, 6, 6, 32], steps=10),
        PLATE_MM,
        bevel_mm=2,
    )
    return joined([web, pad.moved(shift(0, 0, low))])


def _shackle() -> Mesh:
    bow = tube(
        [(0, -14, 0), (-22, -15, 0), (-48, -20, 0), (-60, 0, 0), (-48, 20, 0), (-22, 15, 0), (0, 14, 0)],
        5.5,
        bend_mm=16,
    )
    return joined([bow, cylinder((0, -24, 0), (0, 24, 0), 6.5), cylinder((0, 20, 0), (0, 26, 0), 11)]).moved(
        turn("y", -62)
    )


def _add_socket(stage: Stage, world_from_rig: Array, bumper_x_mm: float, receiver_mm: float) -> None:
    z = receiver_mm + 8
    bracket = box((bumper_x_mm + 18, -240, z - 45), (bumper_x_mm + 24, -140, z + 40), radius_mm=2)
    stage.add("bar", bracket, world_from=world_from_rig)
    body = cylinder((bumper_x_mm + 22, -190, z), (bumper_x_mm - 22, -190, z), 27, bevel_mm=4)
    lid = box((bumper_x_mm - 30, -222, z - 26), (bumper_x_mm - 22, -158, z + 34), radius_mm=3.5)
    hinge = cylinder((bumper_x_mm - 24, -222, z + 33), (bumper_x_mm - 24, -158, z + 33), 5)
    stage.add("plastic", body, lid, hinge, world_from=world_from_rig)


def add_safety_chains(
    stage: Stage,
    world_from_rig: Array,
    *,
    bumper_x_mm: float,
    receiver_mm: float,
    trailer_x_mm: float,
    trailer_z_mm: float,
) -> None:
    """Two chains hanging from the tow bar's shackles to the drawbar."""
    for side in (-1, 1):
        t = np.linspace(0, 1, 25)
        start, end = (
            np.array([bumper_x_mm - 26, side * 95, receiver_mm - 56]),
            np.array([trailer_x_mm, side * 45, trailer_z_mm]),
        )
        path = start + (end - start) * t[:, None]
        path[:, 2] -= 4 * 58 * t * (1 - t)
        stage.add("chain", chain(path, wire_mm=9, link_mm=46), world_from=world_from_rig)
