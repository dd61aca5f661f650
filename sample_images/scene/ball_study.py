"""Random tow bars for the search of the bare ball: only the part of the photograph where a ball can be.

More kinds of tow bar than the yard's own, more finishes, sheets far beside the ball, and rigs without a bare ball (the
trailer is on, or the ball is off) among which nothing may be found. Each case: the sensor's own pixels of that part as
PNG, the same as a chat program passes it on (half the size, JPEG 70), and the truth as JSON.
"""

from __future__ import annotations

import io
import json
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from scene import misleading, props, towbar, yard
from scene.clean import cleaned
from scene.files import write
from scene.kit_prints import Kit, Standing
from scene.lens import Lens
from scene.mesh import Array, box, shift
from scene.noise import rusty
from scene.palette import PAINTS, ball, materials
from scene.phone import jpeg, shrunk
from scene.rigs import Rig, Shot
from scene.shapes import bolt, cylinder, lathe, tube
from scene.shoot import photographed
from scene.sky import emitters
from scene.stage import Recipe, Stage, chromed, coated, printed
from scene.staging import add_body, couple, ground, receiver_mm, upright, window, world_from_rig
from scene.study import draw_cladding, draw_light, draw_shot, draw_unit
from scene.tracer import trace_window

FINISHES = ("chrome", "black", "rusty", "painted", "greased", "worn")
BARS = ("tongue", "swan", "block")
WIDTH_PX = 3000
_REACH_MM = np.array([[x, y, z] for x in (-470.0, 470.0) for y in (-60.0, 60.0) for z in (215.0, 930.0)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """What carries the ball: kind, the neck's radius, and how far below the centre the neck ends."""

    kind: str
    neck_mm: float
    seat_mm: float
    round_flange: bool


def write_balls(
    folder: Path,
    kit: Kit,
    *,
    count: int,
    seed: int,
    tell: Callable[[str], None],
    first: int = 0,
    varied: bool = False,
    photographs: Path | None = None,
) -> None:
    """`count` cases; what is there already is left alone, so that a stopped run goes on.

    varied: as different as a yard can be, to learn from: photographed from up to 1.7 m, in less light, other bars, round
    things that mislead, no vehicle, and walls that carry a picture of the folder `photographs`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(first, first + count):
        name = f"ball-{seed:03d}-{number:04d}"
        if (folder / f"{name}.json").exists():
            continue
        began = time.monotonic()
        rng = np.random.default_rng([seed, number, 77])
        more = Varied(rng=np.random.default_rng([seed, number, 78]), photographs=photographs) if varied else None
        words = _write_one(folder / name, kit, rng, number, more)
        tell(f"{name}: {words}, {time.monotonic() - began:.0f} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Varied:
    """Where the variety of a case comes from: its own random numbers, and a folder of photographs."""

    rng: np.random.Generator
    photographs: Path | None

    def rig(self, rig: Rig, number: int) -> Rig:
        """Other headings; paint changes seldom, for the materials are the slow part."""
        paints = list(PAINTS)
        return replace(
            rig,
            heading_deg=float(self.rng.uniform(-110, 110)),
            paint=paints[(number // 10) % len(paints)],
            trailer_paint=paints[(number // 10 + 3) % len(paints)],
            dust=0.3,
        )

    def shot(self, shot: Shot) -> Shot:
        """From anywhere, in any light."""
        x, y, z = shot.place_mm
        near = float(self.rng.uniform(0.7, 1.25))
        if self.rng.random() < 0.5:
            z = float(self.rng.uniform(850, 1700))
        phone = replace(
            shot.phone,
            exposure_stops=float(self.rng.uniform(-1.3, 0.7)),
            blur_px=float(self.rng.uniform(0.4, 1.5)),
            shot_noise=float(self.rng.uniform(0.003, 0.03)),
        )
        return replace(shot, place_mm=(x * near + float(self.rng.normal(0, 250)), y * near, z), phone=phone)

    def change(self, stage: Stage, centre_mm: Array) -> None:
        """What stands about the bar, and what the bar is painted with."""
        colour = tuple(float(v) for v in self.rng.uniform(0.01, 0.6) * self.rng.uniform(0.6, 1.0, 3))
        rust = float(self.rng.uniform(0.0, 0.5))
        stage.define("bar", coated(rusty(self.rng, colour, rust=rust, size=512), roughness=float(self.rng.uniform(0.3, 0.7))))  # type: ignore[arg-type]
        misleading.add_misleading(stage, self.rng, centre_mm, int(self.rng.integers(0, 9)))
        if self.photographs is not None and self.rng.random() < 0.6:
            for number, picture in enumerate(misleading.pictures(self.photographs, self.rng, int(self.rng.integers(1, 3)))):
                misleading.add_picture_wall(stage, self.rng, picture, centre_mm, f"picture-{number}")


def _write_one(path: Path, kit: Kit, rng: np.random.Generator, number: int, varied: Varied | None) -> str:
    state = str(rng.choice(["bare", "coupled", "absent"], p=[0.78, 0.14, 0.08]))
    finish, kind = str(rng.choice(FINISHES)), str(rng.choice(BARS, p=[0.4, 0.3, 0.3]))
    rig = _draw_rig(rng, number, finish, state, kind)
    if varied is not None:
        rig = varied.rig(rig, number)
    bar = Bar(
        kind=kind,
        neck_mm=float(rng.uniform(11.5, 16.5)),
        seat_mm=float(rng.uniform(38.0, 58.0)),
        round_flange=bool(rng.random() < 0.7),
    )
    unit = draw_unit(rng, WIDTH_PX)
    shot = draw_shot(rng, rig)
    if varied is not None:
        shot = varied.shot(shot)
    lens = unit.lens(shot)
    whole = (lens.width_px, lens.height_px)
    stage, sheet_mm = _staged(rig, kit, bar, state, varied)
    low, high = _crop(lens)
    scene = stage.built(emitters(rig.light))
    seed = int(rng.integers(1, 2**30))
    layers = trace_window(scene, lens, rig.light, (*low, *high), samples=3, seed=seed, depth=3)
    radiance = cleaned(layers)
    centre = np.array([*rig.ball_mm, rig.height_mm])
    near = centre + np.array([[x, y, z] for x in (-26, 26) for y in (-26, 26) for z in (-70, 26)], float)
    left, top, right, bottom = window(lens, near, 0.25)
    left, top = max(left, low[0]), max(top, low[1])
    right, bottom = min(right, high[0]), min(bottom, high[1])
    if right > left and bottom > top:
        fine = trace_window(
            scene, lens, rig.light, (left, top, right, bottom), samples=36, seed=seed + 9001, depth=3
        )
        radiance[top - low[1] : bottom - low[1], left - low[0] : right - low[0]] = cleaned(
            fine, levels=1, sharpness=3.0
        )
    picture = photographed(radiance, replace(shot.phone, vignette=0.0), seed)
    buffer = io.BytesIO()
    Image.fromarray(picture).convert("L").save(buffer, "PNG", optimize=True)
    write(path.with_suffix(".png"), buffer.getvalue())
    write(
        path.with_suffix(".jpg"), jpeg(shrunk(picture, max(picture.shape[:2]) // 2), quality=70, label=None)
    )
    words = f"{state}, {kind}, {finish}, {'sun' if rig.light.sun_irradiance > 4 else 'dull'}"
    truth = {
        "what": words,
        "state": state,
        "bar": kind,
        "finish": finish,
        "neck_mm": bar.neck_mm,
        "seat_mm": bar.seat_mm,
        "sun": rig.light.sun_irradiance > 4,
        "whole_px": whole,
        "crop": [*low, *high],
        "intrinsics": [
            lens.focal_px,
            lens.focal_px,
            lens.cx_px - low[0],
            lens.cy_px - low[1],
            lens.k1,
            lens.k2,
        ],
        "cam_from_world": lens.cam_from_world.tolist(),
        "sheet_mm": sheet_mm.tolist(),
        "lean_deg": rig.standing.lean_deg,
        "roll_deg": rig.standing.roll_deg,
        "centre_mm": centre.tolist() if state == "bare" else None,
        "distance_mm": float(np.linalg.norm(lens.place_mm[:2])),
    }
    write(path.with_suffix(".json"), json.dumps(truth).encode())
    return words


def _crop(lens: Lens) -> tuple[tuple[int, int], tuple[int, int]]:
    """Left and top, right and bottom of the part where a ball can be, on even pixels."""
    px = lens.project(_REACH_MM)
    low = np.clip(np.floor(px.min(axis=0)), 0, [lens.width_px, lens.height_px]).astype(int) // 2 * 2
    high = np.clip(np.ceil(px.max(axis=0)), 0, [lens.width_px, lens.height_px]).astype(int) // 2 * 2
    return (int(low[0]), int(low[1])), (int(high[0]), int(high[1]))


def _draw_rig(rng: np.random.Generator, number: int, finish: str, state: str, kind: str) -> Rig:
    height = float(rng.uniform(300, 620))
    under = height >= 410 and rng.random() < 0.75
    side = float(rng.choice([-1.0, 1.0]))
    x = float(rng.uniform(-25, 25)) if under else side * float(rng.uniform(155, 330))
    heading = float(rng.choice([-1.0, 1.0]) * rng.uniform(15, 95))
    if not under and heading * side > 0:
        heading = -heading
    return Rig(
        words=f"{kind} tow bar, {finish} ball, {state}",
        height_mm=height,
        vehicle=str(rng.choice(["truck", "van"])),
        fleet=str(number % 10),
        paint=str(rng.choice(["white", "red", "blue", "green", "yellow", "grey", "black"])),
        trailer_paint=str(rng.choice(["white", "red", "blue", "green", "yellow", "grey", "black"])),
        finish=finish,
        ball_mm=(x, float(rng.uniform(-20, 20))),
        heading_deg=heading,
        back_mm=float(rng.uniform(220, 300)),
        lift_mm=float(np.clip(height - 420 + rng.uniform(-40, 40), -60, 150)),
        coupled=state == "coupled",
        dust=float(rng.uniform(0.15, 0.5)),
        standing=Standing(lean_deg=float(rng.normal(0, 0.5)), roll_deg=float(rng.normal(0, 0.3))),
        light=draw_light(rng),
        cladding=draw_cladding(rng),
        door_x_mm=float(rng.uniform(-3000, 3000)),
        wall_mm=float(rng.uniform(6000, 10000)),
        seed=int(rng.integers(1, 1000)),
    )


_PALETTES: dict[tuple[str, str], dict[str, Recipe]] = {}


def _staged(rig: Rig, kit: Kit, bar: Bar, state: str, varied: Varied | None) -> tuple[Stage, Array]:
    """Everything in its place, and the upright sheet's corners (4, 3)."""
    rng = np.random.default_rng(rig.seed)
    key = (rig.paint, rig.trailer_paint)
    if key not in _PALETTES:
        while len(_PALETTES) > 8:
            _PALETTES.pop(next(iter(_PALETTES)))
        _PALETTES[key] = materials(
            rng, paint=rig.paint, trailer_paint=rig.trailer_paint, finish="chrome", dust=rig.dust
        )
    stage = Stage(_PALETTES[key])
    stage.define("ball", _ball(rng, rig.finish))
    stage.define("fleet", printed(yard.fleet_sticker(rig.fleet)))
    props.define_clutter(stage, rng)
    stage.borrow(ground(rig.seed % 3, 2048))
    yard.add_workshop(stage, rng, distance_mm=rig.wall_mm, colour=rig.cladding, door_x_mm=rig.door_x_mm)
    props.add_clutter(stage, rng, distance_mm=rig.wall_mm)
    to_world = world_from_rig(rig)
    if varied is None or varied.rng.random() < 0.75:
        add_body(stage, rig, to_world)
    if varied is not None:
        varied.change(stage, np.array([*rig.ball_mm, rig.height_mm]))
    _add_bar(stage, rig, bar, to_world, with_ball=state != "absent")
    sheet = upright(stage, rig, kit)
    if rig.coupled:
        couple(stage, rig, kit, to_world)
    return stage, sheet


def _ball(rng: np.random.Generator, finish: str) -> Recipe:
    if finish == "greased":  # black grease over bright steel, wiped off in patches
        return coated(
            rusty(rng, (0.03, 0.026, 0.02), rust=float(rng.uniform(0.05, 0.3)), tile_mm=90),
            roughness=float(rng.uniform(0.12, 0.3)),
            specular=0.7,
            clearcoat=0.8,
        )
    if finish == "worn":  # bright where the coupling rubs, dull below
        return coated(
            rusty(rng, (0.45, 0.45, 0.44), rust=float(rng.uniform(0.1, 0.45)), tile_mm=70),
            roughness=float(rng.uniform(0.2, 0.45)),
            metallic=0.85,
        )
    if finish == "chrome" and rng.random() < 0.4:
        return chromed(roughness=float(rng.uniform(0.08, 0.25)))
    return ball(rng, finish)


def _add_bar(stage: Stage, rig: Rig, bar: Bar, to_world: Array, *, with_ball: bool) -> None:
    height, receiver = rig.height_mm, receiver_mm(rig)
    if bar.kind == "tongue":
        towbar.add_towbar(stage, to_world, height_mm=height, bumper_x_mm=rig.back_mm, receiver_mm=receiver)
        if with_ball:
            _add_ball(stage, to_world, height, replace(bar, seat_mm=towbar.SEAT_BELOW_CENTRE_MM))
        return
    if bar.kind == "swan":
        path = [
            (0.0, 0.0, height - 20),
            (0.0, 0.0, height - bar.seat_mm - 25),
            (30.0, 0.0, height - bar.seat_mm - 75),
            (110.0, 0.0, height - bar.seat_mm - 95),
            (rig.back_mm - 20, 0.0, receiver - 60),
            (rig.back_mm + 160, 0.0, receiver),
        ]
        stage.add(
            "bar" if not with_ball else "ball" if rig.seed % 3 == 0 else "bar",
            tube(path, bar.neck_mm + (rig.seed % 4), bend_mm=45),
            world_from=to_world,
        )
        stage.add(
            "bar",
            cylinder(
                (rig.back_mm + 120, -520, receiver + 5),
                (rig.back_mm + 120, 520, receiver + 5),
                34,
                bevel_mm=4,
            ),
            world_from=to_world,
        )
        if with_ball:
            centre = to_world @ np.array([0.0, 0.0, height, 1.0])
            stage.add_sphere("ball", centre[:3], towbar.BALL_RADIUS_MM)
        return
    seat = height - bar.seat_mm
    thick = 20.0 + rig.seed % 25
    stage.add(
        "bar",
        box((-38, -36, seat - thick), (rig.back_mm + 160, 36, seat), radius_mm=4),
        box((rig.back_mm + 90, -480, seat - thick - 30), (rig.back_mm + 150, 480, seat + 40), radius_mm=5),
        world_from=to_world,
    )
    if with_ball:
        _add_ball(stage, to_world, height, bar)


def _add_ball(stage: Stage, to_world: Array, height: float, bar: Bar) -> None:
    centre = to_world @ np.array([0.0, 0.0, height, 1.0])
    stage.add_sphere("ball", centre[:3], towbar.BALL_RADIUS_MM)
    seat, neck = -bar.seat_mm, bar.neck_mm
    outline = [(0.0, -15.0), (neck, -15.0), (neck, min(-27.0, seat + 14)), (neck + 2.5, seat + 9.5)]
    if bar.round_flange:
        outline += [(24.0, seat + 9.0), (25.5, seat + 7.5), (25.5, seat + 1.0), (24.5, seat), (0.0, seat)]
    else:
        outline += [(neck + 5, seat), (0.0, seat)]
    stage.add("ball", lathe(outline).moved(shift(0, 0, height)), world_from=to_world)
    under = height + seat - towbar.PLATE_MM
    stage.add("zinc", bolt((0, 0, under), (0, 0, -1), size_mm=38), world_from=to_world)
