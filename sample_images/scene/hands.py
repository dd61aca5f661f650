"""Random rigs as hands prepare and photograph them: print, paper, foot, ground, turn and tag are as wrong as people make them.

`study.py` keeps print, foot and ground exact; here everything is drawn. One sigma unless said otherwise.

- Print: 0.94-1.0 of its size (rectangular) with 0.1 % between its axes, its middle 1.5 mm off the paper's. The paper itself
  is of its own size to 0.5 mm, so that the margins grow where the print shrinks.
- Bars: read to half a millimetre on a ruler that errs by up to 0.2 mm (rectangular, the same on both), before paper and
  print grew by up to 0.1 % with the air (rectangular, either way).
- Foot: cut to +/-0.5 mm (rectangular) and askew by 0.2 degrees; then pressed on the ground, both ends on grit and texture
  that only lift (exponential, 0.3 mm each). Gap and roll of the sheet follow from that.
- Ground under the coupling: texture 0.5 mm, and a fall or rise of 2 mm a metre from the foot line. The ground sheet lies on
  grit (exponential, 0.2 mm), out of flat by 0.1 degrees on both axes.
- The sheet leans by 0.5 degrees and is turned by 4; depth +/-20 mm (rectangular) against the plane through the foot line's
  middle; a tag is placed to 1.5 mm. Camera as in `study.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from scene.kit_prints import Kit, Lying, Standing
from scene.paper import Page, Print, Sheet, on_paper
from scene.rigs import Rig, Shot
from scene.study import (
    UNDER_FROM_MM,
    coupled_rig,
    draw_lying,
    draw_rig,
    draw_shot,
    draw_shot_of_many,
    draw_unit,
    write_one,
)

Way = Literal["beside", "under", "three", "tag", "above", "pair", "two-tags", "two", "level"]
BESIDE_MM = (40.0, 220.0)
HIGH_MM = (1000.0, 1600.0)


TEXTURE_MM, GRIT_MM, CUT_MM, ASKEW_DEG = 0.5, 0.3, 0.5, 0.2
RULER_MM, GROWTH = 0.2, 0.001
PRINTED = (0.94, 1.0)  # of its size, rectangular


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What was done by hand, beside the rig: print and paper, how its line was cut and read, the ground's rise.

    print_scale: of the printed size on both axes when the bars were read; growth: of paper and print since.
    below_mm: paper left below the middle of the foot line; askew_deg: how the cut falls to the right of the line.
    rise_mm: of the ground from the sheet to the coupling.
    """

    print_scale: tuple[float, float]
    rise_mm: float
    drawn_mm: tuple[float, float]
    ruler_mm: float = 0.0
    growth: float = 0.0
    paper_off_mm: tuple[float, float] = (0.0, 0.0)  # of the paper's own size from A4's
    print_off_mm: tuple[float, float] = (0.0, 0.0)
    below_mm: float = 0.0
    askew_deg: float = 0.0

    @property
    def bars_mm(self) -> tuple[float, float]:
        """What a ruler reads on the bars, to half a millimetre."""
        read = [drawn * scale + self.ruler_mm for drawn, scale in zip(self.drawn_mm, self.print_scale, strict=True)]
        across, up = (round(2 * mm) / 2 for mm in read)
        return across, up

    @property
    def scale_seen(self) -> tuple[float, float]:
        """Of the print in the photograph."""
        across, up = (scale * (1 + self.growth) for scale in self.print_scale)
        return across, up


def write_hands(
    folder: Path, kit: Kit, *, way: Way, count: int, first: int, seed: int, width_px: int, tell: Callable[[str], None]
) -> None:
    """Rigs `first` to `first + count` of a way of taking the picture; each depends on seed, way and number alone."""
    ways = ("beside", "under", "three", "tag", "above", "pair", "two-tags", "two", "level")
    for number in range(first, first + count):
        rng = np.random.default_rng([seed, ways.index(way), number])
        if way in ("pair", "two-tags"):
            _write_pair(folder, kit, rng, number, seed=seed, width_px=width_px, two_tags=way == "two-tags", tell=tell)
            continue
        if way in ("two", "level"):
            from scene.sides import WRITERS

            name = f"{way}-{seed:03d}-{number:04d}"
            tell(f"{name}: {WRITERS[way](folder, kit, rng, name, number, seed=seed, width_px=width_px)}")
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
    folder: Path,
    kit: Kit,
    rng: np.random.Generator,
    number: int,
    *,
    seed: int,
    width_px: int,
    two_tags: bool,
    tell: Callable[[str], None],
) -> None:
    """NAME-before: the bare ball with a bar tag; NAME-after: coupled, sunk by 10-80 mm, the bar pitched by up to 2 degrees.

    In every other pair the sheet is stood up anew in between; the second photograph is taken from elsewhere. two_tags: another
    tag further towards the vehicle or higher, where chains and cables hang less.
    """
    rig, hands = draw_hands(rng, number, "pair", kit)
    rig = replace(
        rig,
        heading_deg=float(np.copysign(rng.uniform(50, 80), rig.heading_deg)),
        bar_tag_mm=(float(rng.uniform(75, 150)), float(rng.uniform(36, 60)), float(rng.uniform(-75, -25))),
    )
    if two_tags:
        first = rig.bar_tag_mm
        assert first is not None
        ahead = first[0] + float(rng.uniform(85, 130))
        rig = replace(rig, second_bar_tag_mm=(ahead, float(rng.uniform(36, 60)), float(rng.uniform(-60, 40))))
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
    if number % 2:
        ball_mm = (rig.ball_mm[0] + float(rng.uniform(-20, 20)), round(float(rng.uniform(-20, 20)), 3))
        later = replace(later, standing=draw_standing(rng, hands.askew_deg), ball_mm=ball_mm)
    kind = "tags" if two_tags else "pair"
    for name, one in (("before", rig), ("after", later)):
        stem = f"{kind}-{seed:03d}-{number:04d}-{name}"
        shot = _shot(rng, one, "pair", 0.0)
        write_one(folder, stem, [f"{stem}.jpg"], one, [shot], unit, printed_at(kit, hands), seed=seed * 10_000 + number, hands=hands)
    tell(f"{kind}-{seed:03d}-{number:04d}: {rig.words}, sank {sank_mm:.1f} mm")


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
    hands = _draw_print(rng, kit, rise_mm=_rise_mm(rng, x_mm))
    rig = replace(
        rig,
        words=f"random rig by hands, {rig.vehicle}, {rig.finish} ball, sheet {'under' if way == 'under' else 'beside'} it",
        height_mm=round(height, 3),
        lift_mm=float(np.clip(height - 420 + rng.uniform(-25, 25), -60, 150)),
        ball_mm=(round(x_mm, 3), round(float(rng.uniform(-20, 20)), 3)),
        heading_deg=heading,
        standing=draw_standing(rng, hands.askew_deg),
        lying=_lying_on_grit(rng) if way == "three" else None,
    )
    if way == "tag":
        rig = coupled_rig(rng, rig)
        rig = replace(rig, tag_off_mm=float(rng.normal(0, 1.5)))
    return rig, hands


