"""Random trailers photographed from the side for their level, and couplings with a sheet on either side: two prints in a picture.

Hands are drawn as in `hands.py`; the second print comes from the same printer (0.1 % between both, one sigma, on either axis),
is cut, stood up and pressed on its own grit, and the ground under it is off the plane under the first one by 1.5 mm a metre.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from scene import props, trailer, yard
from scene.files import write
from scene.hands import Hands, draw_hands, draw_standing, printed_at
from scene.kit_prints import Kit, Standing
from scene.lens import Lens
from scene.mesh import Array, shift, turn
from scene.phone import jpeg
from scene.rigs import Rig, Shot
from scene.shoot import Effort, exposed, photographed, pointed_at
from scene.sky import emitters
from scene.stage import Stage, printed
from scene.staging import Staged, ground, palette_of, second_upright, upright, world_from_rig
from scene.study import LABEL, draw_phone, draw_shot, draw_unit, write_one
from scene.truth import Photo, as_toml

UNEVEN = 0.0015  # of the ground between two feet, mm per mm
ALIKE = 0.001  # of two prints of one printer, between their scales
EYES_MM, KNEELING_MM = (1350.0, 1700.0), (500.0, 900.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """The second print, beside what `Hands` says of the first: its scale over the first one's, its ground's rise."""

    alike: tuple[float, float]
    rise_mm: float
    below_mm: float
    askew_deg: float

    def lines(self, standing: Standing) -> str:
        told = [
            "",
            "[second_sheet]  # another print of the same printer; ground_rise_mm: from the plane under the first sheet",
            f"x_mm = {standing.x_mm:.3f}",
            f"y_mm = {standing.y_mm:.3f}",
            f"gap_mm = {standing.gap_mm - self.rise_mm:.3f}",
            f"ground_rise_mm = {self.rise_mm:.3f}",
            f"lean_deg = {standing.lean_deg:.4f}",
            f"roll_deg = {standing.roll_deg:.4f}",
            f"turn_deg = {standing.turn_deg:.4f}",
            f"scale_over_first = [{self.alike[0]:.6f}, {self.alike[1]:.6f}]",
            f"below_foot_mm = {self.below_mm:.3f}",
            f"askew_deg = {self.askew_deg:.4f}",
        ]
        return "\n".join(told) + "\n"


def draw_second(rng: np.random.Generator, *, x_mm: float, y_mm: float) -> tuple[Standing, Second]:
    """A second sheet stood up at (x, y)."""
    second = Second(
        alike=(1 + float(rng.normal(0, ALIKE)), 1 + float(rng.normal(0, ALIKE))),
        rise_mm=float(rng.normal(0, UNEVEN)) * float(np.hypot(x_mm, y_mm)),
        below_mm=float(rng.uniform(-0.5, 0.5)),
        askew_deg=float(rng.normal(0, 0.2)),
    )
    stood = draw_standing(rng, second.askew_deg)
    return replace(stood, x_mm=x_mm, y_mm=y_mm, gap_mm=stood.gap_mm + second.rise_mm), second


def two_printed(kit: Kit, hands: Hands, second: Second) -> Kit:
    """Both prints as they were printed and cut."""
    page = kit.second_upright_page
    if page is None:
        raise ValueError("there is no second kit (--second-kit)")
    both = printed_at(kit, hands)
    scale = (hands.print_scale[0] * second.alike[0], hands.print_scale[1] * second.alike[1])
    other = printed_at(
        replace(kit, upright_page=page), replace(hands, print_scale=scale, below_mm=second.below_mm)
    )
    return replace(both, second_upright=other.upright)


def write_two(
    folder: Path, kit: Kit, rng: np.random.Generator, name: str, number: int, *, seed: int, width_px: int
) -> str:
    """A bare ball behind a vehicle, a sheet on either side of it."""
    rig, hands = draw_hands(rng, number, "beside", kit)
    side = float(np.sign(rig.ball_mm[0]))
    x_mm = rig.ball_mm[0] + side * float(rng.uniform(180, 420))
    in_line = np.sin(np.deg2rad(rig.standing.turn_deg)) * x_mm + float(rng.normal(0, 12))
    standing, second = draw_second(rng, x_mm=x_mm, y_mm=float(in_line))
    rig = replace(
        rig,
        words=rig.words.replace("beside it", "on either side"),
        ball_mm=(rig.ball_mm[0], float(in_line * rig.ball_mm[0] / x_mm + rng.uniform(-20, 20))),
        heading_deg=float(rng.uniform(-20, 20)),
        second_standing=standing,
    )
    unit, shot = draw_unit(rng, width_px), draw_shot(rng, rig)
    # the ground under the coupling lies between both feet, off the line between them by as much again as to the nearer one
    near = min(abs(rig.ball_mm[0]), abs(x_mm - rig.ball_mm[0]))
    on_line = second.rise_mm * rig.ball_mm[0] / x_mm
    rise = on_line + float(rng.normal(0, UNEVEN)) * near + float(rng.normal(0, 0.5))
    hands = replace(hands, rise_mm=rise)
    at = two_printed(kit, hands, second)
    write_one(folder, name, [f"{name}.jpg"], rig, [shot], unit, at, seed=seed * 10_000 + number, hands=hands)
    path = folder / f"{name}.toml"
    write(path, (path.read_text(encoding="utf-8") + second.lines(standing)).encode())
    return f"{rig.words}, the second {x_mm:.0f} mm aside"


def write_level(
    folder: Path, kit: Kit, rng: np.random.Generator, name: str, number: int, *, seed: int, width_px: int
) -> str:
    """A trailer that stands alone, one sheet at its nose, another between its axles; every other one from a kneel."""
    rig, hands = draw_hands(rng, number, "beside", kit)
    way = float(rng.choice([-1.0, 1.0]))  # the trailer lies to the right of the sheet, or to the left
    turned, pitch = float(rng.normal(0, 4.0)), float(rng.uniform(-3, 3))
    axles = (-float(rng.uniform(2500, 2900)), -float(rng.uniform(4500, 4900)))
    side_y = float(rng.uniform(-900, 0))  # of the tyres' outer sides at the nose
    rig = replace(
        rig,
        words=f"random trailer by hands, {'kneeling' if number % 2 else 'standing'}",
        height_mm=float(rng.uniform(470, 690)),
        ball_mm=(way * float(rng.uniform(-200, 200)), side_y + trailer.WHEEL_Y_MM),
        heading_deg=way * 90.0 + turned,
        standing=draw_standing(rng, hands.askew_deg),
        lying=None,
    )
    to_world = world_from_rig(rig)
    near = 1.0 if way > 0 else -1.0  # the trailer's side that faces the viewer, in its own frame
    middle = (0.5 * (axles[0] + axles[1]) + float(rng.uniform(-250, 250)), near * (1110.0 + float(rng.uniform(0, 200))))
    foot = to_world @ np.array([*middle, 0.0, 1.0])
    standing, second = draw_second(rng, x_mm=float(foot[0]), y_mm=float(foot[1]))
    standing = replace(standing, turn_deg=standing.turn_deg + turned)
    rig = replace(rig, second_standing=standing)
    at = two_printed(kit, hands, second)
    pivot = shift(0.5 * (axles[0] + axles[1]), 0, rig.height_mm)
    pitched = to_world @ pivot @ turn("y", pitch) @ np.linalg.inv(pivot)
    rail, contacts = _marked(to_world, pitched, axles, near, rig.height_mm)
    unit = draw_unit(rng, width_px)
    shot = _side_shot(rng, rail, KNEELING_MM if number % 2 else EYES_MM)
    place = _staged_side(rig, at, to_world, pitched, axles)
    lens = unit.lens(shot)
    taken = seed * 10_000 + number
    effort = Effort(everywhere=6, prints=32, ball=0)
    picture = photographed(
        exposed(place.stage.built(emitters(rig.light)), place, lens, rig.light, effort, seed=taken), shot.phone, taken
    )
    label = replace(LABEL, focal_35mm=unit.focal_35mm, focal_mm=round(unit.focal_35mm * 5.6 / 26, 2))
    write(folder / f"{name}.jpg", jpeg(picture, quality=int(85 + taken % 10), label=label))
    centre = pointed_at(lens, rail[0])
    photo = Photo(file=f"{name}.jpg", lens=lens, centre_px=centre, hidden_px=centre)
    camera = f"{LABEL.make} {LABEL.model} (invented), 35 mm-equivalent {unit.focal_35mm}"
    told = as_toml(rig, [photo], kit=kit.name, camera=camera, hands=hands) + second.lines(standing)
    write(folder / f"{name}.toml", (told + _level_lines(lens, rail, contacts, way)).encode())
    return rig.words


def _marked(
    to_world: Array, pitched: Array, axles: tuple[float, float], near: float, height_mm: float
) -> tuple[Array, Array]:
    """Two points of the rail's lower edge and two tyre contacts, world, each (2, 3)."""
    low = height_mm - trailer.RAIL_BELOW_MM
    rail = np.array([[x, near * trailer.HALF_WIDTH_MM, low, 1.0] for x in (-2120.0, -5480.0)]) @ pitched.T
    outer = near * (trailer.WHEEL_Y_MM + 70.0)
    contacts = np.array([[x, outer, 0.0, 1.0] for x in axles]) @ to_world.T
    return rail[:, :3], contacts[:, :3]


