"""Random rigs as hands prepare and photograph them: print, foot, ground, turn and tag are as wrong as people make them.

`study.py` keeps print, foot and ground exact; here everything is drawn. One sigma unless said otherwise: print 0.94-1.0 of
its size (rectangular) with 0.1 % between its axes, bars read to half a millimetre; foot gap +/-0.5 mm (rectangular), roll 0.3
and lean 0.5 degrees, the sheet turned by 4 degrees; ground falling by 2 mm a metre from the foot line to the coupling; depth
+/-20 mm (rectangular) against the plane through the foot line's middle; tag placed to 1.5 mm. Camera as in `study.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from scene.kit_prints import Kit, Print, Standing
from scene.rigs import Rig, Shot
from scene.study import UNDER_FROM_MM, coupled_rig, draw_lying, draw_rig, draw_shot, draw_shot_of_many, draw_unit, write_one

Way = Literal["beside", "under", "three", "tag", "above", "pair"]
BESIDE_MM = (40.0, 220.0)
HIGH_MM = (1000.0, 1600.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What was done by hand, beside the rig: the print's scale on its axes, the ground's rise from sheet to coupling."""

    print_scale: tuple[float, float]
    rise_mm: float
    drawn_mm: tuple[float, float]

    @property
    def bars_mm(self) -> tuple[float, float]:
        """What a ruler reads on the bars, to half a millimetre."""
        across, up = (round(2 * drawn * scale) / 2 for drawn, scale in zip(self.drawn_mm, self.print_scale, strict=True))
        return across, up


def write_hands(
    folder: Path, kit: Kit, *, way: Way, count: int, first: int, seed: int, width_px: int, tell: Callable[[str], None]
) -> None:
    """Rigs `first` to `first + count` of a way of taking the picture; each depends on seed, way and number alone."""
    ways = ("beside", "under", "three", "tag", "above", "pair")
    for number in range(first, first + count):
        rng = np.random.default_rng([seed, ways.index(way), number])
        if way == "pair":
            _write_pair(folder, kit, rng, number, seed=seed, width_px=width_px, tell=tell)
            continue
        rig, hands = draw_hands(rng, number, way, kit)
        unit = draw_unit(rng, width_px)
        name = f"{way}-{seed:03d}-{number:04d}"
        shares = np.linspace(-1.0, 1.0, 3) if way == "three" else (0.0,)
        shots = [_shot(rng, rig, way, float(share)) for share in shares]
        files = [f"{name}.jpg"] if len(shots) == 1 else [f"{name}-{photo}.jpg" for photo in range(1, len(shots) + 1)]
        write_one(folder, name, files, rig, shots, unit, printed_at(kit, hands), seed=seed * 10_000 + number, hands=hands)
        tell(f"{name}: {rig.words}")


def _write_pair(
    folder: Path, kit: Kit, rng: np.random.Generator, number: int, *, seed: int, width_px: int, tell: Callable[[str], None]
) -> None:
    """NAME-before: the bare ball with a bar tag; NAME-after: coupled, sunk by 10-80 mm, the bar pitched by up to 2 degrees.

    In every other pair the sheet is stood up anew in between; the second photograph is taken from elsewhere.
    """
    rig, hands = draw_hands(rng, number, "pair", kit)
    rig = replace(
        rig,
        heading_deg=float(np.copysign(rng.uniform(50, 80), rig.heading_deg)),
        bar_tag_mm=(float(rng.uniform(75, 150)), float(rng.uniform(36, 60)), float(rng.uniform(-75, -25))),
    )
    unit, sank_mm = draw_unit(rng, width_px), float(rng.uniform(10, 80))
    later = replace(
        rig,
        words=rig.words.replace("ball,", "ball coupled,"),
        height_mm=rig.height_mm - sank_mm,
        lift_mm=rig.lift_mm - sank_mm,
        coupled=True,
        laden=True,
        pitch_deg=float(rng.uniform(-2, 2)),
    )
    hands_later = hands
    if number % 2:
        stood = draw_hands(rng, number, "pair", kit)
        later = replace(later, standing=stood[0].standing, ball_mm=(rig.ball_mm[0] + float(rng.uniform(-20, 20)), stood[0].ball_mm[1]))
        hands_later = replace(hands, rise_mm=stood[1].rise_mm)
    for name, one, by in (("before", rig, hands), ("after", later, hands_later)):
        stem = f"pair-{seed:03d}-{number:04d}-{name}"
        shot = _shot(rng, one, "pair", 0.0)
        write_one(folder, stem, [f"{stem}.jpg"], one, [shot], unit, printed_at(kit, by), seed=seed * 10_000 + number, hands=by)
    tell(f"pair-{seed:03d}-{number:04d}: {rig.words}, sank {sank_mm:.1f} mm")


