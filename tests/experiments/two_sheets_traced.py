"""What a second upright sheet in the picture gives: path-traced pictures measured with it and as if it were not there.

    python sample_images/make_scenes.py --kit KIT --second-kit KIT2 --study FOLDER --hands level --n 20 --seed 31
    python sample_images/make_scenes.py --kit KIT --second-kit KIT2 --study FOLDER --hands two --n 20 --seed 31
    python -m tests.experiments.two_sheets_traced FOLDER

Everything is drawn that hands do (`sample_images/scene/sides.py`). Trailers: the pitch by marks to one pixel. Couplings with a
sheet on either side: the height by the bare ball as the program finds it, and by its centre picked to half a pixel.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from photomeasure import levelling, pipeline
from photomeasure.asked.bars import Bars
from photomeasure.asked.level import LevelRequest
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused, View, look

MARK_PX, PICK_PX = 1.0, 0.5
Judged = tuple[float, float] | str  # error and standard uncertainty, or why not


def alone(request: Request) -> tuple[View, ...] | Refused:
    """What is seen, without the second sheet."""
    views = look(request)
    if isinstance(views, Refused):
        return views
    return tuple(
        replace(view, finding=replace(view.finding, second=None), second_number=None, second_answers=())
        for view in views
    )


def _asked(told: Path, truth: dict[str, Any], **more: Any) -> Request:
    return Request(
        photos=tuple(told.with_name(file) for file in truth["files"]),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
        state=State(coupled=False, laden=False, level_ground=True),
        **more,
    )


def _marked(told: Path, px: Any, sigma_px: float) -> tuple[tuple[float, float], ...]:
    rng = np.random.default_rng(list(told.name.encode()))
    return tuple((float(x), float(y)) for x, y in np.array(px) + rng.normal(0.0, sigma_px, np.shape(px)))


def pitch(told: Path, truth: dict[str, Any], seen: Callable[[Request], tuple[View, ...] | Refused]) -> Judged:
    level = truth["level"]
    marks = _marked(told, [*level["ground_px"], *level["rail_px"]], MARK_PX)
    asked = LevelRequest(
        request=_asked(told, truth), ground_px=marks[:2], rail_px=marks[2:], pick_u_px=MARK_PX, nose=level["nose"]
    )
    with patch.object(levelling, "look", seen):
        found = levelling.measure_level(asked)
    if isinstance(found, Refused):
        return found.refusal.code
    return found.pitch_deg - level["pitch_deg"], found.u_deg


def height(
    told: Path, truth: dict[str, Any], seen: Callable[[Request], tuple[View, ...] | Refused], *, picked: bool
) -> Judged:
    more = {"centres_px": _marked(told, truth["centre_px"], PICK_PX), "pick_sigma_px": PICK_PX} if picked else {}
    with patch.object(pipeline, "look", seen):
        found = pipeline.measure(_asked(told, truth, **more))
    if isinstance(found, Refused):
        return found.refusal.code
    return found.estimate.height_mm - truth["height_mm"], found.estimate.u_mm


def row(name: str, found: list[tuple[float, float]], digits: int) -> str:
    errors, u = np.array(found).T
    figures = (
        errors.mean(),
        np.sqrt((errors**2).mean()),
        np.quantile(np.abs(errors), 0.95),
        np.abs(errors).max(),
        np.median(u),
    )
    shown = " | ".join(f"{value:.{digits}f}" for value in figures)
    birge, inside = np.sqrt(((errors / u) ** 2).mean()), 100 * (np.abs(errors) <= 2 * u).mean()
    return f"| {name} | {len(errors)} | {shown} | {birge:.2f} | {inside:.0f} % |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    ways: dict[str, Callable[[Path, dict[str, Any], Any], Judged]] = {
        "pitch, standing, degrees": pitch,
        "pitch, kneeling, degrees": pitch,
        "height by the ball, mm": lambda told, truth, seen: height(told, truth, seen, picked=False),
        "height by a pick, mm": lambda told, truth, seen: height(told, truth, seen, picked=True),
    }
    kept: dict[str, list[tuple[Judged, Judged]]] = {}
    for told in sorted((*folder.glob("level-*.toml"), *folder.glob("two-*.toml"))):
        truth = tomllib.loads(told.read_text(encoding="utf-8"))
        for name, judge in ways.items():
            kneeling = "kneeling" in truth["what"]
            if ("pitch" in name) != ("level" in truth) or ("level" in truth and ("kneeling" in name) != kneeling):
                continue
            both = judge(told, truth, look), judge(told, truth, alone)
            kept.setdefault(name, []).append(both)
            print(told.stem, name, *both, flush=True)
    print(
        "| | pictures | mean | RMS | 95 % | worst | median u | Birge | inside 2 u |\n|---|---|---|---|---|---|---|---|---|"
    )
    for name, pairs in kept.items():
        done = [(two, one) for two, one in pairs if not isinstance(two, str) and not isinstance(one, str)]
        for number, which in enumerate(("two sheets", "one sheet")):
            if done:
                print(row(f"{name}, {which}", [pair[number] for pair in done], 3 if "pitch" in name else 2))


if __name__ == "__main__":
    main()
