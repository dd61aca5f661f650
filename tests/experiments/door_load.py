"""How long customers wait when many send at once: `python -m tests.experiments.door_load CUSTOMERS PHOTOGRAPHS`, run by hand.

Each is a thread with connections of its own that answers the questions, sends photographs in pieces, waits for what is said
of each, and sends them. Beside them somebody opens the dealer's list again and again. First one customer alone, then all of
them: medians, worst cases and what they are of the one's; the program's memory at its highest; and whether anything was lost.

Twenty with three photographs of 12 million pixels each, on two cores that others kept busy too: 13.5 times one customer's CPU
time (70 s), 1.45 times its memory (492 MB at the highest), a customer's whole visit 7.1 times one's (84 s), what is seen in
a photograph said after 24 s (8.6), everything measured 219 s after the last had sent; no error, nothing lost.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import numpy as np

from tests.web.enquiries.door import ABOUT, link_in_page, sample
from tests.web.test_serve import started

PHOTOGRAPHS = ("set-1.jpg", "set-2.jpg", "set-3.jpg", "within.jpg")
PIECE = 1_000_000


class Load:
    def __init__(self, base: str, token: str) -> None:
        self.base, self.token = base, token
        self.took_s: dict[str, list[float]] = defaultdict(list)
        self.failed: list[str] = []

    def ask(self, client: httpx2.Client, what: str, method: str, path: str, **more: Any) -> httpx2.Response:
        begun = time.monotonic()
        while True:
            answer = client.request(method, self.base + path, **more)
            if answer.status_code not in (429, 503):  # the page's script tries these again, too
                break
            self.failed.append(f"{what}: {answer.status_code}, tried again")
            time.sleep(1.0)
        self.took_s[what].append(time.monotonic() - begun)
        if answer.status_code >= 400:
            self.failed.append(f"{what}: {answer.status_code}")
        return answer

    def customer(self, link: str, photographs: int) -> None:
        begun = time.monotonic()
        with httpx2.Client(timeout=300, follow_redirects=True) as client:
            self.ask(client, "a page", "GET", link)
            for name, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
                self.ask(client, "an answer", "POST", f"{link}question/{name}", data={"value": value})
            self.ask(client, "an answer", "POST", f"{link}question/bars", data={"bar_x": "150", "bar_y": "150"})
            for number in range(photographs):
                data = sample(PHOTOGRAPHS[number])
                form = {"mark": str(number), "name": f"{number}.jpg", "bytes": str(len(data))}
                now = self.ask(client, "a piece", "POST", f"{link}arriving", data=form).json()
                key = now["key"]
                while "photograph" not in now:
                    at = now["offset"]
                    piece = data[at : at + PIECE]
                    now = self.ask(client, "a piece", "POST", f"{link}arriving/{key}?offset={at}", content=piece).json()
                waits = time.monotonic()
                while "Looking at it" in client.get(f"{self.base}{link}photograph-{now['photograph']}").text:
                    time.sleep(1.0)
                self.took_s["until it is said what was seen"].append(time.monotonic() - waits)
            self.ask(client, "sent", "POST", f"{link}send", data={"pressed": "yes"})
        self.took_s["a customer in all"].append(time.monotonic() - begun)

    def dealer(self, customers: list[threading.Thread]) -> None:
        with httpx2.Client(timeout=300) as client:
            while any(one.is_alive() for one in customers):
                self.ask(client, "the dealer's list", "GET", f"/{self.token}/cases/")
                time.sleep(0.3)


def cpu_s(pid: int) -> float:
    """What a process has used so far (Linux, proc(5): fields 14 and 15)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def highest_mb(pid: int) -> float:
    """The most memory that a process has held so far (Linux, proc(5): VmHWM)."""
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024.0


