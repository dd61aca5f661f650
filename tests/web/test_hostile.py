"""What people with bad intentions send: floods, headers in names, ways out of the folder."""

from __future__ import annotations

import socket

import pytest
from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.entry.limits import Limits, Rate
from photomeasure.web.server import configured
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, SAMPLES, TOKEN, here, photo, send, url
from tests.web.serving import serving

CHAT = (SAMPLES / "chat.jpg").read_bytes()


def test_a_flood_of_uploads_ends_and_others_go_on() -> None:
    app = page_app(TOKEN, [HOST], limits=Limits(uploads=Rate(3, 3600.0)))
    with TestClient(app, base_url=BASE, client=("203.0.113.7", 1)) as flooding:
        junk = ("photos", ("junk.jpg", b"junk", "image/jpeg"))
        statuses = [send(flooding, junk, mark="first", rig=str(i)).status_code for i in range(5)]
        assert statuses == [200, 200, 200, 429, 429]
        assert flooding.get(url()).status_code == 200  # looking is free
        other = TestClient(app, base_url=BASE, client=("203.0.113.8", 1))
        assert send(other, photo("chat.jpg"), mark="first").status_code == 200


def test_a_name_makes_no_header(client: TestClient) -> None:
    name = 'a"\r\nset-cookie: x=y\r\n\r\n<script>.jpg'
    shown = send(client, ("photos", (name, CHAT, "image/jpeg")), **AS_PHOTOGRAPHED)
    for file in ("record.json", "picture-1.jpg", "report.pdf"):
        answer = client.get(here(shown) + file)
        assert answer.status_code == 200 and "set-cookie" not in answer.headers
        assert "\r" not in answer.headers["content-disposition"] and "<" not in answer.headers["content-disposition"]
    assert "<script>.jpg" not in shown.text


@pytest.mark.parametrize(
    "path",
    ["static/../app.py", "static/%2e%2e/app.py", "static/..%2fapp.py", "static/%252e%252e/app.py", "static//etc/passwd", "static/..\\app.py",
     "guide/..%2f..%2fREADME", "guide/%00", "kit-..%2f.pdf", "rig/..%2f..%2fetc/passwd", "rig/%2e%2e/record.json"],
)  # fmt: skip
def test_no_way_leads_out_of_the_folder(path: str) -> None:
    """As bytes on the wire: a client of the library's would tidy the address up."""
    with (
        serving(configured(page_app(TOKEN, [HOST]))) as port,
        socket.create_connection((HOST, port)) as wire,
    ):
        wire.settimeout(20)
        wire.sendall(f"GET /{TOKEN}/{path} HTTP/1.1\r\nHost: {HOST}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: wire.recv(65536), b""))
    assert answer.split(b" ")[1] in (b"400", b"404") and b"import" not in answer and b"root:" not in answer
