"""A measurement that is killed at any moment leaves whole files or none, and the same command makes them afterwards."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from calib.outcome.files import kind_of
from photomeasure.record.schema import read_record
from tests.sample_requests import SAMPLES

ROOT = Path(__file__).parents[2]
KILLS = [1, pytest.param(int(os.environ.get("PHOTOMEASURE_KILLS", "5")), marks=pytest.mark.slow)]  # by hand: 50
WHOLE = {"within.json": "record", "within-height.jpg": "picture", "within-report.pdf": "report"}


@pytest.mark.skipif(sys.platform == "win32", reason="files in use are another matter there")
@pytest.mark.parametrize("kills", KILLS)
def test_nothing_is_half_written_when_measure_is_killed(tmp_path: Path, kills: int) -> None:
    command = [sys.executable, "-m", "photomeasure", "measure", str(SAMPLES / "within.jpg"), "--out", str(tmp_path)]
    start = time.monotonic()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    takes_s = time.monotonic() - start
    rng = np.random.default_rng(9)
    for _ in range(kills):
        process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
        time.sleep(float(rng.uniform(0.3, 1.0)) * takes_s)
        process.kill()
        process.wait()
        assert read_record(tmp_path / "within.json").photos
        for name, kind in WHOLE.items():
            assert kind_of((tmp_path / name).read_bytes()) == kind
            assert name.endswith(".json") or (tmp_path / name).stat().st_size > 20_000
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
