"""Photographs that were edited, stitched or damaged: inside the interval, refused, in doubt, or sure and wrong?

By hand: python -m tests.experiments.hard_study FOLDER [FOLDER...] [--rigs 16] [--workers 4]

Each rig with one photograph (a `.toml` with its truth beside, as `make_scenes.py` writes them) is edited in every way of
`hard_rows` and measured twice: with the centre where the program finds it, and marked where the edit puts it. Three kinds
of right: inside the interval, refused, or told with a verdict that is not sure. Wrong: outside the interval with a sure
verdict. Printed beside: a sure verdict beside three warnings or more. Sure is what has no doubt of its own: the rule counts as read, and
what it asks of the rig's state is left out. HARD_GROUP in the environment: only rows of that group.
"""

from __future__ import annotations

import io
import os
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageOps

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from tests.experiments.hard_edits import Known, Picture, Points
from tests.experiments.hard_outcomes import PARTS, Outcome, of_result, run
from tests.experiments.hard_rows import Row, rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """A photograph with its truth: upright grey pixels, EXIF without its orientation, and where things are in it."""

    name: str
    truth: dict[str, Any]
    grey: Picture
    exif: Image.Exif
    known: Known


def rig_of(told: Path) -> Rig:
    truth = tomllib.loads(told.read_text(encoding="utf-8"))
    image = Image.open(told.with_name(truth["files"][0]))
    upright = ImageOps.exif_transpose(image)
    photo = truth["photo"][0]
    turn = np.array(photo["cam_from_world"])
    in_cam = turn[:, :3] @ np.array([truth["sheet"]["x_mm"], truth["sheet"]["y_mm"], 150.0]) + turn[:, 3]
    sheet_px = photo["focal_px"] * in_cam[:2] / in_cam[2] + np.array(photo["principal_px"])
    known = Known(sheet_px=sheet_px, centre_px=np.array(truth["centre_px"][0]))
    return Rig(name=told.stem, truth=truth, grey=np.asarray(upright.convert("L")), exif=upright.getexif(), known=known)


def saved(picture: Picture, row: Row, rig: Rig, path: Path) -> Path:
    buffer = io.BytesIO()
    image = Image.fromarray(picture)
    if row.exif:
        image.save(buffer, "JPEG", quality=row.quality, exif=rig.exif)
    else:
        image.save(buffer, "JPEG", quality=row.quality)
    path.write_bytes(buffer.getvalue())
    return path


def judged(rig: Rig, row: Row, folder: Path) -> Iterator[Outcome]:
    picture, moved = row.edit(rig.grey, rig.known)
    path = saved(picture, row, rig, folder / f"{rig.name}.jpg")
    at: Points = moved(rig.known.centre_px[None])[0]
    inside = bool((at > 0).all() and at[0] < picture.shape[1] and at[1] < picture.shape[0])
    for centre in ("found", "marked") if inside else ("found",):
        marks = ((float(at[0]), float(at[1])),) if centre == "marked" else ()
        yield measured(rig, row, path, centre, marks)


def measured(rig: Rig, row: Row, path: Path, centre: str, marks: tuple[tuple[float, float], ...]) -> Outcome:
    truth = rig.truth
    done = measure(
        Request(
            photos=(path,),
            rule=default_rule("ball-50").model_copy(update={"confidence": "read"}),
            centres_px=marks,
            bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
            state=State(coupled=truth["coupled"], laden=True, level_ground=True),
        )
    )
    return of_result(done, row.what, rig.name, centre, float(truth["height_mm"]))


def _one(job: tuple[str, int]) -> list[Outcome]:
    """One part of the rows of the asked group for one rig, by the path of its truth."""
    rig, group = rig_of(Path(job[0])), os.environ.get("HARD_GROUP", "")
    found: list[Outcome] = []
    with tempfile.TemporaryDirectory() as folder:
        for row in [row for row in rows() if group in ("", row.group)][job[1] :: PARTS]:
            found += judged(rig, row, Path(folder))
    return found


def main() -> None:
    run(__doc__ or "", _one, [(row.what, row.then) for row in rows()])


if __name__ == "__main__":
    main()
