"""A seal's trusted time, against OpenSSL's own time-stamping service (`openssl ts`, RFC 3161), which answers and checks."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import pytest

from calib.outcome.errors import InputError
from photomeasure.seal.check import check_seal
from photomeasure.seal.keys import PRIVATE_NAME, load_private, new_key
from photomeasure.seal.make import make_seal
from photomeasure.seal.schema import Seal, read_seal
from photomeasure.seal.trusted_time import _message, stamped, told
from tests.cli.test_look import run
from tests.sample_requests import SAMPLES

OPENSSL = shutil.which("openssl")
pytestmark = pytest.mark.skipif(OPENSSL is None, reason="openssl plays the time service")
CONFIG = """
[ tsa ]
default_tsa = service
[ service ]
serial = {place}/serial
signer_cert = {place}/service.pem
signer_key = {place}/service.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
accuracy = secs:1
ess_cert_id_alg = sha256
"""


def openssl(*arguments: str | Path) -> None:
    subprocess.run([str(OPENSSL), *map(str, arguments)], check=True, capture_output=True)


def authority(place: Path) -> None:
    """A root of its own, and a service's certificate under it (extended key usage critical, RFC 3161, 2.3)."""
    openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", place / "root.key", "-out", place / "root.pem",
            "-subj", "/CN=Ferncombe root (invented)", "-days", "30")  # fmt: skip
    openssl("req", "-newkey", "rsa:2048", "-nodes", "-keyout", place / "service.key", "-out", place / "service.csr",
            "-subj", "/CN=Ferncombe time (invented)")  # fmt: skip
    (place / "usage").write_text("extendedKeyUsage = critical, timeStamping\nkeyUsage = critical, digitalSignature\n")
    openssl("x509", "-req", "-in", place / "service.csr", "-CA", place / "root.pem", "-CAkey", place / "root.key",
            "-CAcreateserial", "-out", place / "service.pem", "-days", "30", "-extfile", place / "usage")  # fmt: skip
    (place / "serial").write_text("01\n")
    (place / "tsa.cnf").write_text(CONFIG.format(place=place))


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Address of a time service, and the folder with its root certificate."""
    place = tmp_path_factory.mktemp("service")
    authority(place)

    class Answering(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            query = self.rfile.read(int(self.headers["content-length"]))
            (place / "query").write_bytes(query)
            if self.path == "/odd":
                answer = b"no time stamp"
            elif self.path == "/replayed" and (place / "answer").exists():
                answer = (place / "answer").read_bytes()
            else:
                openssl("ts", "-reply", "-queryfile", place / "query", "-out", place / "answer", "-config", place / "tsa.cnf")  # fmt: skip
                answer = (place / "answer").read_bytes()
            self.send_response(200)
            self.send_header("content-type", "application/timestamp-reply")
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Answering)
    Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", place
    server.shutdown()


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case with one record, its key and its seal without a trusted time."""
    place = tmp_path_factory.mktemp("case")
    run("measure", SAMPLES / "within.jpg", "--bar-x", "150", "--bar-y", "150", "--json", place / "one.json")
    new_key(place / "key", None)
    seal = make_seal(
        [place / "one.json"], load_private(place / "key" / PRIVATE_NAME, lambda: ""), case="26-117", by=None
    )
    (place / "case.seal.json").write_text(seal.to_json(), encoding="utf-8")
    return place


def test_the_service_signs_what_the_seal_says_and_openssl_agrees(
    service: tuple[str, Path], sealed: Path, tmp_path: Path
) -> None:
    address, place = service
    seal = stamped(read_seal(sealed / "case.seal.json"), address)
    time = told(seal, place / "root.pem")
    assert time is not None and time.fault is None and time.said is not None
    assert time.by == "CN=Ferncombe time (invented)"
    assert abs((datetime.now(UTC) - datetime.fromisoformat(time.said)).total_seconds()) < 600
    # independent: OpenSSL checks the same answer against the same bytes
    assert seal.time_token is not None
    (tmp_path / "token").write_bytes(base64.b64decode(seal.time_token))
    (tmp_path / "said").write_bytes(_message(seal))
    openssl("ts", "-verify", "-in", tmp_path / "token", "-data", tmp_path / "said", "-CAfile", place / "root.pem")
    assert check_seal(seal, sealed, time_roots=place / "root.pem").sound


