"""The program from nothing to its last file: `pytest --benchmark-enable -s tests/benchmarks/test_cold_speed.py`.

A measurement of a 12 MP JPEG with record, picture and report, and with its record alone; `--help`; beside them a Python that loads
what no measurement can do without (numpy, OpenCV). Wall clock in the table, processor seconds of the least printed. Modules are
compiled before, as in what pip installs, whatever PYTHONDONTWRITEBYTECODE says.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.sample_requests import SAMPLES

ROOT = Path(__file__).parents[2]
PROGRAM = [sys.executable, "-m", "photomeasure"]
SAID = ["--bar-x", "150", "--bar-y", "150", "--uncoupled", "--unladen", "--level-ground"]
JOBS = {
    "python, numpy, opencv": [sys.executable, "-c", "import numpy, cv2"],
    "help": [*PROGRAM, "--help"],
    "help of measure": [*PROGRAM, "measure", "--help"],
    "record": [*PROGRAM, "measure", str(SAMPLES / "within.jpg"), *SAID, "--json"],
    "record of three photographs": [
        *PROGRAM,
        "measure",
        *(str(SAMPLES / f"set-{number}.jpg") for number in (1, 2, 3)),
        *SAID,
        "--json",
    ],
    "record, picture, report": [*PROGRAM, "measure", str(SAMPLES / "within.jpg"), *SAID, "--out"],
}


@pytest.mark.parametrize("name", JOBS)
def test_cold(name: str, benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    command = JOBS[name] + {"--json": [str(tmp_path / "r.json")], "--out": [str(tmp_path)]}.get(JOBS[name][-1], [])
    spent: list[float] = []
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(tmp_path / "compiled")

    def job() -> int:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        code = subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL).returncode
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        return code

    rounds, before = (7, 1) if benchmark.enabled else (1, 0)
    assert benchmark.pedantic(job, rounds=rounds, warmup_rounds=before) == 0  # type: ignore[no-untyped-call]
    print(f"\n{name}: {min(spent):.2f} s of processor at the least")
