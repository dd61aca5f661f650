"""Run for years: whether it is well, a log that tells nobody's secrets, and a proxy before it that is believed only when told."""

from __future__ import annotations

import json
import shutil
import socket
import ssl
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.web import bench, health, log
from photomeasure.web.address import trusted_proxies
from photomeasure.web.app import page_app
from photomeasure.web.server import configured
from tests.web.entry.test_sign_in import PASSWORD
from tests.web.sending import AS_PHOTOGRAPHED, HOST, TOKEN, here, photo, send, url
from tests.web.serving import serving

PUBLIC, NAME = "https://heights.example", "heights.example"


def test_it_says_whether_it_is_well(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    answer = client.get("/health")
    assert answer.status_code == 200 and answer.json() == {"status": "ok", "waiting": 0}
    assert client.get("/health", headers={"host": "evil.example"}).status_code == 400
    assert client.post("/health").status_code == 405 and TOKEN not in client.post("/health").text
    monkeypatch.setattr(health, "LEAST_FREE_BYTES", 10**18)
    full = client.get("/health")
    assert full.status_code == 503 and full.json()["why"] == "the disk is nearly full"


def test_the_log_has_nothing_of_people_in_it(
    client: TestClient, written: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, rig="Ferncombe 7", by="Somebody", note="a note")
    client.get(here(shown) + "record.json")
    client.get("/send/a-secret-link/photographs")
    client.get("/what%0D%0Ax?name=Somebody")
    monkeypatch.setattr(
        bench, "make_preview", lambda *_: (_ for _ in ()).throw(RuntimeError("chat.jpg of Ferncombe 7"))
    )
    assert client.get(here(shown) + "preview-1.jpg").status_code == 500
    lines = [json.loads(line) for line in written.read_text().splitlines()]
    text = written.read_text()
    key = here(shown).split("/")[3]
    for secret in (TOKEN, key, "Ferncombe", "Somebody", "a note", "chat", "secret", "127.0.0.1", "testclient"):
        assert secret not in text
    answered = [line for line in lines if line["event"] == "answered"]
    assert {"method": "POST", "what": "/*/measure", "status": 303}.items() <= answered[0].items() and answered[0][
        "ms"
    ] > 0
    assert "/*/rig/*/record.json" in {line["what"] for line in answered}
    fault = next(line for line in lines if line["event"] == "fault")
    assert fault["kind"] == "RuntimeError" and "photomeasure/web/bench.py:" in fault["at"]


def test_a_log_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="log"):
        log.log_to(str(tmp_path / "missing" / "page.log"))


@pytest.mark.parametrize("said", ["", "*", "0.0.0.0/0", "::/0", "localhost", "127.0.0.1, everybody"])
def test_a_proxy_is_named_by_its_address(said: str) -> None:
    with pytest.raises(InputError) as caught:
        trusted_proxies(said)
    assert "127.0.0.1" in caught.value.expected
    assert trusted_proxies("127.0.0.1, 172.18.0.0/16")


@contextmanager
def running(trusted: str | None) -> Iterator[int]:
    """The page as `serve` runs it, behind a proxy."""
    app = page_app(TOKEN, [HOST, NAME], origins=[PUBLIC], password=PASSWORD, told_apart=trusted is not None)
    with serving(configured(app, trusted)) as port:
        yield port


def status(port: int, path: str, **headers: str) -> int:
    asked = urllib.request.Request(f"http://{HOST}:{port}{path}", headers={"Host": NAME, **headers})
    try:
        with urllib.request.urlopen(asked, timeout=20) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_a_forwarded_address_is_believed_only_of_the_proxy_that_was_named() -> None:
    with running("127.0.0.1") as port:
        guesses = [status(port, f"/send/{i}/", **{"X-Forwarded-For": "203.0.113.9"}) for i in range(31)]
        assert guesses == [404] * 30 + [429]
        assert status(port, "/send/x/", **{"X-Forwarded-For": "203.0.113.10"}) == 404
        # what somebody claims to have been before the proxy saw him does not count: the proxy's own word is the last
        assert status(port, "/send/x/", **{"X-Forwarded-For": "198.51.100.1, 203.0.113.9"}) == 429
    for other in (None, "192.0.2.1"):
        with running(other) as port:
            assert {status(port, f"/send/{i}/", **{"X-Forwarded-For": "203.0.113.9"}) for i in range(35)} == {404}