def _draw_print(rng: np.random.Generator, kit: Kit, *, rise_mm: float) -> Hands:
    scale = float(rng.uniform(*PRINTED))
    return Hands(
        print_scale=(scale, scale * (1 + float(rng.normal(0, 0.001)))),
        rise_mm=rise_mm,
        drawn_mm=kit.bars_mm,
        ruler_mm=float(rng.uniform(-RULER_MM, RULER_MM)),
        growth=float(rng.uniform(-GROWTH, GROWTH)),
        paper_off_mm=(float(rng.normal(0, 0.5)), float(rng.normal(0, 0.5))),
        print_off_mm=(float(rng.normal(0, 1.5)), float(rng.normal(0, 1.5))),
        below_mm=float(rng.uniform(-CUT_MM, CUT_MM)),
        askew_deg=float(rng.normal(0, ASKEW_DEG)),
    )


def _rise_mm(rng: np.random.Generator, aside_mm: float) -> float:
    """Of the ground that the coupling's height is meant from, above the plane under the sheet."""
    return float(rng.normal(0, 0.002)) * abs(aside_mm) + float(rng.normal(0, TEXTURE_MM))


def draw_standing(rng: np.random.Generator, askew_deg: float) -> Standing:
    """How a sheet stands that was cut so, its lower edge pressed on the ground: each end on what lies there.

    gap_mm is of the paper's edge, and the roll is the printed line's: it rises to the right by as much as the cut falls.
    """
    left, right = (float(rng.exponential(GRIT_MM)) for _ in range(2))
    return Standing(
        gap_mm=(left + right) / 2,
        lean_deg=float(rng.normal(0, 0.5)),
        roll_deg=float(np.degrees(np.arctan2(left - right, 210.0))) - askew_deg,
        turn_deg=float(rng.normal(0, 4.0)),
    )


def _lying_on_grit(rng: np.random.Generator) -> Lying:
    tilt_deg = (float(rng.normal(0, 0.1)), float(rng.normal(0, 0.1)))
    return replace(draw_lying(rng), lift_mm=float(rng.exponential(0.2)), tilt_deg=tilt_deg)


def _shot(rng: np.random.Generator, rig: Rig, way: Way, share: float) -> Shot:
    if way == "three":
        return draw_shot_of_many(rng, rig, share)
    shot = draw_shot(rng, rig)
    if way != "above":
        return shot
    return replace(shot, place_mm=(shot.place_mm[0], shot.place_mm[1], float(rng.uniform(*HIGH_MM))))


def printed_at(kit: Kit, hands: Hands) -> Kit:
    """The kit as this printer made it, on paper of its own size; the tags are cut out round their prints."""
    across, up = hands.scale_seen

    def scaled(piece: Print | None) -> Print | None:
        return None if piece is None else replace(piece, width_mm=piece.width_mm * across, height_mm=piece.height_mm * up)

    def cut(page: Page | None, below_mm: float) -> Print | None:
        return None if page is None else on_paper(page, _paper(page, hands), below_mm=below_mm)

    upright = cut(kit.upright_page, hands.below_mm) or scaled(kit.upright)
    assert upright is not None
    return replace(
        kit,
        upright=upright,
        ground=cut(kit.ground_page, 0.0) or scaled(kit.ground),
        tag=scaled(kit.tag),
        bar_tag=scaled(kit.bar_tag),
        second_bar_tag=scaled(kit.second_bar_tag),
    )


def _paper(page: Page, hands: Hands) -> Sheet:
    """The sheet of paper on which that page was printed, as large as it was when it was photographed."""
    grown = 1 + hands.growth
    return Sheet(
        width_mm=(page.width_mm + hands.paper_off_mm[0]) * grown,
        height_mm=(page.height_mm + hands.paper_off_mm[1]) * grown,
        scale=hands.scale_seen,
        off_mm=hands.print_off_mm,
    )
