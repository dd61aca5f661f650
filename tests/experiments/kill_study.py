"""The program ended at random moments, in turn by SIGKILL, SIGTERM and SIGHUP: `python -m tests.experiments.kill_study WHAT KILLS`.

measure: a photograph with picture and report; batch: twelve rigs by two processes into a folder that every other time is empty;
page: a dealer's and a customer's round, who try again until they are answered. After every end: what is there is whole, the
photographs are as they were, no process is left; after the last: the same command makes everything, once. A table is printed.
"""

from __future__ import annotations

import csv
import hashlib
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import numpy as np

from calib.outcome.errors import InputError
from calib.outcome.files import kind_of
from photomeasure.record.schema import read_record
from tests.batch.test_many_faults import alive, descendants
from tests.sample_requests import SAMPLES
from tests.web.enquiries.test_door_killed import Round, whole
from tests.web.test_serve import started

ROOT = Path(__file__).parents[2]
SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP)
LEAVE_S = 20.0  # in which every process of the program has to be gone
KINDS = {".json": "record", ".jpg": "picture", ".pdf": "report", ".csv": "table"}
RIGS = 12
LONGEST_S = 400.0  # then the page is killed no more


def digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


def faults_in(out: Path) -> list[str]:
    """Files that are half-written; what the program had begun beside them has a name of its own and is not counted."""
    faults = []
    for path in sorted(out.glob("*")):
        if path.name.startswith(".being-written."):
            continue
        data = path.read_bytes()
        if kind_of(data) != KINDS.get(path.suffix) or not data.rstrip().endswith(_end(path.suffix)):
            faults.append(f"{path.name} is half-written")
        if path.suffix == ".json":
            try:
                read_record(path)
            except InputError as error:
                faults.append(error.what)
    return faults


def _end(suffix: str) -> bytes:
    return {".json": b"}", ".jpg": b"\xff\xd9", ".pdf": b"%%EOF", ".csv": b""}[suffix]


