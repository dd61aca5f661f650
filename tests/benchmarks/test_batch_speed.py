"""A batch by one process against two: `pytest --benchmark-enable tests/benchmarks/test_batch_speed.py`.

Compare the two rows' minimum; the ratio is what counts (goal 1.9 on two idle cores), and it is no test. What workers use is loaded
once, by the process from which they are forked, which takes about as long as two rigs.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from photomeasure.asked.stated import Stated
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.batch.run import run
from photomeasure.batch.tasks import tasks_of
from tests.sample_requests import SAMPLES, sample_request

RIGS = 100


@pytest.mark.parametrize("jobs", [1, 2])
def test_batch(jobs: int, benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    rigs = RIGS if benchmark.enabled else jobs
    x, y = sample_request().centres_px[0] or (0.0, 0.0)
    rows = [f"rig {i},{SAMPLES / 'within.jpg'},150,150,{x},{y}" for i in range(rigs)]
    listed = tmp_path / "rigs.csv"
    listed.write_text("\n".join(["rig,photo,bar_x_mm,bar_y_mm,centre_x,centre_y", *rows]), encoding="utf-8")
    tasks = tasks_of(read_rig_list(listed).rigs, Stated(), tmp_path / "out")

    def job() -> int:
        shutil.rmtree(tmp_path / "out", ignore_errors=True)
        return sum(done is not None and bool(done.row.height_mm) for done in run(tasks, jobs, lambda done: None).done)

    assert benchmark.pedantic(job, rounds=2) == rigs  # type: ignore[no-untyped-call]
