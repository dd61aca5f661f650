"""Random rigs for accuracy studies: the same yard and tracer, everything that matters varied, truth beside each.

A single photograph follows the kit's instructions (lens near the coupling's height, 1.5-2.5 m away) as people do: roughly.
Several of one rig are taken from any height between 0.3 and 1.6 m and from both sides, always with the ground sheet.
Spreads, one sigma unless said otherwise: lean 0.5 deg, roll 0.3 deg, depth of the ball against the sheet's plane
+/-20 mm (rectangular), focal length 3 % against its EXIF, principal point 0.35 % of the width on each axis, k1 0.006.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from scene.files import write
from scene.kit_prints import Kit, Lying, Standing
from scene.palette import FINISHES, PAINTS
from scene.phone import Label, Phone, jpeg
from scene.rigs import Rig, Shot
from scene.shoot import Effort, Unit, exposed, photographed, pointed_at
from scene.sky import Daylight, emitters
from scene.staging import staged
from scene.truth import Photo, as_toml

if TYPE_CHECKING:
    from scene.hands import Hands

UNDER_FROM_MM = (
    392.0  # a lower ball has its nut where the sheet's board would be: the sheet then stands beside it
)
LABEL = Label(model="Studyphone", taken="2026:06:01 12:00:00")


def write_study(
    folder: Path,
    kit: Kit,
    *,
    count: int,
    seed: int,
    width_px: int,
    photos: int = 1,
    coupled: bool = False,
    tell: Callable[[str], None],
) -> None:
    """`count` rigs as study-SSS-NNNN.toml and .jpg, or -1.jpg, -2.jpg and so on; the same seed gives the same rigs."""
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        rig, unit = draw_rig(rng, number), draw_unit(rng, width_px)
        if coupled:
            rig = coupled_rig(rng, rig)
        name = f"study-{seed:03d}-{number:04d}"
        if photos == 1:
            shots, files = [draw_shot(rng, rig)], [f"{name}.jpg"]
        else:
            rig = replace(rig, lying=rig.lying or draw_lying(rng))
            shots = [draw_shot_of_many(rng, rig, share) for share in np.linspace(-1.0, 1.0, photos)]
            files = [f"{name}-{photo}.jpg" for photo in range(1, photos + 1)]
        write_one(folder, name, files, rig, shots, unit, kit, seed=seed * 10_000 + number)
        tell(f"{name}: {rig.words}")


def draw_rig(rng: np.random.Generator, number: int) -> Rig:
    """A rig with a bare ball; paint changes every sixth time, for the materials are the slow part."""
    height = float(rng.uniform(300, 600))
    under = height >= UNDER_FROM_MM
    side = float(rng.choice([-1.0, 1.0]))
    x = float(rng.uniform(-15, 15)) if under else side * float(rng.uniform(155, 200))
    finish = FINISHES[int(rng.integers(len(FINISHES)))]
    vehicle = str(rng.choice(["truck", "van"]))
    lift = float(np.clip(height - 420 + rng.uniform(-25, 25), -60, 150))
    heading = (
        float(rng.choice([-1.0, 1.0]) * rng.uniform(15, 60)) if under else -side * float(rng.uniform(15, 60))
    )
    ground_sheet = draw_lying(rng)
    return Rig(
        words=f"random rig, {vehicle}, {finish} ball, sheet {'under' if under else 'beside'} it",
        height_mm=round(height, 3),
        vehicle=vehicle,
        fleet=str(number % 10),
        paint=list(PAINTS)[(number // 6) % len(PAINTS)],
        finish=finish,
        ball_mm=(round(x, 3), round(float(rng.uniform(-20, 20)), 3)),
        heading_deg=heading,
        lift_mm=lift,
        dust=0.3,
        standing=Standing(lean_deg=float(rng.normal(0, 0.5)), roll_deg=float(rng.normal(0, 0.3))),
        lying=ground_sheet if rng.random() < 0.3 else None,
        light=draw_light(rng),
        cladding=draw_cladding(rng),
        door_x_mm=float(rng.uniform(-3000, 3000)),
        wall_mm=float(rng.uniform(6500, 10000)),
        seed=int(rng.integers(1, 1000)),
    )


def coupled_rig(rng: np.random.Generator, rig: Rig) -> Rig:
    """With its trailer on, and a centre tag on the head's side, which faces the viewer within 40 degrees."""
    heading = float(np.copysign(rng.uniform(50, 85), rig.heading_deg))
    return replace(rig, coupled=True, heading_deg=heading, words=rig.words.replace("ball", "ball coupled, tag"))


def draw_lying(rng: np.random.Generator) -> Lying:
    """The ground sheet pushed against the foot line, roughly."""
    return Lying(
        x_mm=float(rng.normal(0, 4)), y_mm=-float(rng.uniform(0.5, 4)), turn_deg=float(rng.normal(0, 1.5))
    )


def draw_cladding(rng: np.random.Generator) -> tuple[float, float, float]:
    """The workshop's colour, linear reflectance."""
    return float(rng.uniform(0.15, 0.4)), float(rng.uniform(0.18, 0.36)), float(rng.uniform(0.15, 0.35))


