"""Heights carried over by a bar tag, and sinks, on path-traced pairs of photographs: the whole program, another renderer.

    python sample_images/make_scenes.py --kit KIT --study FOLDER --hands pair --n 20 --seed 21
    python -m tests.experiments.pair_study FOLDER

Everything is drawn that hands do (`sample_images/scene/hands.py`); the trailer sinks the bar by 10-80 mm and pitches it by up
to 2 degrees; in every other pair the sheet is stood up anew in between.
"""

from __future__ import annotations

import argparse
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from photomeasure.asked.bars import Bars
from photomeasure.asked.carried import Carried
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.interval.carried import bar_of, carried_u_mm, sink_mm
from photomeasure.interval.pair import before_of
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One pair: errors and standard uncertainties of height and sink, mm; or why it was refused."""

    sheet_untouched: bool
    height: tuple[float, float] = (float("nan"), 0.0)
    sink: tuple[float, float] = (float("nan"), 0.0)
    carried_u_mm: float = 0.0
    refused: str = ""


def _asked(told: Path, truth: dict[str, Any], carried: Carried | None) -> Request:
    return Request(
        photos=tuple(told.with_name(file) for file in truth["files"]),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
        state=State(coupled=truth["coupled"], laden=truth["laden"], level_ground=True),
        carried=carried,
    )


def judged(told: Path) -> Outcome:
    later = told.with_name(told.name.replace("-before", "-after"))
    before, after = (tomllib.loads(path.read_text(encoding="utf-8")) for path in (told, later))
    untouched = before["sheet"] == after["sheet"]
    first = measure(_asked(told, before, None))
    if not isinstance(first, Result):
        return Outcome(sheet_untouched=untouched, refused=f"before: {first.refusal.code}")
    if not first.sightings.bar_tags:
        return Outcome(sheet_untouched=untouched, refused="before: no bar tag")
    bar = bar_of(first.estimate, first.sightings.bar_tags[0], first.sightings.bar_tags[1:])
    carried = Carried(**bar.model_dump(), record=told.name, sheet_untouched=untouched)
    second = measure(_asked(later, after, carried))
    if not isinstance(second, Result):
        return Outcome(sheet_untouched=untouched, refused=f"after: {second.refusal.code}")
    sank_mm, u_mm = sink_mm(second.estimate, carried)
    return Outcome(
        sheet_untouched=untouched,
        height=(second.estimate.height_mm - after["height_mm"], second.estimate.u_mm),
        sink=(sank_mm - (before["height_mm"] - after["height_mm"]), u_mm),
        carried_u_mm=carried_u_mm(second.estimate),
    )


def judged_as_one(told: Path) -> Outcome:
    """Both sides in one solution."""
    later = told.with_name(told.name.replace("-before", "-after"))
    before, after = (tomllib.loads(path.read_text(encoding="utf-8")) for path in (told, later))
    untouched = before["sheet"] == after["sheet"]
    asked = _asked(later, after, None)
    photos = (*asked.photos, *(told.with_name(file) for file in before["files"]))
    both = replace(asked, photos=photos, before_photos=len(before["files"]), sheet_untouched=untouched)
    found = measure(both)
    if not isinstance(found, Result):
        return Outcome(sheet_untouched=untouched, refused=found.refusal.code)
    known = before_of(found.estimate)
    assert known is not None
    return Outcome(
        sheet_untouched=untouched,
        height=(found.estimate.height_mm - after["height_mm"], found.estimate.u_mm),
        sink=(known.sank_mm - (before["height_mm"] - after["height_mm"]), known.u_sank_mm),
        carried_u_mm=known.carried_u_mm,
    )


def row(name: str, found: list[tuple[float, float]]) -> str:
    errors, u = np.array(found).T
    return (
        f"| {name} | {len(errors)} | {errors.mean():+.2f} | {np.sqrt((errors**2).mean()):.2f} | "
        f"{np.quantile(np.abs(errors), 0.95):.2f} | {np.abs(errors).max():.2f} | {np.median(u):.2f} | "
        f"{np.sqrt(((errors / u) ** 2).mean()):.2f} | {100 * (np.abs(errors) <= 2 * u).mean():.0f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--from-record", action="store_true", help="one after the other, as measure --from does")
    asked = parser.parse_args()
    outcomes = []
    for told in sorted(asked.folder.glob("*-before.toml")):
        if not told.with_name(told.name.replace("-before", "-after")).exists():
            continue  # a rendering that was stopped
        one = judged(told) if asked.from_record else judged_as_one(told)
        outcomes.append(one)
        said = (
            one.refused
            or f"height {one.height[0]:+.2f} (u {one.height[1]:.2f}), sink {one.sink[0]:+.2f} (u {one.sink[1]:.2f})"
        )
        print(f"{told.stem}, sheet {'untouched' if one.sheet_untouched else 'moved'}: {said}", flush=True)
    print("| | pairs | mean mm | RMS mm | 95 % mm | worst mm | median u | Birge | inside 2 u % |")
    print("|---|---|---|---|---|---|---|---|---|")
    done = [one for one in outcomes if not one.refused]
    print(row("height", [one.height for one in done]))
    for untouched, name in ((True, "sink, sheet untouched"), (False, "sink, sheet moved")):
        group = [one.sink for one in done if one.sheet_untouched is untouched]
        if group:
            print(row(name, group))


if __name__ == "__main__":
    main()