def lost(store: Path, photographs: int) -> list[str]:
    """What is not in a store whose customers have all sent so many photographs each."""
    sent = [hashlib.sha256(sample(name)).hexdigest() for name in PHOTOGRAPHS[:photographs]]
    gone = []
    with closing(sqlite3.connect(store / "store.sqlite")) as database:
        for key, folder in database.execute("SELECT key, folder FROM enquiries").fetchall():
            rows = database.execute(
                "SELECT file, sha256 FROM photographs WHERE enquiry = ? ORDER BY number", (key,)
            ).fetchall()
            if [sha for _, sha in rows] != sent:
                gone.append(f"{len(rows)} photographs of {photographs}")
            gone += [
                "a photograph's bytes"
                for file, sha in rows
                if hashlib.sha256((store / "photographs" / folder / file).read_bytes()).hexdigest() != sha
            ]
            results = database.execute("SELECT result FROM cases WHERE folder = ?", (folder,)).fetchall()
            kept = [name for (name,) in results if (store / "results" / name / "record.json").exists()]
            pictures = sum(len(list((store / "results" / name).glob("picture-*.jpg"))) for name in kept)
            gone += [] if kept else ["a result"]
            gone += [] if not kept or pictures == photographs else [f"{photographs - pictures} pictures"]
    return gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    took_s: dict[str, list[float]]
    measured_s: float
    cpu_s: float
    highest_mb: float
    failed: list[str]
    lost: list[str]


def one_round(customers: int, photographs: int) -> Round:
    with tempfile.TemporaryDirectory() as place:
        process, printed = started(Path(place), "--store", f"{place}/kept", "--public-url", "https://heights.example")
        base = "http://" + printed.partition("http://")[2].split("/")[0]  # where the proxy sends everybody's requests
        load = Load(base, printed.partition("http://")[2].split("/")[1])
        try:
            links = [
                link_in_page(
                    httpx2.post(
                        f"{base}/{load.token}/cases/", data={**ABOUT, "rig": f"Ferncombe {i}"}, follow_redirects=True
                    ).text
                )
                for i in range(customers)
            ]
            threads = [threading.Thread(target=load.customer, args=(link, photographs)) for link in links]
            for thread in threads:
                thread.start()
            load.dealer(threads)
            begun = time.monotonic()
            with httpx2.Client(timeout=300) as client:
                while client.get(f"{base}/{load.token}/cases/?state=measuring").text.count("data-said"):
                    time.sleep(1.0)
            measured_s = time.monotonic() - begun
            used_s, most_mb = cpu_s(process.pid), highest_mb(process.pid)
        finally:
            process.terminate()
            process.communicate(timeout=300)
        gone = lost(Path(place) / "kept", photographs)
    return Round(
        took_s=load.took_s, measured_s=measured_s, cpu_s=used_s, highest_mb=most_mb, failed=load.failed, lost=gone
    )


def main(customers: int, photographs: int) -> None:
    one, many = one_round(1, photographs), one_round(customers, photographs)
    print(
        f"{customers} customers, {photographs} photographs each, on {os.cpu_count()} cores; in brackets: of one customer's"
    )
    for what, took_s in many.took_s.items():
        alone_s = float(np.median(one.took_s[what]))
        print(
            f"{what:32} n {len(took_s):4}  median {np.median(took_s):7.2f} s ({np.median(took_s) / alone_s:.1f})  "
            f"worst {max(took_s):7.2f} s ({max(took_s) / alone_s:.1f})"
        )
    print(f"measured after the last had sent: {many.measured_s:.0f} s (one: {one.measured_s:.0f} s)")
    print(f"the program's CPU time: {many.cpu_s:.0f} s ({many.cpu_s / one.cpu_s:.1f})")
    print(f"its memory at the highest: {many.highest_mb:.0f} MB ({many.highest_mb / one.highest_mb:.2f})")
    print(
        f"answers that were errors: {Counter(many.failed) or 'none'}; lost: {Counter(many.lost + one.lost) or 'nothing'}"
    )


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
