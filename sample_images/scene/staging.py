"""A rig put on the stage: yard, vehicle, tow bar, trailer, kit; and which parts of a picture deserve more rays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from scene import body, kit_prints, props, towbar, trailer, yard
from scene.kit_prints import Kit, Standing
from scene.lens import Lens
from scene.mesh import Array, shift, turn
from scene.palette import ball, materials
from scene.paper import Print
from scene.rigs import Rig
from scene.stage import Recipe, Stage, printed
from scene.truck import add_truck
from scene.van import add_van

_RECEIVER_MM = {"truck": 430.0, "van": 405.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """The stage, and the world points (mm) that a truth file speaks of."""

    stage: Stage
    centre_mm: Array  # (3,) the coupling centre
    seen_mm: Array  # (3,) what a person points at: the ball's centre, or the middle of the centre tag
    prints_mm: tuple[Array, ...]  # each (4, 3): corners of the printed pieces


@lru_cache(maxsize=4)
def _palette(seed: int, paint: str, trailer_paint: str, finish: str, dust: float) -> dict[str, Recipe]:
    """Materials are the slow part of a scene; scenes that share a seed share them."""
    return materials(
        np.random.default_rng(seed), paint=paint, trailer_paint=trailer_paint, finish=finish, dust=dust
    )


def palette_of(rig: Rig) -> dict[str, Recipe]:
    """The materials of a rig's scene."""
    return _palette(rig.seed % 3, rig.paint, rig.trailer_paint, "chrome", rig.dust)


@lru_cache(maxsize=4)
def ground(seed: int, slab_px: int) -> Stage:
    """The slabs of one yard, built once."""
    slabs = Stage({})
    yard.add_ground(slabs, np.random.default_rng(seed + 100), slab_px=slab_px)
    return slabs


def world_from_rig(rig: Rig) -> Array:
    """(4, 4) from the rig's frame (x forward, y left, z up, origin under the ball) to the world."""
    return shift(rig.ball_mm[0], rig.ball_mm[1], 0) @ turn("z", 90.0 + rig.heading_deg)


def staged(rig: Rig, kit: Kit, *, slab_px: int = 4096) -> Staged:
    """Everything in its place."""
    stage = Stage(palette_of(rig))
    stage.define("ball", ball(np.random.default_rng(rig.seed), rig.finish))
    stage.define("fleet", printed(yard.fleet_sticker(rig.fleet)))
    rng = np.random.default_rng(rig.seed)
    props.define_clutter(stage, rng)
    stage.borrow(ground(rig.seed % 3, slab_px))
    yard.add_workshop(stage, rng, distance_mm=rig.wall_mm, colour=rig.cladding, door_x_mm=rig.door_x_mm)
    props.add_clutter(stage, rng, distance_mm=rig.wall_mm)
    to_world = world_from_rig(rig)
    _add_vehicle(stage, rig, to_world)
    prints = [upright(stage, rig, kit)]
    if rig.second_standing is not None:
        prints.append(second_upright(stage, rig.second_standing, kit))
    centre = np.array([*rig.ball_mm, rig.height_mm])
    seen = centre
    if rig.lying is not None:
        prints.append(_ground_sheet(stage, rig, kit))
    if rig.coupled:
        seen = couple(stage, rig, kit, to_world)
        prints.append(seen + np.array([[-35.0, 0, -35], [35, 0, -35], [35, 0, 35], [-35, 0, 35]]))
    for number, place in enumerate((rig.bar_tag_mm, rig.second_bar_tag_mm)):
        if place is not None:
            middle = add_bar_tag(stage, rig, kit, to_world, place, second=number == 1)
            prints.append(middle + np.array([[-50.0, 0, -50], [50, 0, -50], [50, 0, 50], [-50, 0, 50]]))
    return Staged(stage=stage, centre_mm=centre, seen_mm=seen, prints_mm=tuple(prints))


def _add_vehicle(stage: Stage, rig: Rig, to_world: Array) -> None:
    towbar.add_ball(stage, to_world, rig.height_mm)
    towbar.add_towbar(
        stage, to_world, height_mm=rig.height_mm, bumper_x_mm=rig.back_mm, receiver_mm=receiver_mm(rig)
    )
    add_body(stage, rig, to_world)


def add_body(stage: Stage, rig: Rig, to_world: Array) -> None:
    """The vehicle without its tow bar, its wheels chocked."""
    build = add_van if rig.vehicle == "van" else add_truck
    build(stage, to_world, back_mm=rig.back_mm, lift_mm=rig.lift_mm)
    axle = rig.back_mm + body.AXLE_AHEAD_MM[rig.vehicle]
    for side in (-1, 1):
        props.add_chocks(
            stage,
            to_world,
            wheel_x_mm=axle,
            wheel_y_mm=side * body.TRACK_MM,
            wheel_mm=body.WHEEL_MM[rig.vehicle],
        )