def certificate(folder: Path) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name, now = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, NAME)]), datetime.now(UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(1).not_valid_before(now - timedelta(days=1)).not_valid_after(now + timedelta(days=1))
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    (folder / "page.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    form = (serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    (folder / "page.key").write_bytes(key.private_bytes(*form))


@contextmanager
def nginx(folder: Path, page_port: int) -> Iterator[int]:
    """The shipped example, with other ports, places and certificate; nothing else of it is changed."""
    with socket.create_server((HOST, 0)) as free, socket.create_server((HOST, 0)) as other:
        port, plain = free.getsockname()[1], other.getsockname()[1]
    certificate(folder)
    shipped = files("photomeasure.web").joinpath("proxy/nginx.conf").read_text()
    for ours, here_it_is in (
        ("server 127.0.0.1:8000", f"server 127.0.0.1:{page_port}"), ("listen 443 ssl", f"listen 127.0.0.1:{port} ssl"),
        ("listen 80", f"listen 127.0.0.1:{plain}"), ("/etc/ssl/heights.example.pem", str(folder / "page.pem")),
        ("/etc/ssl/heights.example.key", str(folder / "page.key")),
    ):  # fmt: skip
        assert shipped.count(ours) == 1
        shipped = shipped.replace(ours, here_it_is)
    places = "".join(
        f"{kind}_temp_path {folder}/{kind};\n" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    whole = (
        f"daemon off;\npid {folder}/pid;\nerror_log {folder}/error.log;\nevents {{}}\nhttp {{\n{places}{shipped}}}\n"
    )
    (folder / "nginx.conf").write_text(whole)
    program = shutil.which("nginx") or "/usr/sbin/nginx"
    with subprocess.Popen(
        [program, "-c", str(folder / "nginx.conf"), "-p", str(folder)], stderr=subprocess.DEVNULL
    ) as run:
        try:
            for _ in range(100):
                with socket.socket() as probe:
                    if probe.connect_ex((HOST, port)) == 0:
                        break
                time.sleep(0.1)
            yield port
        finally:
            run.terminate()
            run.wait(20)


@pytest.mark.skipif(
    not (shutil.which("nginx") or Path("/usr/sbin/nginx").exists()),
    reason="no nginx on this machine: apt-get install nginx-light",
)
def test_the_shipped_example_for_a_proxy(tmp_path: Path) -> None:
    trusting = ssl.create_default_context()
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE

    def asked(port: int, path: str, data: bytes | None = None, **headers: str) -> Any:
        request = urllib.request.Request(f"https://{HOST}:{port}{path}", data=data, headers={"Host": NAME, **headers})
        try:
            return urllib.request.urlopen(request, timeout=30, context=trusting)
        except urllib.error.HTTPError as error:
            return error

    with running("127.0.0.1") as page_port, nginx(tmp_path, page_port) as port:
        form = asked(port, "/sign-in")
        assert form.status == 200 and b"Password" in form.read()
        assert form.headers["set-cookie"].startswith("__Host-") and "Secure" in form.headers["set-cookie"]
        assert "max-age" in form.headers["strict-transport-security"]
        assert asked(port, "/health").status == 200
        assert asked(port, "/sign-in", b"password=x", Origin=PUBLIC).status == 403  # its own form, without its word
        assert b"another page" in asked(port, "/sign-in", b"password=x", Origin="https://evil.example").read()
        large = asked(port, url("measure"), b"x" * 3_000_000, Origin=PUBLIC)
        # nginx lets it through (413 is its own limit); the page asks for its password before it has read it all, and may hang up
        assert large.status in (401, 502)