def draw_hands(rng: np.random.Generator, number: int, way: Way, kit: Kit) -> tuple[Rig, Hands]:
    """A rig, its sheet as it was stood, and what else was done by hand."""
    rig = draw_rig(rng, number)
    side = float(rng.choice([-1.0, 1.0]))
    if way == "under":
        height = float(rng.uniform(UNDER_FROM_MM, 600.0))
        x_mm = float(rng.uniform(-15.0, 15.0))
    else:
        height = float(rng.uniform(300.0, 600.0))
        x_mm = side * float(rng.uniform(*BESIDE_MM))
        if height >= UNDER_FROM_MM - 5 or abs(x_mm) < 150.0:  # a low ball has its nut where a near board would be
            height = max(height, UNDER_FROM_MM)
    heading = -side * float(rng.uniform(15, 60)) if way != "under" else float(rng.choice([-1.0, 1.0]) * rng.uniform(15, 60))
    rig = replace(
        rig,
        words=f"random rig by hands, {rig.vehicle}, {rig.finish} ball, sheet {'under' if way == 'under' else 'beside'} it",
        height_mm=round(height, 3),
        lift_mm=float(np.clip(height - 420 + rng.uniform(-25, 25), -60, 150)),
        ball_mm=(round(x_mm, 3), round(float(rng.uniform(-20, 20)), 3)),
        heading_deg=heading,
        standing=Standing(
            gap_mm=float(rng.uniform(-0.5, 0.5)),
            lean_deg=float(rng.normal(0, 0.5)),
            roll_deg=float(rng.normal(0, 0.3)),
            turn_deg=float(rng.normal(0, 4.0)),
        ),
        lying=draw_lying(rng) if way == "three" else None,
    )
    if way == "tag":
        rig = coupled_rig(rng, rig)
        rig = replace(rig, tag_off_mm=float(rng.normal(0, 1.5)))
    scale = float(rng.uniform(0.94, 1.0))
    print_scale = (scale, scale * (1 + float(rng.normal(0, 0.001))))
    return rig, Hands(print_scale=print_scale, rise_mm=float(rng.normal(0, 0.002)) * abs(x_mm), drawn_mm=kit.bars_mm)


def _shot(rng: np.random.Generator, rig: Rig, way: Way, share: float) -> Shot:
    if way == "three":
        return draw_shot_of_many(rng, rig, share)
    shot = draw_shot(rng, rig)
    if way != "above":
        return shot
    return replace(shot, place_mm=(shot.place_mm[0], shot.place_mm[1], float(rng.uniform(*HIGH_MM))))


def printed_at(kit: Kit, hands: Hands) -> Kit:
    """The kit as this printer made it."""

    def scaled(piece: Print | None) -> Print | None:
        if piece is None:
            return None
        across, up = hands.print_scale
        return replace(piece, width_mm=piece.width_mm * across, height_mm=piece.height_mm * up)

    upright = scaled(kit.upright)
    assert upright is not None
    return replace(
        kit, upright=upright, ground=scaled(kit.ground), tag=scaled(kit.tag), bar_tag=scaled(kit.bar_tag)
    )
