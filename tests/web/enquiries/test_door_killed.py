"""The program killed at any moment of a customer's round loses nothing that was acknowledged, and keeps no halves."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import sys
import threading
import time
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest

from tests.web.enquiries.door import ABOUT, link_in_page, sample
from tests.web.test_serve import started

KILLS = int(os.environ.get("PHOTOMEASURE_KILLS", "5"))  # by hand: 50


class Round:
    """A dealer and a customer who try again until they are answered; what was acknowledged is noted."""

    def __init__(self, port: int) -> None:
        self.port, self.token, self.ended = port, "", False
        self.links: list[str] = []
        self.answers: list[str] = []  # links whose answers were acknowledged
        self.photographs: list[tuple[str, str]] = []  # link and digest
        self.sent: list[str] = []

    def ask(self, method: str, path: str, **more: Any) -> httpx2.Response | None:
        while not self.ended:
            try:
                return httpx2.request(
                    method, f"http://127.0.0.1:{self.port}{path}", timeout=60, follow_redirects=True, **more
                )
            except httpx2.HTTPError:
                time.sleep(0.05)
        return None

    def run(self) -> None:
        rng = np.random.default_rng(5)
        while not self.ended:
            number = len(self.links)
            answer = self.ask("POST", f"/{self.token}/cases/", data={**ABOUT, "rig": f"Ferncombe {number}"})
            if answer is None:
                return
            link = link_in_page(answer.text)
            self.links.append(link)
            for name, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
                self.ask("POST", f"{link}question/{name}", data={"value": value})
            if self.ask("POST", f"{link}question/bars", data={"none": "yes"}) is not None:
                self.answers.append(link)
            data = sample("chat.jpg") + rng.bytes(8)  # another file each time
            begun = self.ask(
                "POST", f"{link}arriving", data={"mark": str(number), "name": "x.jpg", "bytes": str(len(data))}
            )
            now: dict[str, Any] = {} if begun is None else begun.json()
            key = now.get("key")
            while "offset" in now and "photograph" not in now:
                piece = data[now["offset"] : now["offset"] + 40_000]
                came = self.ask("POST", f"{link}arriving/{key}?offset={now['offset']}", content=piece)
                now = {} if came is None else came.json()
            if "photograph" in now:
                self.photographs.append((link, hashlib.sha256(data).hexdigest()))
            done = self.ask("POST", f"{link}send", data={"pressed": "yes"})
            if done is not None and done.status_code == 200:
                self.sent.append(link)


@pytest.mark.skipif(sys.platform == "win32", reason="files in use are another matter there")
@pytest.mark.slow  # one end, and begun again: tests/web/test_store.py
@pytest.mark.parametrize("kills", [KILLS])
def test_nothing_acknowledged_is_lost_when_the_program_is_killed(tmp_path: Path, kills: int) -> None:
    kept, rng = tmp_path / "kept", np.random.default_rng(9)
    options = ("--store", str(kept), "--port")
    process, printed = started(tmp_path, *options, "0")
    address = printed.partition("http://127.0.0.1:")[2].split()[0]
    going = Round(int(address.partition("/")[0]))
    going.token = address.split("/")[1]
    worker = threading.Thread(target=going.run)
    worker.start()
    try:
        for _ in range(kills):
            time.sleep(float(rng.uniform(0.3, 2.5)))
            process.kill()
            process.communicate()
            whole(kept)
            process, _ = started(tmp_path, *options, str(going.port))
        until = time.monotonic() + 60.0
        while not (going.photographs and going.sent) and time.monotonic() < until:
            time.sleep(0.05)
    finally:
        going.ended = True
        worker.join(90)
        process.kill()
        process.communicate()
    whole(kept)
    assert len(going.photographs) >= 1
    with sqlite3.connect(kept / "store.sqlite") as database:
        by_link = {
            row[0]: row[1:]
            for row in database.execute(
                "SELECT l.digest, e.key, e.answers, e.sent FROM links l JOIN enquiries e ON e.key = l.enquiry"
            )
        }
        digests = {(row[0], row[1]) for row in database.execute("SELECT enquiry, sha256 FROM photographs")}
    mine = {link: by_link[hashlib.sha256(link.split("/")[2].encode()).hexdigest()] for link in going.links}
    assert all('"bars": "none"' in mine[link][1] for link in going.answers)
    assert all((mine[link][0], sha256) in digests for link, sha256 in going.photographs)
    assert all(mine[link][2] is not None for link in going.sent)


def whole(kept: Path) -> None:
    """What the rows name is there and is what they say."""
    with sqlite3.connect(kept / "store.sqlite", timeout=20) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        photographs = database.execute(
            "SELECT e.folder, p.file, p.sha256, p.bytes FROM photographs p JOIN enquiries e ON e.key = p.enquiry"
        ).fetchall()
        results = database.execute("SELECT result FROM cases").fetchall()
    for folder, file, sha256, size in photographs:
        data = (kept / "photographs" / folder / file).read_bytes()
        assert len(data) == size and hashlib.sha256(data).hexdigest() == sha256
    assert all((kept / "results" / result / "record.json").read_text().endswith("}\n") for (result,) in results)