OTHER = "belongs to another seal"
FIRST = {"bytes_sha256": "0" * 64}
TAMPERINGS: dict[str, tuple[Callable[[Seal], Seal], str]] = {
    "the seal's own time": (lambda s: s.model_copy(update={"sealed": "2020-01-01T00:00:00+00:00"}), OTHER),
    "a record's digest": (lambda s: s.model_copy(update={"records": [s.records[0].model_copy(update=FIRST)]}), OTHER),
    "the signature": (lambda s: s.model_copy(update={"signature": base64.b64encode(bytes(64)).decode()}), OTHER),
    "the token's end": (lambda s: s.model_copy(update={"time_token": turned(s, -1)}), "not signed by a service whose root"),
    "the token's head": (lambda s: s.model_copy(update={"time_token": turned(s, 1)}), "cannot be read"),
    "no base64": (lambda s: s.model_copy(update={"time_token": "*"}), "cannot be read"),
}  # fmt: skip


def turned(seal: Seal, place: int) -> str:
    token = bytearray(base64.b64decode(seal.time_token or ""))
    token[place] ^= 0xFF
    return base64.b64encode(bytes(token)).decode()


@pytest.mark.parametrize("what", TAMPERINGS)
def test_what_is_changed_under_a_trusted_time_is_found(what: str, service: tuple[str, Path], sealed: Path) -> None:
    address, place = service
    change, said = TAMPERINGS[what]
    changed = change(stamped(read_seal(sealed / "case.seal.json"), address))
    time = told(changed, place / "root.pem")
    assert time is not None and time.fault is not None and said in time.fault
    assert not check_seal(changed, sealed, time_roots=place / "root.pem").sound


def test_another_root_does_not_vouch_for_it(service: tuple[str, Path], sealed: Path, tmp_path: Path) -> None:
    seal = stamped(read_seal(sealed / "case.seal.json"), service[0])
    authority(tmp_path)
    time = told(seal, tmp_path / "root.pem")
    assert time is not None and time.fault is not None and "not signed by a service" in time.fault


def test_the_command_asks_the_service_and_verify_tells_the_time(service: tuple[str, Path], sealed: Path) -> None:
    address, place = service
    seal, key = sealed / "timed.seal.json", sealed / "key" / PRIVATE_NAME
    code, said, _ = run("seal", sealed / "one.json", "--out", seal, "--key", key, "--time-service", address)
    assert code == 0 and "Trusted time: 20" in said
    code, said, _ = run("verify", seal, "--time-roots", place / "root.pem", "--json", sealed / "told.json", "--photos", SAMPLES)  # fmt: skip
    assert code == 0 and "of CN=Ferncombe time (invented), checked" in said
    entry = json.loads((sealed / "told.json").read_text(encoding="utf-8"))["seals"][0]
    assert entry["trusted_time_checked"] is True and entry["trusted_time"].startswith("20")
    bare = sealed / "bare.seal.json"
    bare.write_text(read_seal(seal).model_copy(update={"time_token": None}).to_json(), encoding="utf-8")
    code, said, _ = run("verify", bare, "--time-roots", place / "root.pem", "--photos", SAMPLES)
    assert code == 3 and "SEAL BROKEN" in said and "holds no trusted time" in said
    code, said, _ = run("verify", seal, "--photos", SAMPLES)
    assert code == 0 and "not checked: give its root certificate" in said


@pytest.mark.parametrize(
    ("path", "said"),
    [("/odd", "no time stamp after RFC 3161"), ("/replayed", "belongs to another request")],
)
def test_an_answer_that_is_none_seals_nothing(path: str, said: str, service: tuple[str, Path], sealed: Path) -> None:
    stamped(read_seal(sealed / "case.seal.json"), service[0])
    out = sealed / "never.seal.json"
    with pytest.raises(InputError, match=said):
        run("seal", sealed / "one.json", "--out", out, "--key", sealed / "key" / PRIVATE_NAME, "--time-service", service[0] + path)  # fmt: skip
    assert not out.exists()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("ftp://ferncombe.example/", "no address of a time service"),
        ("file:///etc/passwd", "no address"),
        ("http://127.0.0.1:9", "cannot be reached"),
    ],
)
def test_a_wrong_address_is_said(address: str, said: str, sealed: Path) -> None:
    with pytest.raises(InputError, match=said):
        stamped(read_seal(sealed / "case.seal.json"), address)


def test_roots_that_are_none_are_said(service: tuple[str, Path], sealed: Path) -> None:
    seal = stamped(read_seal(sealed / "case.seal.json"), service[0])
    with pytest.raises(InputError, match="holds no certificates"):
        told(seal, sealed / "one.json")