def _side_shot(rng: np.random.Generator, rail: Array, heights_mm: tuple[float, float]) -> Shot:
    """From the side, the sheet at the nose and the whole rail in the picture."""
    far = rail[1]
    distance = float(rng.uniform(4400, 5800))
    place = (float(far[0]) * float(rng.uniform(0.4, 0.6)), min(0.0, float(rail[:, 1].min())) - distance, float(rng.uniform(*heights_mm)))
    at = (0.5 * float(far[0]), 0.0, 420.0 + float(rng.normal(0, 60)))
    return Shot(place_mm=place, at_mm=at, roll_deg=float(rng.normal(0, 1.5)), phone=draw_phone(rng))


def _staged_side(rig: Rig, kit: Kit, to_world: Array, pitched: Array, axles: tuple[float, float]) -> Staged:
    """The yard with the trailer alone, its chassis pitched on its wheels."""
    stage = Stage(palette_of(rig))
    stage.define("fleet", printed(yard.fleet_sticker(rig.fleet)))
    rng = np.random.default_rng(rig.seed)
    props.define_clutter(stage, rng)
    stage.borrow(ground(rig.seed % 3, 2048))
    yard.add_workshop(stage, rng, distance_mm=rig.wall_mm, colour=rig.cladding, door_x_mm=rig.door_x_mm)
    trailer.add_chassis(stage, pitched, height_mm=rig.height_mm)
    trailer.add_axles(stage, to_world, axles)
    assert rig.second_standing is not None
    prints = (upright(stage, rig, kit), second_upright(stage, rig.second_standing, kit))
    centre = np.array([*rig.ball_mm, rig.height_mm])
    return Staged(stage=stage, centre_mm=centre, seen_mm=centre, prints_mm=prints)


def _level_lines(lens: Lens, rail: Array, contacts: Array, way: float) -> str:
    """pitch_deg: of the rail against the line through the contacts, the front up."""
    angles = [float(np.arctan2(ends[0, 2] - ends[1, 2], np.hypot(*(ends[0, :2] - ends[1, :2])))) for ends in (rail, contacts)]

    def pixels(points: Array) -> str:
        return "[" + ", ".join(f"[{x:.3f}, {y:.3f}]" for x, y in lens.project(points)) + "]"

    return (
        "\n[level]  # exact marks: two tyre contacts, two points of the rail's lower edge, the front first\n"
        f"pitch_deg = {np.rad2deg(angles[0] - angles[1]):.4f}\n"
        f'nose = "{"left" if way > 0 else "right"}"\n'
        f"ground_px = {pixels(contacts)}\nrail_px = {pixels(rail)}\n"
    )


WRITERS: dict[str, Callable[..., str]] = {"two": write_two, "level": write_level}
