"""Many small rigs over a cluster, memory over time: `python -m tests.experiments.cluster_many RIGS WORKERS SECONDS [shared]`.

Each rig is a picture as a chat program sends it (1600 px, saved anew at one of sixteen qualities), with a comment of its own, so
that no two files are the same, and bars of its own, so that no two heights are; every hundredth file is cut in the middle. A
scheduler and workers are started as a person starts them, and `photomeasure batch LIST --cluster` beside them (`shared`: with
`--photos-shared`, so that no photograph is sent). Half way one worker is killed, at three fifths the command is broken off
(Ctrl-C), the same command goes on to the end, and another worker is killed. Every ten seconds: records there, memory of the
command, the scheduler and every worker; at the end of each part processor time and bytes a rig. At the end a sample of the rigs
is measured by one process of this machine: rows of the table and records have to be the same to the last digit. Nothing goes on
for longer than SECONDS.
"""

from __future__ import annotations

import contextlib
import csv
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import psutil
from PIL import Image

from tests.sample_requests import SAMPLES

ROOT = Path(__file__).parents[2]
COMPARED, EVERY_S, CUT_EVERY = 48, 10.0, 100
BATCH = [sys.executable, "-m", "photomeasure", "batch"]
HEAD = ("rig", "photo", "bar_x_mm", "bar_y_mm")


def pictures() -> list[bytes]:
    with Image.open(SAMPLES / "chat.jpg") as picture:
        exif, made = picture.getexif(), []
        for quality in range(80, 96):
            kept = BytesIO()
            picture.save(kept, "JPEG", quality=quality, exif=exif)
            made.append(kept.getvalue())
    return made


