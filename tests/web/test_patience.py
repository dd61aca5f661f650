"""Nobody keeps others out: by holding connections, by sending slowly, by sending rubbish, by going away."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import tempfile
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.types import Message

from photomeasure.web import leftovers
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.guards import MOST_BODIES
from photomeasure.web.pace import Pace, paced
from photomeasure.web.problems import PageError
from photomeasure.web.server import configured
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, TOKEN, here, photo, record, send, url
from tests.web.serving import serving

HEAD = f"POST /{TOKEN}/measure HTTP/1.1\r\nHost: {HOST}\r\nContent-Type: multipart/form-data; boundary=x\r\n"


@pytest.fixture
def port() -> Iterator[int]:
    """A page that is served as `serve` does."""
    with serving(configured(page_app(TOKEN, [HOST])), waiting=256) as at:
        yield at


def start_page(port: int) -> int:
    with urllib.request.urlopen(f"http://{HOST}:{port}/{TOKEN}/", timeout=20) as answer:
        status: int = answer.status
        return status


def test_half_open_connections_make_room(port: int) -> None:
    """100 shut everybody out before."""
    silent = [socket.create_connection((HOST, port)) for _ in range(75)]
    for one in silent:
        one.sendall(b"GET / HTTP/1.1\r\nHost: ")
    silent += [socket.create_connection((HOST, port)) for _ in range(75)]
    try:
        assert [start_page(port) for _ in range(3)] == [200] * 3
    finally:
        for one in silent:
            one.close()


def test_bodies_that_do_not_come_are_only_so_many_from_one_address(port: int) -> None:
    begun = [socket.create_connection((HOST, port)) for _ in range(MOST_BODIES)]
    try:
        for one in begun:
            one.sendall(f"{HEAD}Content-Length: 100000\r\n\r\n--x".encode())
        with socket.create_connection((HOST, port)) as another:
            another.settimeout(20)
            another.sendall(f"{HEAD}Content-Length: 100000\r\n\r\n--x".encode())
            answer = another.recv(4096).decode()
        assert answer.startswith("HTTP/1.1 503") and "connection: close" in answer.lower()
        assert start_page(port) == 200
        for one in begun:
            one.close()
    finally:
        for one in begun:
            one.close()


def body(pieces: list[bytes], then_silent: bool) -> list[int] | PageError:
    """What arrives of a body at once; the error where it was given up."""
    arrived: list[int] = []
    left = list(pieces)

    async def receive() -> Message:
        if not left:
            await asyncio.Event().wait()
        piece = left.pop(0)
        return {"type": "http.request", "body": piece, "more_body": bool(left) or then_silent}

    async def read() -> list[int]:
        receiving = paced(
            receive, 1000, Pace(pause_s=0.05, grace_s=0.05, bytes_per_s=1000.0), lambda: arrived.append(-1)
        )
        while not arrived or arrived[-1] >= 0:
            arrived.append(len((await receiving())["body"]))
            if arrived[-2:-1] == [-1]:
                break
        return arrived

    try:
        return asyncio.run(asyncio.wait_for(read(), 20))
    except PageError as error:
        return error


def test_a_body_that_pauses_is_given_up_and_one_that_comes_is_not() -> None:
    assert body([b"ab", b"cde"], then_silent=False) == [2, -1, 3]
    silent = body([b"ab", b"cde"], then_silent=True)
    assert isinstance(silent, PageError) and silent.status == 408 and "slow" in silent.what
    large = body([b"x" * 600, b"x" * 600], then_silent=False)
    assert isinstance(large, PageError) and large.status == 413


def test_a_byte_a_second_is_not_enough_and_a_slow_network_is() -> None:
    usual = Pace()
    assert usual.left_s(taken_s=61.0, total_bytes=61) < 0.0  # one byte a second, after a minute
    assert usual.left_s(taken_s=600.0, total_bytes=600 * 5_000) == usual.pause_s  # 5 kB/s, after ten minutes


def test_who_goes_away_while_sending_is_no_fault(capsys: pytest.CaptureFixture[str]) -> None:
    messages: list[Message] = [
        {"type": "http.request", "body": b"--x\r\n", "more_body": True},
        {"type": "http.disconnect"},
    ]

    async def receive() -> Message:
        return messages.pop(0)

    async def send(message: Message) -> None:
        pass

    kind = (b"content-type", b"multipart/form-data; boundary=x")
    scope: dict[str, Any] = {
        "type": "http", "method": "POST", "path": url("measure"), "scheme": "http", "query_string": b"",
        "headers": [(b"host", HOST.encode()), kind],
    }  # fmt: skip
    asyncio.run(page_app(TOKEN, [HOST])(scope, receive, send))
    assert messages == [] and capsys.readouterr().err == ""


def test_rubbish_does_not_push_a_taped_result_out() -> None:
    with TestClient(page_app(TOKEN, [HOST], cases=Cases(most=3)), base_url=BASE) as client:
        taped = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
        client.post(here(taped) + "tape", data={"tape": "402"})
        rubbish = [here(send(client, ("photos", (f"{i}.txt", b"%d" % i, "text/plain")))) for i in range(6)]
        assert record(client, taped)["tape"]["reading_mm"] == 402.0
        assert [client.get(place).status_code for place in rubbish[-3:]] == [404, 200, 200]


def test_a_killed_pages_uploads_are_swept_at_the_next_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(leftovers, "_YOUNG_S", -1.0)
    said = "import time; from photomeasure.web.leftovers import own_folder; print(own_folder()[0], flush=True); time.sleep(60)"
    code = os.pathsep.join([str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH", "")])
    environment = {**os.environ, "TMPDIR": str(tmp_path), "PYTHONPATH": code}
    with subprocess.Popen([sys.executable, "-c", said], stdout=subprocess.PIPE, text=True, env=environment) as other:
        assert other.stdout is not None
        left = Path(other.stdout.readline().strip())
        (left / "upload-1").write_bytes(b"where it was taken")
        mine = Cases()
        assert leftovers.sweep() == 0 and left.is_dir()  # held by a page that runs
        other.send_signal(signal.SIGKILL)
        other.wait(20)
    (tmp_path / "photomeasure-other").mkdir()
    (tmp_path / "photomeasure-page-link").symlink_to(tmp_path / "photomeasure-other")
    assert leftovers.sweep() == 1 and not left.exists() and mine.root.is_dir()
    assert (tmp_path / "photomeasure-other").is_dir()
    mine.close()


def test_strangers_see_a_page_with_looks_and_files_are_kept_by_the_browser(client: TestClient) -> None:
    stranger = client.get("/")
    assert "<main>" in stranger.text and "<style>" in stranger.text
    assert "style-src 'sha256-" in stranger.headers["content-security-policy"]
    assert "max-age" in client.get(url("static/page.css")).headers["cache-control"]
