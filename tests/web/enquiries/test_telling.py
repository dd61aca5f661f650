"""What an address of the dealer's own is told, and that nothing depends on whether it listens."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.web.served import Served
from photomeasure.web.server import serve
from photomeasure.web.telling import address_to_tell
from tests.web.enquiries.door import made, opened, press, text_of
from tests.web.sending import photo


@contextmanager
def listening(status: int = 204) -> Iterator[tuple[str, list[tuple[str, bytes]]]]:
    """A program of the dealer's, and what it was told."""
    heard: list[tuple[str, bytes]] = []

    class Hears(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            heard.append((self.path, self.rfile.read(int(self.headers["content-length"]))))
            self.send_response(status)
            self.send_header("location", "/elsewhere")
            self.end_headers()

        do_GET = do_POST

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = HTTPServer(("127.0.0.1", 0), Hears)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/came", heard
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def waited(heard: list[tuple[str, bytes]], count: int) -> None:
    for _ in range(100):
        if len(heard) >= count:
            return
        time.sleep(0.1)


def test_what_came_and_in_which_case_and_nothing_of_people(tmp_path: Path) -> None:
    with listening() as (at, heard), opened(tmp_path / "kept", tell=at) as client:
        place, link = made(client)
        client.post(link + "photographs", files=[("photo", photo("chat.jpg")[1])])
        press(client, link + "send")
        waited(heard, 1)
        client.post(link + "message", data={"text": "It is Ada, at Ferncombe."})
        waited(heard, 2)
        key = place.rstrip("/").rpartition("/")[2]
        told = [json.loads(body) for _, body in heard]
        assert told == [{"event": "photographs", "case": key}, {"event": "message", "case": key}]


@pytest.mark.parametrize("status", [302, 307, 500])
def test_one_that_answers_otherwise_leads_nowhere_and_holds_nobody_up(status: int, tmp_path: Path) -> None:
    with listening(status) as (at, heard), opened(tmp_path / "kept", tell=at) as client:
        _, link = made(client)
        answer = client.post(link + "message", data={"text": "Hello."})
        assert answer.status_code == 200 and "Hello." in text_of(answer)
        waited(heard, 1)
        assert {path for path, _ in heard} == {"/came"}


def test_one_that_nobody_listens_at_is_no_hindrance(tmp_path: Path) -> None:
    with opened(tmp_path / "kept", tell="http://127.0.0.1:9/came") as client:
        _, link = made(client)
        assert "Hello." in text_of(client.post(link + "message", data={"text": "Hello."}))


@pytest.mark.parametrize(
    "url", ["ftp://x/", "file:///etc/passwd", "127.0.0.1:9000", "http://", "http://me:word@x/", "http://x:99999/", ""]
)
def test_what_is_no_address_is_said(url: str) -> None:
    with pytest.raises(InputError, match="no address that can be told"):
        address_to_tell(url)


def test_without_a_store_there_is_nothing_to_tell() -> None:
    with pytest.raises(InputError, match="without --store"):
        serve(Served(tell="http://127.0.0.1:9000/"))