def yard(folder: Path, rigs: int) -> list[tuple[str, str, str, str]]:
    """Photographs (a comment is the marker FF FE with two bytes of length, after the first two bytes) and rows of the list."""
    folder.mkdir()
    sources, rows = pictures(), []
    for number in range(rigs):
        data, comment = sources[number % len(sources)], b"rig %08d" % number
        data = data[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + data[2:]
        path = folder / f"rig {number:06d}.jpg"
        path.write_bytes(data[: len(data) // 2] if number % CUT_EVERY == CUT_EVERY - 1 else data)
        rows.append((path.stem, path.name, f"{149 + 2 * number / rigs:.4f}", "150"))
    return rows


def written_list(path: Path, rows: list[tuple[str, str, str, str]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([HEAD, *rows])
    return path


@dataclass(kw_only=True)
class Cluster:
    """A scheduler and the command that keeps its workers; samples: when, records, command, scheduler, each worker (MB)."""

    scheduler: psutil.Process
    keeper: psutil.Process
    address: str
    begun: float = field(default_factory=time.monotonic)
    samples: list[tuple[float, int, float, float, dict[int, float]]] = field(default_factory=list)

    def workers(self) -> list[psutil.Process]:
        return [child for child in self.keeper.children() if "spawn_main" in " ".join(child.cmdline())]


@contextmanager
def cluster(place: Path, workers: int) -> Iterator[Cluster]:
    told = place / "scheduler.json"
    quiet = {"cwd": ROOT, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    command = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0"]
    scheduler = subprocess.Popen([*command, "--no-dashboard", "--scheduler-file", str(told)], **quiet)  # type: ignore[call-overload]
    while not told.is_file():
        time.sleep(0.2)
    command = [sys.executable, "-m", "distributed.cli.dask_worker", "--scheduler-file", str(told), "--nthreads", "1"]
    command += ["--nworkers", str(workers), "--no-dashboard", "--memory-limit", "0", "--local-directory", str(place)]
    keeper = subprocess.Popen(command, **quiet)  # type: ignore[call-overload]
    try:
        import distributed

        client_of: Any = distributed.Client
        with client_of(scheduler_file=str(told), set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=120)
            address = str(client.scheduler.address)
        yield Cluster(scheduler=psutil.Process(scheduler.pid), keeper=psutil.Process(keeper.pid), address=address)
    finally:
        for process in (keeper, scheduler):
            process.send_signal(signal.SIGINT)
        for process in (keeper, scheduler):
            process.wait(60)


def mb(process: psutil.Process) -> float:
    try:
        return float(process.memory_info().rss) / 1e6
    except psutil.Error:
        return 0.0


def records(out: Path) -> int:
    return sum(1 for entry in os.scandir(out) if entry.name.endswith(".json")) if out.exists() else 0


def watched(command: list[str], out: Path, there: Cluster, kill_at: int, break_at: int, until_s: float) -> None:
    """Run to its end, or until so many records are there; a worker is killed on the way."""
    process = psutil.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    killed, shown = False, time.monotonic() - there.begun
    begun, spent = costs(process, there), (0.0, 0.0, 0.0)
    had = records(out)
    while process.poll() is None:
        now, done = time.monotonic() - there.begun, records(out)
        if now >= shown:
            each = {worker.pid: mb(worker) for worker in there.workers()}
            there.samples.append((now, done, mb(process), mb(there.scheduler), each))
            sizes = sorted(each.values()) or [0.0]
            print(f"| {now:.0f} | {done} | {mb(process):.0f} | {mb(there.scheduler):.0f} | "
                  f"{sizes[0]:.0f}, {sizes[len(sizes) // 2]:.0f}, {sizes[-1]:.0f} |", flush=True)  # fmt: skip
            shown += EVERY_S
        with contextlib.suppress(psutil.Error):  # it has ended
            spent = costs(process, there)
        if not killed and done > kill_at:
            killed = True
            there.workers()[0].send_signal(signal.SIGKILL)
            print(f"| {now:.0f} | {done}: one worker killed | | | |")
        if done > break_at or now > until_s:
            process.send_signal(signal.SIGINT)
            process.wait(120)
            print(f"| {time.monotonic() - there.begun:.0f} | {records(out)}: broken off | | | |")
        time.sleep(0.5)
    made = max(records(out) - had, 1)
    command_s, scheduler_s, moved = (now - then for now, then in zip(spent, begun, strict=True))
    print(f"a rig of {made}: the command's processor {command_s / made * 1e3:.2f} ms, the scheduler's {scheduler_s / made * 1e3:.2f} ms, "
          f"sent over the loopback {moved / made / 1e3:.1f} kB", flush=True)  # fmt: skip


def costs(process: psutil.Process, there: Cluster) -> tuple[float, float, float]:
    """Processor seconds of the command and the scheduler so far, and bytes that went from process to process."""
    times = [one.cpu_times() for one in (process, there.scheduler)]
    sent = psutil.net_io_counters(pernic=True)["lo"].bytes_sent
    return times[0].user + times[0].system, times[1].user + times[1].system, float(sent)


def rows_of(table: Path) -> dict[str, dict[str, str]]:
    with table.open(encoding="utf-8") as stream:
        return {row["rig"]: row for row in csv.DictReader(stream)}


def record_of(folder: Path, rig: str) -> bytes:
    """Without the second in which it was made."""
    path = folder / f"{rig}.json"
    lines = path.read_bytes().splitlines() if path.is_file() else []
    return b"\n".join(line for line in lines if b'"computed"' not in line)


def _figures(row: dict[str, str]) -> dict[str, str]:
    """Without the day, and other rigs of the run: all photographs here are one picture, saved anew."""
    return {name: value for name, value in row.items() if name not in ("computed", "same_photo_as")}


def growth(there: Cluster, later: int) -> None:
    """Slopes over what came after so many records: a worker that was there throughout, the scheduler, the command."""
    late = [sample for sample in there.samples if sample[1] >= later]
    if len(late) < 3 or not set.intersection(*(set(sample[4]) for sample in late)):
        return
    done = np.array([sample[1] for sample in late]) / 1000
    slopes = [
        float(np.polyfit(done, [sample[4][pid] for sample in late], 1)[0])
        for pid in late[0][4]
        if all(pid in sample[4] for sample in late)
    ]
    scheduler = np.polyfit(done, [sample[3] for sample in late], 1)[0]
    print(f"growth after {later} records, MB in 1000 records of all: scheduler {scheduler:.2f}, workers "
          f"{min(slopes):.2f} to {max(slopes):.2f}, median {np.median(slopes):.2f} ({len(slopes)} workers)")  # fmt: skip


def main(rigs: int, workers: int, seconds: float, *options: str) -> None:
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        photos, out, here = place / "yard", place / "out", place / "here"
        rows = yard(photos, rigs)
        every = written_list(photos / "rigs.csv", rows)
        some = written_list(photos / "some.csv", rows[:: max(rigs // COMPARED, 1)])
        with cluster(place, workers) as there:
            command = [*BATCH, str(every), "--out", str(out), "--cluster", there.address, *options]
            print(
                "| s | records | command, MB | scheduler, MB | workers: smallest, middle, largest, MB |\n"
                + "|---" * 5
                + "|"
            )
            watched(command, out, there, rigs // 2, 3 * rigs // 5, seconds)
            broken_s = time.monotonic() - there.begun
            stamps = {path.name: path.stat().st_mtime_ns for path in out.glob("*.json")}
            watched(command, out, there, 3 * rigs // 4, rigs, seconds)
            took = time.monotonic() - there.begun
            growth(there, rigs // 5)
        kept = sum((out / name).stat().st_mtime_ns == stamp for name, stamp in stamps.items())
        table = rows_of(out / "table.csv")
        done = [row for row in table.values() if row["height_mm"]]
        print(f"{rigs} rigs, {workers} workers: broken off after {broken_s:.0f} s with {len(stamps)} records, of which {kept} are as they "
              f"were at the end, {took:.0f} s in all; rows {len(table)}, measured {len(done)}, heights {len({r['height_mm'] for r in done})} "
              f"different, errors {sorted({r['error'] or r['refusal'] for r in table.values() if not r['height_mm']})}")  # fmt: skip
        subprocess.run([*BATCH, str(some), "--out", str(here), "--jobs", "1"], cwd=ROOT, stdout=subprocess.DEVNULL)
        alone = rows_of(here / "table.csv")
        unlike = [rig for rig, row in alone.items() if _figures(row) != _figures(table.get(rig, {}))]
        other = [rig for rig in alone if record_of(here, rig) != record_of(out, rig)]
        print(
            f"{len(alone)} of them measured by one process: rows that differ {len(unlike)} {unlike[:3]}, records {len(other)} {other[:3]}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]), *["--photos-shared"][: len(sys.argv) - 4])