def receiver_mm(rig: Rig) -> float:
    """The receiver under the body, but within what a bent tongue can reach."""
    return float(np.clip(_RECEIVER_MM[rig.vehicle] + rig.lift_mm, rig.height_mm - 110, rig.height_mm + 130))


def upright(stage: Stage, rig: Rig, kit: Kit) -> Array:
    kit_prints.add_upright(stage, kit.upright, rig.standing, board_mm=rig.board_mm)
    return _corners(kit.upright, rig.standing)


def second_upright(stage: Stage, standing: Standing, kit: Kit) -> Array:
    if kit.second_upright is None:
        raise ValueError("a second sheet stands here, and there is no second kit")
    kit_prints.add_upright(stage, kit.second_upright, standing, name="second-upright-print")
    return _corners(kit.second_upright, standing)


def _corners(piece: Print, standing: Standing) -> Array:
    half, tall = piece.width_mm / 2, piece.height_mm
    corners = np.array([[-half, 0, 0, 1], [half, 0, 0, 1], [half, 0, tall, 1], [-half, 0, tall, 1]])
    return np.asarray((corners @ standing.world_from_sheet().T)[:, :3])


def _ground_sheet(stage: Stage, rig: Rig, kit: Kit) -> Array:
    if rig.lying is None or kit.ground is None:
        raise ValueError("this rig or this kit has no ground sheet")
    kit_prints.add_ground_sheet(stage, kit, rig.lying)
    half, tall = kit.ground.width_mm / 2, kit.ground.height_mm
    corners = np.array([[-half, 0, 0, 1], [half, 0, 0, 1], [half, tall, 0, 1], [-half, tall, 0, 1]])
    return np.asarray((corners @ rig.lying.world_from_sheet().T)[:, :3])


def couple(stage: Stage, rig: Rig, kit: Kit, to_world: Array) -> Array:
    """Trailer, chains, cable, and the tag on the side that faces the viewer; returns the tag's middle (3,)."""
    receiver = receiver_mm(rig)
    trailer.add_coupling_head(stage, to_world, rig.height_mm)
    trailer.add_trailer(stage, to_world, height_mm=rig.height_mm)
    towbar.add_safety_chains(
        stage,
        to_world,
        bumper_x_mm=rig.back_mm,
        receiver_mm=receiver,
        trailer_x_mm=-420,
        trailer_z_mm=rig.height_mm - 42,
    )
    trailer.add_cable(stage, to_world, height_mm=rig.height_mm, bumper_x_mm=rig.back_mm, receiver_mm=receiver)
    side = 1.0 if rig.heading_deg > 0 else -1.0
    face = (
        to_world
        @ shift(0, side * (trailer.HEAD_HALF_WIDTH_MM + 0.05), rig.height_mm + rig.tag_off_mm)
        @ turn("z", 180.0 if side > 0 else 0.0)
    )
    kit_prints.add_tag(stage, kit, face)
    return np.asarray(face[:3, 3])


def add_bar_tag(
    stage: Stage,
    rig: Rig,
    kit: Kit,
    to_world: Array,
    place_mm: tuple[float, float, float],
    *,
    second: bool = False,
) -> Array:
    """A bar tag on the tow bar's side that faces the viewer, turned with the bar about the ball; its middle (3,)."""
    ahead, outwards, up = place_mm
    side = 1.0 if rig.heading_deg > 0 else -1.0
    face = (
        to_world
        @ shift(0, 0, rig.height_mm)
        @ turn("y", rig.pitch_deg)
        @ shift(ahead, side * outwards, up)
        @ turn("z", 180.0 if side > 0 else 0.0)
    )
    if second:
        kit_prints.add_bar_tag(stage, kit.second_bar_tag, face, name="second-bar-tag-print")
    else:
        kit_prints.add_bar_tag(stage, kit.bar_tag, face)
    return np.asarray(face[:3, 3])


def window(lens: Lens, points_mm: Array, margin: float) -> tuple[int, int, int, int]:
    """The part of the picture round projected points: left, top, right, bottom; `margin` as a share of its size."""
    points = lens.project(points_mm)
    spare = margin * np.ptp(points, axis=0) + 6
    low, high = (
        np.floor(points.min(axis=0) - spare).astype(int),
        np.ceil(points.max(axis=0) + spare).astype(int),
    )
    low, high = np.maximum(low, 0), np.minimum(high, [lens.width_px, lens.height_px])
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])
