"""Trailers photographed from the side with the printed kit in the picture: rendered, with the pitch that is true of them.

The camera, the print and the yard are those of `tests.scenes`; to them comes a trailer of boxes and wheels along the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import kit as the_kit
from tests.scenes import (
    Box,
    Camera,
    Cylinder,
    Plane,
    PrintedKit,
    Scene,
    draw_rig_scene,
    frame,
    pose_looking_at,
    render,
    save_jpeg,
)

DEG = np.pi / 180.0
Array = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class SideScene:
    """pitch_deg: of the rail against the line through both contacts, right end up; marks exact, (2, 2) pixels each."""

    scene: Scene
    pitch_deg: float
    ground_px: Array
    rail_px: Array
    bars_mm: tuple[float, float]
    nose: str

    def marks(self, rng: np.random.Generator, sigma_px: float) -> list[str]:
        """The command's options, marked as a hand does."""
        options: list[str] = []
        for name, px in (("--ground", self.ground_px), ("--rail", self.rail_px)):
            for x, y in px + rng.normal(0.0, sigma_px, (2, 2)):
                options += [name, f"{x:.1f},{y:.1f}"]
        return options

    def save(self, path: Path, rng: np.random.Generator) -> Path:
        look = self.scene.look
        save_jpeg(
            render(self.scene, replace(look, grey=True, samples=9), rng), path, look.jpeg_quality, self.scene.exif
        )
        return path


def draw_side_scene(
    rng: np.random.Generator,
    *,
    kit: PrintedKit,
    size_px: tuple[int, int] = (4000, 3000),
    distance_mm: tuple[float, float] = (4000.0, 7000.0),
    turn_u_deg: float = 4.0,
    pitch_deg: tuple[float, float] = (-3.0, 3.0),
    bare: bool = False,
) -> SideScene:
    """One trailer, its nose at the sheet, which may be to the left or to the right of it.

    bare: nothing in the yard but sheet and trailer, which is rendered in a fifth of the time.
    """
    base = draw_rig_scene(rng, condition="followed", kit=kit, size_px=size_px)
    assert base.ground is not None and base.truth is not None
    ground = replace(base.ground, bump_mm=0.0)
    way = float(rng.choice([-1.0, 1.0]))  # the trailer lies to the right of the sheet, or to the left
    turn, pitch = turn_u_deg * DEG * rng.standard_normal(), rng.uniform(*pitch_deg) * DEG
    along = np.array([np.cos(turn), np.sin(turn), 0.0])  # to the right in the picture
    side_y = rng.uniform(-900.0, 0.0)

    def place(u_mm: float, back_mm: float) -> Array:
        return np.array([0.0, side_y + back_mm, 0.0]) + u_mm * along

    def on_ground(u_mm: float) -> Array:
        point = place(u_mm, 0.0)
        return np.array([point[0], point[1], float(ground.z_mm(point[0], point[1]))])

    first = rng.uniform(1300.0, 1800.0)
    contacts = np.array([on_ground(way * u) for u in (first, first + rng.uniform(1700.0, 2400.0))])
    contacts = contacts[np.argsort(contacts[:, 0])]
    run = contacts[1] - contacts[0]
    slope = np.arctan2(run[2], np.hypot(run[0], run[1]))
    back, height = rng.uniform(30.0, 200.0), rng.uniform(430.0, 650.0)
    ends = sorted(way * np.array([rng.uniform(500.0, 900.0), rng.uniform(3300.0, 3900.0)]))
    rail = np.array([place(u, back) + (height + u * np.tan(slope + pitch)) * UP for u in ends])
    middle = 0.5 * (rail[0] + rail[1])
    lens = np.array([middle[0] * rng.uniform(0.4, 0.9), -rng.uniform(*distance_mm), rng.uniform(1350.0, 1700.0)])
    target = np.array([0.5 * middle[0] + 0.4 * lens[0], 0.0, 650.0])
    pose = pose_looking_at(lens, target, roll_rad=1.5 * DEG * rng.standard_normal())
    camera = Camera(intrinsics=base.cameras[0].intrinsics, size_px=size_px, cam_from_world=pose)
    scene = replace(
        base,
        cameras=(camera,),
        ground=ground,
        surfaces=(*_tags_on(rail, along, kit), *base.surfaces[: 2 if bare else None], *_trailer(rail, contacts, along)),
    )
    nuisance = base.truth.nuisance
    return SideScene(
        scene=scene,
        pitch_deg=float(pitch / DEG),
        ground_px=scene.picture_px(contacts),
        rail_px=scene.picture_px(rail),
        bars_mm=_bars_mm(nuisance),
        nose="left" if way > 0 else "right",
    )


def _tags_on(rail: Array, along: Array, kit: PrintedKit) -> list[Plane]:
    """Two bar tags of 60 mm on the rail's outer face, their middles as far above its lower edge, one at its end, one between the wheels."""
    run = rail[1] - rail[0]
    right = run / np.linalg.norm(run)
    up = UP - (UP @ right) * right
    up /= np.linalg.norm(up)
    outward = np.array([along[1], -along[0], 0.0])
    places = [rail[0] + share * run + 60.0 * up + 0.5 * outward for share in (0.02, 0.62)]
    return [tag.placed("bar-tag", at, right, up)[0] for tag, at in zip(kit.bar_tags[:2], places, strict=True)]


def _bars_mm(nuisance: Mapping[str, float]) -> tuple[float, float]:
    """What a ruler reads on the print's bars, to half a millimetre."""
    drawn = the_kit("a4").upright.bars_mm
    x, y = (round(2.0 * mm * nuisance[f"print_scale_{axis}"]) / 2.0 for axis, mm in zip("xy", drawn, strict=True))
    return x, y


def _trailer(rail: Array, contacts: Array, along: Array) -> tuple[Box | Cylinder, ...]:
    """A rail whose lower edge passes through the marks, and a wheel on each contact."""
    run = rail[1] - rail[0]
    length = float(np.linalg.norm(run))
    up = UP - (UP @ run) / (length**2) * run
    up /= np.linalg.norm(up)
    inward = np.array([-along[1], along[0], 0.0])
    centre = 0.5 * (rail[0] + rail[1]) + 60.0 * up + 40.0 * inward
    beam = Box(world_from_box=frame(centre, run, up), half_mm=(0.5 * length + 150.0, 60.0, 40.0), finish="painted")
    wheels = [
        Cylinder(
            world_from_cylinder=frame(contact + 330.0 * UP + 90.0 * inward, along, UP), radius_mm=330.0,
            half_length_mm=90.0, finish="black",
        )
        for contact in contacts
    ]  # fmt: skip
    return (beam, *wheels)
