"""Many small rigs over a cluster, memory over time: `python -m tests.experiments.cluster_many RIGS WORKERS SECONDS`.

Each rig is the picture as a chat program sends it (1600 px), with a comment of its own, so that no two files are the same. A local
scheduler with processes as workers; `photomeasure batch --cluster` beside it as a person starts it. A third of the way one worker
is killed; after SECONDS the command is interrupted (Ctrl-C) and begun again with the first rigs, which have to be kept. Every few
seconds: records there, memory of the command, the scheduler and the workers. At the end a part is measured by `batch` on this
machine, and the rows must be the same to the last digit.
"""

from __future__ import annotations

import csv
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.sample_requests import SAMPLES

ROOT = Path(__file__).parents[2]
COMPARED, EVERY_S = 64, 10.0


def yard(folder: Path, rigs: int) -> None:
    """Photographs that differ by a comment only (the marker FF FE with two bytes of length, after the first two bytes)."""
    folder.mkdir()
    data = (SAMPLES / "chat.jpg").read_bytes()
    for number in range(rigs):
        comment = b"rig %08d" % number
        head = b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment
        (folder / f"rig {number:06d}.jpg").write_bytes(data[:2] + head + data[2:])


def memory_mb(process: int) -> float:
    """Resident memory (Linux, proc(5))."""
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def rows(table: Path) -> dict[str, dict[str, str]]:
    with table.open(encoding="utf-8") as stream:
        return {row["rig"]: row for row in csv.DictReader(stream)}


def watched(command: list[str], out: Path, scheduler: Any, rigs: int, seconds: float) -> float:
    """Run to its end, or interrupt it after so many seconds; returns how long it took."""
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    begun, killed, shown = time.monotonic(), False, 0.0
    print("| s | records | command, MB | scheduler, MB | workers: largest, all, MB |\n|---|---|---|---|---|")
    while process.poll() is None:
        now = time.monotonic() - begun
        there = sum(1 for entry in os.scandir(out) if entry.name.endswith(".json")) if out.exists() else 0
        workers = [nanny.pid for nanny in scheduler.workers.values() if nanny.pid]
        if now >= shown:
            each = [memory_mb(pid) for pid in workers]
            own = memory_mb(process.pid)
            print(f"| {now:.0f} | {there} | {own:.0f} | {memory_mb(os.getpid()):.0f} | "
                  f"{max(each, default=0):.0f}, {sum(each):.0f} |", flush=True)  # fmt: skip
            shown += EVERY_S
        if not killed and there > rigs // 3:
            killed = True
            os.kill(workers[0], signal.SIGKILL)
            print(f"| {now:.0f} | one worker killed | | | |")
        if now > seconds:
            process.send_signal(signal.SIGINT)
            process.wait(120)
        time.sleep(0.5)
    return time.monotonic() - begun


def main(rigs: int, workers: int, seconds: float) -> None:
    import distributed

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        photos, out, some, here = place / "yard", place / "out", place / "some", place / "here"
        yard(photos, rigs)
        some.mkdir()
        for path in sorted(photos.iterdir())[:COMPARED]:
            shutil.copyfile(path, some / path.name)
        said = ["--bar-x", "150", "--bar-y", "150"]
        program = [sys.executable, "-m", "photomeasure", "batch"]
        started: Any = distributed.LocalCluster
        with started(
            n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1",
            silence_logs=50, memory_limit=0,
        ) as scheduler:  # fmt: skip
            to = ["--cluster", scheduler.scheduler_address]
            took = watched([*program, str(photos), "--out", str(out), *said, *to], out, scheduler, rigs, seconds)
            there = rows(out / "table.csv")
            done = [row for row in there.values() if row["height_mm"]]
            print(f"{len(done)} of {rigs} rigs measured in {took:.0f} s by {workers} workers: "
                  f"{took * workers / max(len(done), 1):.3f} worker seconds a rig; heights {sorted({r['height_mm'] for r in done})}; "
                  f"errors {sorted({r['error'] for r in there.values()})}")  # fmt: skip
            stamps = {path.name: path.stat().st_mtime_ns for path in out.glob("*.json")}
            begun = time.monotonic()
            subprocess.run([*program, str(some), "--out", str(out), *said, *to], cwd=ROOT, stdout=subprocess.DEVNULL)
            kept = sum((out / name).stat().st_mtime_ns == stamp for name, stamp in stamps.items())
            print(f"begun again with the first {COMPARED}: {kept} of {len(stamps)} records are as they were, "
                  f"{time.monotonic() - begun:.0f} s")  # fmt: skip
        subprocess.run([*program, str(some), "--out", str(here), *said], cwd=ROOT, stdout=subprocess.DEVNULL)
        unlike = [rig for rig, row in rows(here / "table.csv").items() if not _same(row, there.get(rig))]
        print(f"rows of {COMPARED} rigs measured on one machine that differ: {len(unlike)} {unlike[:3]}")


def _same(row: dict[str, str], other: dict[str, str] | None) -> bool:
    leave = {"photos", "same_photo_as"}  # the folder is another
    return other is not None and all(row[name] == other[name] for name in row if name not in leave)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
