"""Path-traced rigs with everything drawn that hands do, rendered and measured in one go, each in the ways people measure it. By hand.

    python -m tests.experiments.hands_judged --kit KIT --out FOLDER --seed 971 --rigs beside:60 under:40 above:60 tag:30 three:30
        [--first N] [--workers 16] [--seconds 380] [--width 3200] [--tracer cuda_ad_rgb] [--keep 12]
    python -m tests.experiments.hands_judged --measured FOLDER --out OTHER       rigs that were rendered before
    python -m tests.experiments.hands_table FOLDER...

KIT as `photomeasure target --out` writes it. "p1000", "p980" and "p970" are beside the coupling too, their prints at 100, 98
and 97 % of their size. Each worker takes the next rig until the time is up; what was measured is in FOLDER/*.jsonl, the truths beside it,
and the pictures of the --keep that are furthest off.
"""

from __future__ import annotations

import argparse
import gc
import json
import multiprocessing
import os
import sys
import time
import tomllib
import traceback
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from photomeasure.verdict.rests_on import rests_on
from tests.experiments.hands_truth import effects

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
PRINTED = {"p1000": (1.0, 1.0), "p980": (0.98, 0.98), "p970": (0.97, 0.97)}
PICK_PX = 0.5
WRONG_BY = 0.03  # of bars that were typed from another print: neither as drawn nor as printed


def bars_of(truth: dict[str, Any], how: str) -> Bars:
    """read: as a ruler reads them; unread: as they are drawn; wrong: of a print that was 3 % larger, to half a millimetre; one: only
    the bar across is read so wrongly."""
    x_mm, y_mm = truth["bar_x_mm"], truth["bar_y_mm"]
    if how == "unread":
        x_mm, y_mm = truth["bars_drawn_mm"]
    if how == "wrong":
        x_mm, y_mm = (round(2.0 * (1.0 + WRONG_BY) * mm) / 2.0 for mm in (x_mm, y_mm))
    if how == "one":
        x_mm = round(2.0 * (1.0 + WRONG_BY) * x_mm) / 2.0
    return Bars(x_mm=x_mm, y_mm=y_mm)


def ways_of(truth: dict[str, Any]) -> list[tuple[str, str]]:
    """How the centre is told, and how the bars were typed."""
    if truth["coupled"]:
        return [("tag", "read"), ("tag", "unread"), ("tag", "wrong")]
    return [
        ("ball", "read"),
        ("pick", "read"),
        ("ball", "unread"),
        ("ball", "wrong"),
        ("pick", "unread"),
        ("ball", "one"),
    ]


def measured(told: Path, typed: Collection[str]) -> Iterator[dict[str, Any]]:
    """One line for each way of measuring the rig of a truth file."""
    truth = tomllib.loads(told.read_text(encoding="utf-8"))
    rng = np.random.default_rng(sum(told.stem.encode()))
    picks = [
        (float(x), float(y))
        for x, y in np.array(truth["centre_px"]) + rng.normal(0.0, PICK_PX, (len(truth["files"]), 2))
    ]
    for centre, bars in ways_of(truth):
        if bars not in typed:
            continue
        done = measure(
            Request(
                photos=tuple(told.with_name(file) for file in truth["files"]),
                rule=default_rule("ball-50").model_copy(
                    update={"confidence": "read"}
                ),  # what is doubted is the measurement alone
                centres_px=tuple(picks) if centre == "pick" else (),
                bars=bars_of(truth, bars),
                state=State(coupled=True, laden=True, level_ground=True)
                if truth["coupled"]
                else State(coupled=False, laden=True, level_ground=True),
            )
        )
        line: dict[str, Any] = {"rig": told.stem, "centre": centre, "bars": bars, "truth_mm": truth["height_mm"]}
        if isinstance(done, Refused):
            yield {**line, "refused": done.refusal.code}
            continue
        low, high = done.expanded.interval_mm
        yield {
            **line,
            "height_mm": done.estimate.height_mm,
            "u_mm": done.estimate.u_mm,
            "interval_mm": [low, high],
            "verdict": done.verdict.verdict,
            "band_mm": [350.0, 460.0],
            "doubts": [doubt.why for doubt in done.doubts],
            "warnings": list(done.warnings),
            "rests": list(rests_on(done.estimate, done.expanded.interval_mm, done.verdict)),
            "scale": [done.estimate.value("print.x"), *truth["print_scale"]],
            "ball": None if done.ball is None else [done.ball.diameter_mm, done.ball.u_mm],
            "effects": effects(done.estimate, truth) if bars == "read" else {},
        }


