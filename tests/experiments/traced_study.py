"""Height error and interval on path-traced photographs of random rigs: the whole program, another renderer.

Render, then judge, by hand:

    python sample_images/make_scenes.py --kit KIT --study FOLDER --n 40 --seed 11 [--photos 3] [--coupled]
    python sample_images/make_scenes.py --kit KIT --study FOLDER --hands beside --n 40 --seed 12
    python -m tests.experiments.traced_study FOLDER [--chat] [--unread] [--only beside]

The rigs are photographed as the instructions say, roughly, or three times from any height with the ground sheet; spreads
stand in `sample_images/scene/study.py`. Print and ground are exact there, the sheet stands on the ground and leans and
rolls as people stand it; with --hands everything is drawn that hands do (`scene/hands.py`), and a tag's placement counts.
Each bare ball is measured picked to half a pixel and found by the program, a coupled rig by its tag (placed exactly, so
that u is taken without the placement). --chat: shrunk to 1600 px, JPEG 70, no EXIF.
"""

from __future__ import annotations

import argparse
import io
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageOps

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.interval.budget import budget
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from tests.experiments.picture_study import Outcome, row

CHAT_PX, CHAT_QUALITY = 1600, 70


def shrunk_by_chat(path: Path, folder: Path) -> tuple[Path, float]:
    """The photograph as a chat program passes it on, and by how much it was shrunk."""
    picture = ImageOps.exif_transpose(Image.open(path))
    scale = CHAT_PX / max(picture.size)
    small = picture.resize((round(picture.width * scale), round(picture.height * scale)), Image.Resampling.LANCZOS)
    buffer = io.BytesIO()
    small.save(buffer, "JPEG", quality=CHAT_QUALITY)
    chat = folder / path.name
    chat.write_bytes(buffer.getvalue())
    return chat, scale


def judged(
    paths: tuple[Path, ...],
    truth: dict[str, Any],
    centre: str,
    centres_px: tuple[tuple[float, float], ...],
    name: str,
) -> Outcome:
    outcome = measure(
        Request(
            photos=paths,
            rule=default_rule("ball-50"),
            centres_px=centres_px if centre == "pick" else (),
            bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
            state=State(coupled=truth["coupled"], laden=True, level_ground=True),
        )
    )
    if isinstance(outcome, Refused):
        return Outcome(condition=name, centre=centre, refused=outcome.refusal.code)
    height_mm = float(truth["height_mm"])
    parts = {row.quantity: row.u_mm for row in budget(outcome.estimate)}
    verdict, inside = outcome.verdict.verdict, 350.0 <= height_mm <= 460.0
    return Outcome(
        condition=name,
        centre=centre,
        error_mm=outcome.estimate.height_mm - height_mm,
        u_mm=outcome.estimate.u_mm,
        placement_u_mm=0.0 if "print_scale" in truth else parts.get("tag placement", 0.0),
        verdict_wrong=not outcome.verdict.indicative
        and ((verdict == "within" and not inside) or (verdict in ("above", "below") and inside)),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--chat", action="store_true")
    parser.add_argument("--unread", action="store_true", help="both bars typed as they are drawn, without reading them")
    parser.add_argument("--only", default="", help="rigs whose names begin so")
    options = parser.parse_args()
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory() as temporary:
        for number, told in enumerate(sorted(options.folder.glob(f"{options.only}*.toml"))):
            truth, rng = tomllib.loads(told.read_text(encoding="utf-8")), np.random.default_rng([7, number])
            paths, centres_px = [], []
            for file, (x, y) in zip(truth["files"], truth["centre_px"], strict=True):
                shown, scale = told.with_name(file), 1.0
                if options.chat:
                    shown, scale = shrunk_by_chat(shown, Path(temporary))
                px = (np.array([x, y]) + 0.5) * scale - 0.5 + rng.normal(0.0, 0.5, 2)
                paths.append(shown)
                centres_px.append((float(px[0]), float(px[1])))
            where = "under" if "under it" in truth["what"] else "beside"
            name = where if len(paths) == 1 else f"{len(paths)} photographs, ground sheet, {where}"
            if "print_scale" in truth:
                name = f"hands, {told.stem.split('-')[0]}"
            if options.unread:
                drawn = truth.get("bars_drawn_mm", [150.0, 150.0])
                truth = {**truth, "bar_x_mm": drawn[0], "bar_y_mm": drawn[1]}
            for centre in ("tag",) if truth["coupled"] else ("pick", "ball"):
                one = judged(tuple(paths), truth, centre, tuple(centres_px), name)
                said = one.refused or f"{one.error_mm:+.2f} mm, u {one.u_mm:.2f}"
                print(f"{told.stem}, {truth['what']}, {centre}: {said}", flush=True)
                outcomes.append(one)
    print("| condition, centre | measured | mean mm | RMS mm | 95 % mm | worst mm | Birge | inside U % | | |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for condition in sorted({o.condition for o in outcomes}, reverse=True):
        for centre in dict.fromkeys(o.centre for o in outcomes):
            group = [o for o in outcomes if (o.condition, o.centre) == (condition, centre)]
            if group:
                print(row(f"{condition}, {centre}", group))


if __name__ == "__main__":
    main()
