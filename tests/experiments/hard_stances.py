"""Sheets that people stood wrongly: inside the interval, refused, told, or sure and wrong?

By hand: python -m tests.experiments.hard_stances FOLDER [FOLDER...] [--rigs 8] [--workers 4]

In each path-traced photograph (truth beside it) the sheet gives way to one that stands wrongly, composed with the camera's exact
geometry (`tests.scenes.pasted`); measured with the centre found and marked, alone and with the ground sheet before it. Counted
as in `hard_study`; "told" are those of which a sentence beside the verdict says what this mistake would do.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from calib.kit.kit import kit
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from photomeasure.verdict.rests_on import rests_on
from tests.experiments.hard_outcomes import PARTS, Outcome, of_result, run
from tests.scenes.pasted import Stance, ground_piece, picture, shots, upright_piece

DEG = float(np.pi / 180.0)
STANCES = {
    "as asked": (Stance(), "inside"),
    "not cut along the foot line": (Stance(uncut=True), "-12 by 1.2, nothing said"),
    "foot 20 mm off the ground": (Stance(gap_mm=20.0), "with the ground sheet -17 by 1.8"),
    "foot 60 mm off the ground": (Stance(gap_mm=60.0), "with the ground sheet -50 by 3.6"),
    "rolled by 3 degrees": (Stance(roll_rad=3 * DEG), "-6.4 by 1.2, nothing said"),
    "rolled by 8 degrees": (Stance(roll_rad=-8 * DEG), "-19.5 by 1.2, nothing said"),
    "rolled by 20 degrees": (Stance(roll_rad=20 * DEG), "-31 by 2.7"),
    "leaning by 5 degrees": (Stance(lean_rad=5 * DEG), ""),
    "leaning by 10 degrees": (Stance(lean_rad=10 * DEG), "+5 by 3.7"),
    "leaning by 15 degrees": (Stance(lean_rad=-15 * DEG), "+13 by 5.6"),
    "leaning by 25 degrees": (Stance(lean_rad=25 * DEG), "+39 by 9.8"),
    "on its side": (Stance(side=True), "-264 by 3.6, nothing said"),
    "40 mm folded under": (Stance(folded_mm=40.0), "+40 by 1.3, nothing said"),
    "100 mm behind the coupling": (Stance(behind_mm=100.0), "1.3 by 1.2"),
    "300 mm before the coupling": (Stance(behind_mm=-300.0), "4.0 by 1.2"),
    "print at 94 %, typed as drawn": (Stance(print_scale=0.94), "+29 by 1.2"),
    "print at 97 %, typed as drawn": (Stance(print_scale=0.97), ""),
}


def judged(told: Path, what: str, stance: Stance, folder: Path) -> Iterator[Outcome]:
    (shot,) = shots(told.stem, told.parent)
    truth: dict[str, Any] = dict(shot.truth)
    for ground in (False, True):
        stood = replace(stance, ground_sheet=ground)
        pieces = (*((ground_piece(stood),) if ground else ()), upright_piece(stood))
        path = folder / f"{told.stem}.jpg"
        exif = Image.open(told.with_name(truth["files"][0])).getexif()
        exif[0x0112] = 1
        Image.fromarray(picture(shot, pieces, np.random.default_rng(5)).astype(np.uint8)).save(
            path, quality=93, exif=exif
        )
        drawn, (mark,) = kit("a4").upright.bars_mm, truth["centre_px"]
        for centre in ("found", "marked"):
            done = measure(
                Request(
                    photos=(path,),
                    rule=default_rule("ball-50").model_copy(update={"confidence": "read"}),
                    centres_px=((float(mark[0]), float(mark[1])),) if centre == "marked" else (),
                    bars=Bars(x_mm=drawn[0], y_mm=drawn[1]),
                    state=State(coupled=truth["coupled"], laden=True, level_ground=True),
                )
            )
            name = f"{what}{', ground sheet' if ground else ''}"
            outcome = of_result(done, name, told.stem, centre, float(truth["height_mm"]))
            if not isinstance(done, Refused):
                told_of = rests_on(done.estimate, done.expanded.interval_mm, done.verdict)
                outcome = replace(outcome, rests_on=len(told_of))
            yield outcome


def _one(job: tuple[str, int]) -> list[Outcome]:
    found: list[Outcome] = []
    with tempfile.TemporaryDirectory() as folder:
        for what, (stance, _) in list(STANCES.items())[job[1] :: PARTS]:
            found += judged(Path(job[0]), what, stance, Path(folder))
    return found


def main() -> None:
    rows = [(f"{what}{ground}", then) for what, (_, then) in STANCES.items() for ground in ("", ", ground sheet")]
    run(__doc__ or "", _one, rows)


if __name__ == "__main__":
    main()