def render(job: tuple[str, int], options: argparse.Namespace) -> Path:
    """Render one rig in this process; its truth file."""
    sys.path.insert(0, str(SAMPLES))
    (rig, number), kit, folder = job, options.kit, Path(options.work)
    import drjit  # type: ignore[import-not-found]
    from make_scenes import main as make  # type: ignore[import-not-found]
    from scene import hands  # type: ignore[import-not-found]

    drjit.set_thread_count(1)

    hands.PRINTED = PRINTED.get(rig, (0.94, 1.0))
    way = "beside" if rig in PRINTED else rig
    seed = options.seed + (0 if way == rig else 1 + list(PRINTED).index(rig))
    of_rig = f"--kit {kit} --study {folder / rig} --hands {way} --n 1 --first {number} --seed {seed}"
    made = make([*of_rig.split(), "--width", str(options.width), "--tracer", options.tracer])
    gc.collect()
    drjit.flush_malloc_cache()  # many workers share one card
    if made != 0:
        raise RuntimeError(f"{rig} {number} was not rendered")
    told = sorted((folder / rig).glob(f"*-{number:04d}.toml"))[-1]
    for path in sorted((folder / rig).glob(f"*-{number:04d}*")):
        path.rename(path.with_name(path.name.replace(way, rig, 1)))
    named = told.with_name(told.name.replace(way, rig, 1))
    named.write_text(named.read_text(encoding="utf-8").replace(f'"{way}-', f'"{rig}-'), encoding="utf-8")
    return named


def work(jobs: Any, options: argparse.Namespace, ends: float) -> None:
    """Takes the next rig until none is left or the time is up."""
    cv2.setNumThreads(1)
    out = options.out / f"lines-{os.getpid()}.jsonl"
    while time.time() < ends and (job := jobs.get()) is not None:
        began = time.time()
        try:
            told = render(job, options) if isinstance(job, tuple) else job
            rendered = time.time()
            shrunk = isinstance(job, tuple) and job[0] in PRINTED
            with out.open("a", encoding="utf-8") as file:
                for line in measured(told, ("read", "unread") if shrunk else options.bars):
                    file.write(json.dumps(line) + "\n")
            (options.out / told.name).write_bytes(told.read_bytes())
            print(
                f"{told.stem}: rendered in {rendered - began:.0f} s, measured in {time.time() - rendered:.0f} s",
                flush=True,
            )
        except Exception:
            with (options.out / "errors.txt").open("a", encoding="utf-8") as file:
                file.write(f"{job}\n{traceback.format_exc()}\n")


def ordered(rigs: list[str], first: int) -> list[tuple[str, int]]:
    """Every kind of rig by turns, so that each has its share when the time is up."""
    wanted = [(name, int(count)) for name, _, count in (one.partition(":") for one in rigs)]
    spread = [((i + 0.5) / count, name, first + i) for name, count in wanted for i in range(count)]
    return [(name, number) for _, name, number in sorted(spread)]


def keep_worst(options: argparse.Namespace) -> None:
    """The pictures of those that are furthest off in their own uncertainty, bars as they were read."""
    lines = [json.loads(line) for path in options.out.glob("*.jsonl") for line in path.read_text().splitlines()]
    off = {
        line["rig"]: abs(line["height_mm"] - line["truth_mm"]) / line["u_mm"]
        for line in lines
        if line["bars"] == "read" and line["centre"] != "pick" and "refused" not in line
    }
    for rig in sorted(off, key=lambda rig: -off[rig])[: options.keep]:
        for path in options.work.glob(f"*/{rig}*.jpg"):
            (options.out / path.name).write_bytes(path.read_bytes())


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--kit", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--work", type=Path, default=Path("/tmp/hands_judged"), help="pictures while they are needed")
    parser.add_argument("--measured", type=Path, help="folder of rigs that were rendered before")
    parser.add_argument("--rigs", nargs="*", default=[], help="kind:count")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=971)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=36000.0)
    parser.add_argument("--width", type=int, default=3200)
    parser.add_argument("--tracer", default="llvm_ad_rgb")
    parser.add_argument("--bars", nargs="*", default=["read", "unread", "wrong", "one"], help="how they are typed")
    parser.add_argument("--keep", type=int, default=0)
    options = parser.parse_args()
    ends = time.time() + options.seconds
    options.out.mkdir(parents=True, exist_ok=True)
    several = multiprocessing.get_context("spawn")
    jobs = several.Queue()
    rendered = [] if options.measured is None else sorted(options.measured.glob("*.toml"))
    for job in [*rendered, *ordered(options.rigs, options.first), *([None] * options.workers)]:
        jobs.put(job)
    workers = [several.Process(target=work, args=(jobs, options, ends)) for _ in range(options.workers)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(max(1.0, ends + 25.0 - time.time()))
        if worker.is_alive():
            worker.terminate()
    jobs.cancel_join_thread()
    keep_worst(options)


if __name__ == "__main__":
    main()
