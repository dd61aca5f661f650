"""100,000 damaged inputs over every parser and photographs, side by side: `python -m tests.experiments.fuzz_run SECONDS JOBS DIR`.

What: every door of `tests.fuzz.doors`, small photographs of every format, marks that a page sends, and whole measurements of
sample photographs whose data was damaged. Each input is written down before it is tried, so that one that ends its process is
kept; one that takes longer than SLOW_S or wants more than HUNGRY_MB of memory is kept too. Printed: a table with the number of
inputs, what came of them, the slowest and the hungriest; every kind of traceback once, its input as a file in DIR.
"""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from calib.outcome.errors import InputError
from calib.outcome.plain_text import steers
from calib.outcome.refusal import Refusal
from photomeasure.batch.workers import Died, Workers
from photomeasure.pipeline import Result
from photomeasure.seen.image import decode
from photomeasure.web.live.marks import marks_from
from tests.experiments.damaged_files import damaged, measured_or_code
from tests.experiments.fuzz_doors import random_changes
from tests.fuzz.doors import doors
from tests.fuzz.mutations import changed
from tests.fuzz.test_doors import LONGEST, NAMES, outcome
from tests.fuzz.test_photographs import KINDS, good
from tests.sample_requests import SAMPLES

SLOW_S, LONGEST_S, HUNGRY_MB = 5.0, 60, 400.0
MEASURED = tuple(
    name for name in ("within", "coupled", "above", "close-call", "chat") if (SAMPLES / f"{name}.jpg").exists()
)
LARGEST_KEPT = 3_000_000
MARKS = b"[[1020.5, 733.25, 1.5], null, [3.0, 4, 0]]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """So many inputs of one kind; folder: where inputs that did harm are kept."""

    kind: str
    seed: int
    count: int
    folder: Path


@dataclass(slots=True, kw_only=True)
class Came:
    """What came of a chunk. slowest: s; hungriest: MB that one input took more than all before it; kept: file names."""

    kind: str
    counts: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    hungriest: float = 0.0
    longest: int = 0
    faults: dict[str, str] = field(default_factory=dict)


class TooLongError(Exception):
    """An input that is still at work after LONGEST_S."""


def _ring(*_: object) -> None:
    raise TooLongError


def chunk(task: Chunk) -> Came:
    """In a process of its own."""
    came, rng = Came(kind=task.kind), np.random.default_rng([task.seed, *task.kind.encode()])
    now = task.folder / f"now-{os.getpid()}"
    signal.signal(signal.SIGALRM, _ring)
    with TemporaryDirectory() as place:
        attempt = _attempt(task.kind, Path(place), rng)
        for number in range(task.count):
            data, tried = attempt()
            now.write_bytes(data)
            begun, before = time.perf_counter(), _peak_mb()
            signal.alarm(LONGEST_S)
            try:
                said = tried()
            except Exception as error:
                last = traceback.extract_tb(error.__traceback__)[-1]
                said = "timeout" if isinstance(error, TooLongError) else "TRACEBACK"
                key = f"{task.kind}: {type(error).__name__} in {last.filename}:{last.lineno}: {str(error)[:200]}"
                came.faults.setdefault(key, _keep(task, number, data))
            finally:
                signal.alarm(0)
            took, more = time.perf_counter() - begun, _peak_mb() - before
            if took > SLOW_S:
                came.faults.setdefault(f"{task.kind}: {took:.0f} s", _keep(task, number, data))
            if number and more > HUNGRY_MB:
                came.faults.setdefault(f"{task.kind}: {more:.0f} MB", _keep(task, number, data))
            if said.startswith("OUTSIDE"):
                came.faults.setdefault(f"{task.kind}: {said}", _keep(task, number, data, LARGEST_KEPT))
            came.counts[said.partition(":")[0]] += 1
            came.slowest, came.hungriest = max(came.slowest, took), max(came.hungriest, more if number else 0.0)
    now.unlink()
    return came


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _keep(task: Chunk, number: int, data: bytes, largest: int = 300_000) -> str:
    name = f"{task.kind.replace(' ', '-')}-{task.seed}-{number}"
    if len(data) < largest and sum(1 for _ in task.folder.iterdir()) < 60:
        (task.folder / name).write_bytes(data)
    return name


def _attempt(kind: str, place: Path, rng: np.random.Generator) -> Callable[[], tuple[bytes, Callable[[], str]]]:
    """A function that gives the next input of this kind, and what tries it."""
    if kind in NAMES:

        def door() -> tuple[bytes, Callable[[], str]]:
            data = changed(doors()[kind].good, random_changes(rng))
            return data, lambda: _told(outcome(kind, data, place))

        return door
    if kind == "marks":

        def marks() -> tuple[bytes, Callable[[], str]]:
            data = changed(MARKS, random_changes(rng))
            return data, lambda: _marks(data)

        return marks
    if kind in KINDS:

        def picture() -> tuple[bytes, Callable[[], str]]:
            whole = good(kind)
            cut = len(whole) // 10 if rng.random() < 0.5 else len(whole)
            data = changed(whole[:cut], random_changes(rng)) + whole[cut:]
            return data, lambda: _decoded(data)

        return picture
    name = kind.removeprefix("measured ")
    whole, truth = (SAMPLES / f"{name}.jpg").read_bytes(), measured_or_code(SAMPLES / f"{name}.jpg")
    assert isinstance(truth, Result)
    path, truth_mm = place / "p.jpg", truth.estimate.height_mm

    def measurement() -> tuple[bytes, Callable[[], str]]:
        data = damaged(whole, rng)
        path.write_bytes(data)
        return data, lambda: _measured(path, truth_mm)

    return measurement


def _told(said: str) -> str:
    if said == "read":
        return said
    return "told" if len(said) < LONGEST and not steers(said.replace("\n", "")) else "TOLD AT LENGTH, OR WITH SIGNS"


def _marks(data: bytes) -> str:
    try:
        marks_from(data, 3)
    except InputError as error:
        return _told(str(error))
    return "read"


def _decoded(data: bytes) -> str:
    found = decode(Path("p.jpg"), data)
    if not isinstance(found, Refusal):
        return "read"
    return "its decoder ended" if "decoder stopped" in found.reason else "told"


def _measured(path: Path, truth_mm: float) -> str:
    found = measured_or_code(path)
    if isinstance(found, str):
        return "told"
    low, high = found.expanded.interval_mm
    off, U_mm = abs(0.5 * (low + high) - truth_mm), 0.5 * (high - low)
    if off <= U_mm:
        return "inside U"
    doubts = [str(one.why)[:80] for one in found.doubts if not one.why.startswith("The rule's band")]
    return f"OUTSIDE U, {'told' if doubts else 'SURE'}: {off:.2f} mm off by {U_mm:.2f} mm, {doubts}"


def chunks(folder: Path) -> list[Chunk]:
    """Some of every kind in turn, so that what stops early has tried all kinds."""
    each = {**dict.fromkeys((*NAMES, "marks"), (250, 22)), **dict.fromkeys(KINDS, (100, 25))}
    each |= {f"measured {name}": (20, 60) for name in MEASURED}
    rounds = max(rounds for _, rounds in each.values())
    return [
        Chunk(kind=kind, seed=seed, count=count, folder=folder)
        for seed in range(rounds)
        for kind, (count, times) in each.items()
        if seed < times
    ]


def main(seconds: float, jobs: int, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    tasks, begun, died = chunks(folder), time.monotonic(), 0
    by_kind: dict[str, Came] = {}
    with Workers(jobs, chunk) as workers:
        for number, came in workers.results(tasks):
            task = tasks[number]
            into = by_kind.setdefault(task.kind, Came(kind=task.kind))
            if isinstance(came, Died):
                died += 1
                into.counts["CRASH"] += 1
                print(f"CRASH ({came.how}) in {task}", flush=True)
            else:
                _add(into, came)
            if time.monotonic() - begun > seconds:
                workers.stop()
    _print(by_kind)
    print(f"in all {sum(sum(c.counts.values()) for c in by_kind.values())} inputs, {died} processes that died, "
          f"{time.monotonic() - begun:.0f} s by {jobs} processes")  # fmt: skip


def _add(into: Came, came: Came) -> None:
    into.counts += came.counts
    into.slowest, into.hungriest = max(into.slowest, came.slowest), max(into.hungriest, came.hungriest)
    into.faults |= {key: name for key, name in came.faults.items() if key not in into.faults}


def _print(by_kind: dict[str, Came]) -> None:
    print("| what | inputs | came of it | slowest, s | most memory of one, MB |\n|---|---|---|---|---|")
    for kind, came in by_kind.items():
        said = ", ".join(f"{what} {count}" for what, count in sorted(came.counts.items()))
        print(f"| {kind} | {sum(came.counts.values())} | {said} | {came.slowest:.2f} | {came.hungriest:.0f} |")
    for came in by_kind.values():
        for key, name in came.faults.items():
            print(f"{key} ({name})")


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]))
