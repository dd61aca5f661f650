"""The program from nothing to its last file: `pytest --benchmark-enable -s tests/benchmarks/test_cold_speed.py`.

A measurement of a 12 MP JPEG with record, picture and report, and with its record alone; `--help`; beside them a Python that loads
what no measurement can do without (numpy, OpenCV). Wall clock in the table, processor seconds of the least printed.
"""

from __future__ import annotations

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
    "record": [*PROGRAM, "measure", str(SAMPLES / "within.jpg"), *SAID, "--json"],
    "record, picture, report": [*PROGRAM, "measure", str(SAMPLES / "within.jpg"), *SAID, "--out"],
}


@pytest.mark.parametrize("name", JOBS)
def test_cold(name: str, benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    command = JOBS[name] + {"--json": [str(tmp_path / "r.json")], "--out": [str(tmp_path)]}.get(JOBS[name][-1], [])
    spent: list[float] = []

    def job() -> int:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        code = subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL).returncode
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        return code

    rounds = 7 if benchmark.enabled else 1
    assert benchmark.pedantic(job, rounds=rounds) == 0  # type: ignore[no-untyped-call]
    print(f"\n{name}: {min(spent):.2f} s of processor at the least")
