"""`photomeasure serve` from the outside: one address, nothing left behind, and errors that a person can act on."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.cli import app
from photomeasure.commands import serve as command
from photomeasure.web import address
from photomeasure.web.server import qr_code


def started(place: Path, *options: str) -> tuple[subprocess.Popen[str], str]:
    """The program as a process of its own with its temporary files in `place`, and what it printed first."""
    code = os.pathsep.join([str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH", "")])
    environment = {**os.environ, "TMPDIR": str(place), "PYTHONPATH": code}
    process = subprocess.Popen(
        [sys.executable, "-c", "from photomeasure.cli import main; main()", "serve", *options],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment,
    )  # fmt: skip
    printed = ""
    assert process.stdout is not None
    for line in process.stdout:
        printed += line
        if "Ctrl-C" in line:
            break
    return process, printed


def of_this_machine(printed: str) -> None:
    assert printed.count("http://127.0.0.1:") == printed.count("http://") == 1 and "WARNING" not in printed


def of_its_network(printed: str) -> None:
    """It warns, and says what to type."""
    assert "WARNING: anyone in this network" in printed and "0.0.0.0" not in printed
    for own in address.own_addresses():
        assert f"http://{own}:" in printed


@pytest.mark.parametrize(
    ("options", "says", "stop"),
    [
        ((), of_this_machine, signal.SIGINT),
        (("--host", "0.0.0.0"), of_its_network, signal.SIGTERM),
        ((), of_this_machine, signal.SIGHUP),
    ],
)
def test_it_prints_its_address_serves_it_and_leaves_nothing(
    tmp_path: Path, options: tuple[str, ...], says: Callable[[str], None], stop: signal.Signals
) -> None:
    process, printed = started(tmp_path, *options)
    try:
        says(printed)
        at = re.search(r"http://[\d.]+:(\d+)/([a-z2-9-]{14})/", printed)
        assert at is not None
        with urllib.request.urlopen(at[0], timeout=20) as answer:
            assert answer.status == 200 and b"Measure" in answer.read()
        with pytest.raises(urllib.error.HTTPError, match="404"):
            urllib.request.urlopen(at[0].replace(at[2], "aaaa-bbbb-cccc"), timeout=20)
        assert list(tmp_path.glob("photomeasure-page-*"))
    finally:
        process.send_signal(stop)
        output, _ = process.communicate(timeout=20)
    assert process.returncode == 0 and "Traceback" not in output
    assert not list(tmp_path.glob("photomeasure-page-*"))


def test_what_a_browser_may_call_it() -> None:
    assert set(address.allowed_hosts("127.0.0.1")) == {"127.0.0.1", "localhost", "[::1]"}
    everywhere = address.allowed_hosts("0.0.0.0")
    assert set(address.own_addresses()) <= set(everywhere) and "*" not in everywhere and "0.0.0.0" not in everywhere


def test_a_token_cannot_be_guessed_and_can_be_typed() -> None:
    """31 signs, 12 places: 31**12 > 2**59."""
    tokens = {address.new_token() for _ in range(200)}
    assert len(tokens) == 200 and all(
        re.fullmatch(r"([a-km-np-z2-9]{4}-){2}[a-km-np-z2-9]{4}", token) for token in tokens
    )


def test_the_square_holds_the_address() -> None:
    """Half blocks back to pixels, read by a QR reader."""
    at = "http://192.168.178.123:65535/abcd-efgh-2345/"
    halves = {" ": (0, 0), "\N{UPPER HALF BLOCK}": (1, 0), "\N{LOWER HALF BLOCK}": (0, 1), "\N{FULL BLOCK}": (1, 1)}
    rows = [re.sub(r"\x1b\[[\d;]*m", "", line)[2:] for line in qr_code(at).splitlines()]
    assert max(map(len, rows)) <= 60
    dark = np.array([[halves[sign][half] for sign in row] for row in rows for half in (0, 1)])
    picture = np.kron(255 * (1 - dark), np.ones((8, 8))).astype(np.uint8)
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == at


def test_a_port_that_is_taken_and_an_address_that_is_not_ours() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        with pytest.raises(InputError, match="in use") as caught:
            address.listen("127.0.0.1", taken.getsockname()[1])
        assert "--port" in caught.value.remedy
    for host, port in (("192.0.2.1", 0), ("no such host", 0), ("127.0.0.1", 70000), ("127.0.0.1", -1)):
        with pytest.raises(InputError):
            address.listen(host, port)


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "find_spec", lambda name: None if name == "uvicorn" else find_spec(name))
    result = CliRunner().invoke(app, ["serve"])
    assert isinstance(result.exception, InputError)
    assert "uvicorn" in result.exception.what and "photomeasure[web]" in result.exception.remedy