def kill(command: list[str], after_s: float, sign: signal.Signals) -> list[str]:
    """Start, end at that moment; what is wrong with the processes afterwards."""
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(after_s)
    below = descendants(process.pid)
    process.send_signal(sign)
    until = time.monotonic() + LEAVE_S
    try:
        process.wait(LEAVE_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return [f"not ended {LEAVE_S:.0f} s after {sign.name}"]
    while alive(below) and time.monotonic() < until:
        time.sleep(0.05)
    return [f"{len(alive(below))} processes left"] if alive(below) else []


def measure(kills: int, place: Path, told: Counter[str]) -> None:
    photos, out, rng = place / "photos", place / "out", np.random.default_rng(1)
    photos.mkdir()
    shutil.copyfile(SAMPLES / "within.jpg", photos / "within.jpg")
    command = [sys.executable, "-m", "photomeasure", "measure", str(photos / "within.jpg"), "--out", str(out)]
    before, takes_s = digests(photos), _takes_s(command)
    for number in range(kills):
        if number % 2:
            shutil.rmtree(out)
            out.mkdir()
        # half of them while it writes, which is at the end
        low = 0.7 if number % 4 < 2 else 0.1
        faults = kill(command, float(rng.uniform(low, 1.05)) * takes_s, SIGNALS[number % 3])
        _count(told, [*faults, *faults_in(out)], number)
        told["written when it ended: " + str(len([p for p in out.iterdir() if p.suffix in KINDS]))] += 1
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    _at_the_end(told, before == digests(photos), len(list(out.glob("within*"))) == 3, out)


def batch(kills: int, place: Path, told: Counter[str]) -> None:
    photos, out, rng = place / "photos", place / "out", np.random.default_rng(2)
    photos.mkdir()
    data = (SAMPLES / "chat.jpg").read_bytes()
    for number in range(RIGS):
        (photos / f"rig {number:02d}.jpg").write_bytes(data + rng.bytes(8))
    command = [
        sys.executable,
        "-m",
        "photomeasure",
        "batch",
        str(photos),
        "--out",
        str(out),
        "--jobs",
        "2",
        "--pictures",
    ]
    before, takes_s = digests(photos), _takes_s(command)
    stamps: dict[str, int] = {}
    for number in range(kills):
        if number % 2:
            shutil.rmtree(out)
            out.mkdir()
            stamps = {}
        faults = [*kill(command, float(rng.uniform(0.05, 1.0)) * takes_s, SIGNALS[number % 3]), *faults_in(out)]
        now = {path.name: path.stat().st_mtime_ns for path in out.glob("*.json")}
        faults += [f"{name} was made again" for name in stamps if now.get(name) != stamps[name]]
        stamps = now
        _count(told, faults, number)
        told["records there when it ended: " + ("none" if not now else "all" if len(now) == RIGS else "some")] += 1
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    rows = [row["rig"] for row in csv.DictReader((out / "table.csv").open(encoding="utf-8"))]
    kept = all((out / name).stat().st_mtime_ns == stamp for name, stamp in stamps.items())
    once = len(rows) == len(set(rows)) == len(list(out.glob("*.json"))) == RIGS
    _at_the_end(told, before == digests(photos), once and kept, out)


def page(kills: int, place: Path, told: Counter[str]) -> None:
    kept, rng = place / "kept", np.random.default_rng(3)
    options = ("--store", str(kept), "--port")
    process, printed = started(place, *options, "0")
    if "http://127.0.0.1:" not in printed:
        raise SystemExit(printed + process.communicate()[0])
    address = printed.partition("http://127.0.0.1:")[2].split()[0]
    going = Round(int(address.partition("/")[0]))
    going.token = address.split("/")[1]
    customer = threading.Thread(target=going.run)
    customer.start()
    begun = time.monotonic()
    try:
        for number in range(kills):
            if time.monotonic() - begun > LONGEST_S:
                break
            time.sleep(float(rng.uniform(0.2, 2.5)))
            below, sign, faults = descendants(process.pid), SIGNALS[number % 3], []
            process.send_signal(sign)
            try:
                process.communicate(timeout=LEAVE_S)
            except subprocess.TimeoutExpired:
                faults.append(f"not ended {LEAVE_S:.0f} s after {sign.name}")
                process.kill()
                process.communicate()
            until = time.monotonic() + LEAVE_S
            while alive(below) and time.monotonic() < until:
                time.sleep(0.05)
            faults += [f"{len(alive(below))} processes left"] if alive(below) else []
            try:
                whole(kept)
            except (AssertionError, OSError, sqlite3.Error) as error:
                faults.append(f"{type(error).__name__}: {error}")
            _count(told, faults, number)
            process, _ = started(place, *options, str(going.port))
        time.sleep(3.0)
    finally:
        going.ended = True
        customer.join(90)
        process.terminate()
        process.communicate()
    whole(kept)
    with sqlite3.connect(kept / "store.sqlite") as database:
        links = dict(database.execute("SELECT digest, enquiry FROM links").fetchall())
        there = Counter(database.execute("SELECT enquiry, sha256 FROM photographs").fetchall())
        sent = {row[0] for row in database.execute("SELECT key FROM enquiries WHERE sent IS NOT NULL")}
    mine = {link: links.get(hashlib.sha256(link.split("/")[2].encode()).hexdigest()) for link in going.links}
    photographs = [(mine[link], sha256) for link, sha256 in going.photographs]
    told[
        f"customers' rounds {len(going.links)}, photographs acknowledged {len(photographs)}, sent {len(going.sent)}"
    ] = 1
    lost = sum(one not in there for one in photographs) + sum(mine[link] not in sent for link in going.sent)
    lost += sum(key is None for key in mine.values())
    told["acknowledged and lost"] = lost
    told["photographs kept twice"] = sum(count > 1 for count in there.values())
    folders = sum(1 for path in (kept / "photographs").rglob("*") if path.is_file())
    told["files of photographs, and rows of them"] = folders
    told["rows of photographs"] = sum(there.values())


def _takes_s(command: list[str]) -> float:
    start = time.monotonic()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    return time.monotonic() - start


def _count(told: Counter[str], faults: list[str], number: int) -> None:
    told[f"ended by {SIGNALS[number % 3].name}"] += 1
    for fault in faults:
        told[f"FAULT after {SIGNALS[number % 3].name}: {fault}"] += 1


def _at_the_end(told: Counter[str], untouched: bool, once: bool, out: Path) -> None:
    told["FAULT: photographs changed"] += not untouched
    told["FAULT: after the last run not everything is there, once, kept"] += not once
    told["begun files left beside after the last run"] = len(list(out.glob(".being-written.*")))


def main(what: str, kills: int) -> None:
    told: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as place:
        {"measure": measure, "batch": batch, "page": page}[what](kills, Path(place), told)
    print(f"| {what}, {kills} ends | count |\n|---|---|")
    for said, count in told.items():
        if count or "FAULT" in said or "lost" in said or "twice" in said:
            print(f"| {said} | {count} |")
    sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