def draw_light(rng: np.random.Generator) -> Daylight:
    """Sun from the front, the sides or nowhere."""
    if rng.random() < 0.3:
        return Daylight(sun_irradiance=float(rng.uniform(0, 2.5)), cloud=0.97, seed=int(rng.integers(100)))
    return Daylight(
        sun_azimuth_deg=float(rng.uniform(110, 260)),
        sun_elevation_deg=float(rng.uniform(18, 65)),
        sun_irradiance=float(rng.uniform(6, 13)),
        cloud=float(rng.uniform(0.15, 0.6)),
        seed=int(rng.integers(100)),
    )


def draw_unit(rng: np.random.Generator, width_px: int) -> Unit:
    """A phone of a model with a rounded 35 mm-equivalent, and this unit's own differences."""
    exact = float(rng.uniform(23.6, 28.4))
    return Unit(
        width_px=width_px,
        height_px=width_px * 3 // 4,
        focal_35mm=round(exact),
        focal_factor=exact / round(exact) * (1 + 0.03 * float(np.clip(rng.normal(), -2.5, 2.5))),
        off_centre=(float(rng.normal(0, 0.0035)), float(rng.normal(0, 0.0035))),
        k1=float(rng.normal(0, 0.006)),
        k2=0.0,
    )


def draw_shot(rng: np.random.Generator, rig: Rig) -> Shot:
    """A photograph that follows the instructions roughly."""
    distance, yaw = float(rng.uniform(1500, 2500)), float(np.deg2rad(rng.uniform(-15, 15)))
    middle = rig.ball_mm[0] / 2
    aim = (middle + float(rng.normal(0, 90)), 0.0, 0.75 * rig.height_mm + 60 + float(rng.normal(0, 50)))
    place = (
        middle + distance * float(np.sin(yaw)),
        -distance * float(np.cos(yaw)),
        max(150.0, rig.height_mm + float(rng.uniform(-150, 150))),
    )
    phone = draw_phone(rng)
    return Shot(
        place_mm=place,
        at_mm=aim,
        roll_deg=float(rng.normal(0, 1.5)),
        portrait=bool(rng.random() < 0.25),
        phone=phone,
    )


def draw_shot_of_many(rng: np.random.Generator, rig: Rig, share: float) -> Shot:
    """One of several photographs of a rig, from any height; share -1 is furthest to the left, 1 furthest to the right."""
    distance = float(rng.uniform(1500, 2500))
    yaw = float(np.deg2rad(25.0 * share + rng.uniform(-10, 10)))
    middle = rig.ball_mm[0] / 2
    aim = (middle + float(rng.normal(0, 90)), 0.0, 0.6 * rig.height_mm + float(rng.normal(0, 50)))
    return Shot(
        place_mm=(
            middle + distance * float(np.sin(yaw)),
            -distance * float(np.cos(yaw)),
            float(rng.uniform(300, 1600)),
        ),
        at_mm=aim,
        roll_deg=float(rng.normal(0, 1.5)),
        portrait=bool(rng.random() < 0.25),
        phone=draw_phone(rng),
    )


def draw_phone(rng: np.random.Generator) -> Phone:
    """What the phone makes of one exposure."""
    return Phone(
        exposure_stops=float(rng.uniform(-0.35, 0.35)),
        blur_px=float(rng.uniform(0.5, 1.1)),
        shot_noise=float(rng.uniform(0.004, 0.016)),
        read_noise=float(rng.uniform(0.001, 0.004)),
        smoothing=float(rng.uniform(0.3, 1.0)),
        sharpening=float(rng.uniform(0.1, 0.8)),
        warmth=float(rng.uniform(-0.04, 0.06)),
    )


def write_one(
    folder: Path,
    name: str,
    files: list[str],
    rig: Rig,
    shots: list[Shot],
    unit: Unit,
    kit: Kit,
    *,
    seed: int,
    hands: Hands | None = None,
) -> None:
    place = staged(rig, kit, slab_px=2048)
    scene = place.stage.built(emitters(rig.light))
    photos = []
    for number, (file, shot) in enumerate(zip(files, shots, strict=True)):
        lens = unit.lens(shot)
        taken = seed + 100_000_000 * number
        picture = photographed(
            exposed(scene, place, lens, rig.light, Effort(everywhere=5, prints=24, ball=64), seed=taken),
            shot.phone,
            taken,
        )
        label = replace(
            LABEL,
            focal_35mm=unit.focal_35mm,
            focal_mm=round(unit.focal_35mm * 5.6 / 26, 2),
            orientation=6 if shot.portrait else 1,
        )
        write(folder / file, jpeg(picture, quality=int(85 + seed % 10), label=label))
        photos.append(
            Photo(
                file=file,
                lens=lens,
                centre_px=pointed_at(lens, place.seen_mm),
                hidden_px=pointed_at(lens, place.centre_mm),
            )
        )
    camera = f"{LABEL.make} {LABEL.model} (invented), 35 mm-equivalent {unit.focal_35mm}"
    write(folder / f"{name}.toml", as_toml(rig, photos, kit=kit.name, camera=camera, hands=hands).encode())
