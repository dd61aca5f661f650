"""Workers start from what one process has loaded for all of them, and know no more of their parent than is told them."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from multiprocessing import forkserver
from pathlib import Path

import pytest

from photomeasure.batch.workers import Workers
from tests.batch.telling import environment, parent_and_loaded
from tests.sample_requests import SAMPLES

linux = pytest.mark.skipif(sys.platform != "linux", reason="workers are forked on Linux alone")


@pytest.mark.parametrize("forked", [pytest.param(True, marks=linux), False], ids=["forked", "each for itself"])
def test_the_environment_is_the_parents_of_now(forked: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """The process from which they are forked may have been started under another one."""
    monkeypatch.setattr("photomeasure.batch.workers._FORKED", forked)
    with Workers(1, environment) as workers:
        list(workers.results(["PHOTOMEASURE_TEST"]))
    monkeypatch.setenv("PHOTOMEASURE_TEST", "now")
    paths = os.environ.get("PYTHONPATH", "")
    with Workers(1, environment) as workers:
        told = dict(workers.results(["PHOTOMEASURE_TEST", "PYTHONPATH", "OPENBLAS_NUM_THREADS"]))
    assert told == {0: "now", 1: paths, 2: "1"}
    assert os.environ.get("PYTHONPATH", "") == paths


@linux
def test_where_nothing_can_be_forked_each_loads_for_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk has no room for the socket by which forking is asked for."""

    def full() -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(forkserver, "ensure_running", full)
    with Workers(1, parent_and_loaded) as workers:
        told = [result for _, result in workers.results(["photomeasure.pipeline"])]
    assert told == [(os.getpid(), False)]


@linux
def test_all_are_forked_from_one_process_that_has_loaded_what_they_use() -> None:
    with Workers(2, parent_and_loaded) as workers:
        told = [result for _, result in workers.results(["photomeasure.pipeline"] * 4)]
    parents = {parent for parent, _ in told}
    assert len(parents) == 1 and os.getpid() not in parents and all(loaded for _, loaded in told)


def test_a_first_measurement_loads_nothing_more_and_there_is_no_thread_to_fork_with(tmp_path: Path) -> None:
    """In a process of its own: after `warm` no module of the program's is loaded for a rig; of others none but trifles."""
    program = f"""
import sys, threading
from pathlib import Path
import photomeasure.batch.warm as warm
threads, before = threading.active_count(), set(sys.modules)
tasks = Path('/proc/self/task')
if tasks.exists():
    threads = len(list(tasks.iterdir()))
from photomeasure.asked.stated import Stated
from photomeasure.batch.tasks import Task, Wanted
task = Task(rig='r', photos=(Path({str(SAMPLES / "within.jpg")!r}),), centres_px=(None,),
            said=Stated(bar_x_mm=150.0, bar_y_mm=150.0), record_file=Path({str(tmp_path / "r.json")!r}), wanted=Wanted())
done = warm.work(task)
print(threads, done.row.height_mm or done.row.refusal, *(set(sys.modules) - before))
"""
    environment_of_workers = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, env=environment_of_workers
    )
    threads, answer, *later = ended.stdout.split()
    assert threads == "1" and answer
    assert [name for name in later if name.split(".")[0] in ("photomeasure", "calib", "numpy", "PIL", "pydantic")] == []
