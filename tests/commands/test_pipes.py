"""A pipe that nobody writes into, named where a record is expected: told, and not waited for."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")


@pytest.mark.parametrize(
    "words",
    [("report", "PIPE", "--out", "case.pdf"), ("tape", "PIPE", "--reads", "400"), ("verify", "PIPE"), ("plan", "PIPE")],
    ids=lambda words: words[0],
)
def test_a_pipe_is_no_record(words: tuple[str, ...], tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    command = [sys.executable, "-m", "photomeasure", *(str(tmp_path / "pipe") if w == "PIPE" else w for w in words)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2 and "pipe" in done.stderr and "Next:" in done.stderr and "Traceback" not in done.stderr


def test_an_audit_of_a_pipe_says_that_it_is_no_record(tmp_path: Path) -> None:
    """Before, exit code 0 as if it were an empty folder."""
    os.mkfifo(tmp_path / "pipe")
    command = [sys.executable, "-m", "photomeasure", "audit", str(tmp_path / "pipe"), "--json", "-"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 3
    assert "it is no regular file" in done.stdout and json.loads(done.stdout)["n"] == 0
