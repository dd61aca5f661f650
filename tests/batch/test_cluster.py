"""`batch --cluster` against the same batch on this machine: a local scheduler and two worker processes, one of them killed."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.asked.stated import Stated
from photomeasure.batch import cluster as cluster_module
from photomeasure.batch.cluster import run_on_cluster
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.batch.rows import Done, rows_of, table
from photomeasure.batch.run import Batch
from photomeasure.batch.run import run as run_here
from photomeasure.batch.tasks import Task, Wanted, tasks_of
from photomeasure.cli import app
from tests.sample_requests import SAMPLES, sample_request

distributed = pytest.importorskip("distributed", reason="the extra for clusters is not installed")


def local(workers: int, **how: Any) -> Any:
    return distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, dashboard_address=None, silence_logs=50, **how
    )


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    """Two workers, a process each."""
    with local(2, processes=True, host="127.0.0.1") as started:
        yield started


@pytest.fixture(scope="module")
def scheduler_here() -> Iterator[Any]:
    """One worker, a thread of this process: the same messages, and nothing to load."""
    with local(1, processes=False) as started:
        yield started


def halved(whole: Path, path: Path) -> None:
    with Image.open(whole) as picture:
        half = picture.resize((picture.width // 2, picture.height // 2), Image.Resampling.BOX)
        half.save(path, quality=92, exif=picture.getexif())


def tasks(place: Path, out: str) -> list[Task]:
    """Seven rigs: measured, refused, damaged, not there; photographs lie at paths that are one for both, at half their size."""
    yard = place / "yard"
    if not yard.exists():
        yard.mkdir()
        for name in ("within", "close-call", "above", "refuse"):
            halved(SAMPLES / f"{name}.jpg", yard / f"{name}.jpg")
        (yard / "cut.jpg").write_bytes((yard / "within.jpg").read_bytes()[:200_000])
        x, y = (px / 2 for px in sample_request("within").centres_px[0] or (0.0, 0.0))
        rows = [
            f"within,within.jpg,150,150,{x},{y},yes,402",
            "close,close-call.jpg,150,150,,,no,",
            "above,above.jpg,150,150,,,,",
            *(
                f"{rig},{photo},,,,,,"
                for rig, photo in (("blur", "refuse.jpg"), ("cut", "cut.jpg"), ("gone", "gone.jpg"))
            ),
            "folder,../yard,,,,,,",
        ]
        head = "rig,photo,bar_x_mm,bar_y_mm,centre_x,centre_y,level_ground,tape_mm"
        (yard / "rigs.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    rigs = read_rig_list(yard / "rigs.csv").rigs
    return tasks_of(rigs, Stated(), place / out, Wanted(pictures=True))


def files(folder: Path) -> dict[str, bytes]:
    """Everything that was written, records without the second in which they were made."""
    found = {}
    for path in sorted(folder.iterdir()):
        data = path.read_bytes()
        if path.suffix == ".json":
            data = b"\n".join(line for line in data.splitlines() if b'"computed"' not in line)
        found[path.name] = data
    return found


@pytest.mark.usefixtures("in_this_process")  # what it is compared with; that processes give the same: test_command.py
def test_a_worker_gives_the_same_to_the_last_digit(scheduler_here: Any, tmp_path: Path) -> None:
    here = run_here(tasks(tmp_path, "here"), 1, lambda done: None)
    there = run_on_cluster(tasks(tmp_path, "there"), scheduler_here.scheduler_address, lambda done: None)
    assert not there.interrupted and table(rows_of(here.done)) == table(rows_of(there.done))
    assert {row.rig for row in rows_of(there.done) if row.height_mm} >= {"within", "close", "above"}
    assert files(tmp_path / "here") == files(tmp_path / "there")


@pytest.mark.slow  # one worker in this process: above
@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are POSIX")
@pytest.mark.usefixtures("in_this_process")
def test_a_killed_worker_loses_nothing_and_what_is_there_is_kept(scheduler: Any, tmp_path: Path) -> None:
    here = run_here(tasks(tmp_path, "here"), 1, lambda done: None)
    with distributed.Client(scheduler.scheduler_address, set_as_default=False) as client:
        workers = list(client.run(os.getpid).values())
    killed: list[int] = []

    def kill_one(done: Done) -> None:
        if not killed and done.row.height_mm:
            killed.append(workers[0])
            os.kill(workers[0], signal.SIGKILL)

    there = run_on_cluster(tasks(tmp_path, "there"), scheduler.scheduler_address, kill_one)
    assert killed and not there.interrupted
    assert table(rows_of(here.done)) == table(rows_of(there.done))
    assert {row.rig for row in rows_of(there.done) if row.height_mm} >= {"within", "close", "above"}
    assert files(tmp_path / "here") == files(tmp_path / "there")
    again = run_on_cluster(tasks(tmp_path, "there"), scheduler.scheduler_address, lambda done: None)
    assert sum(done is not None and done.kept for done in again.done) == len(files(tmp_path / "there")) - sum(
        name.endswith(".jpg") for name in files(tmp_path / "there")
    )
    workers_read_them_themselves(scheduler.scheduler_address, tmp_path, here)


def workers_read_them_themselves(address: str, place: Path, here: Batch) -> None:
    """Photographs under shared paths and at addresses, none of them sent: digests tell the workers that a record is there, and what
    is not there is measured from what they read, to the same table and records."""
    every = files(place / "there")
    (place / "there" / "close.json").unlink()
    shared = [task.shared() for task in tasks(place, "there")]
    done = run_on_cluster(shared, address, lambda done: None)
    assert table(rows_of(done.done)) == table(rows_of(here.done)) and files(place / "there") == every
    assert [one.row.rig for one in done.done if one is not None and one.row.record and not one.kept] == ["close"]

    (place / "there" / "above.json").unlink()
    addressed = [
        replace(task, places=tuple(f"file://{path.resolve()}" for path in task.photos))
        for task in tasks(place, "there")
    ]
    done = run_on_cluster(addressed, address, lambda done: None)
    assert files(place / "there") == every
    assert [one.row.rig for one in done.done if one is not None and one.row.record and not one.kept] == ["above"]
    told = {row.rig: row for row in rows_of(done.done)}
    before = {row.rig: row for row in rows_of(here.done)}
    assert told["gone"].error.startswith(
        f"Cannot read file://{(place / 'yard' / 'gone.jpg').resolve()}: there is nothing."
    )
    for rig in told.keys() - {"gone", "folder"}:
        assert replace(told[rig], photos="") == replace(before[rig], photos="")
    with pytest.raises(InputError, match=r"The worker .* cannot read photographs at gs://"):
        run_on_cluster([replace(addressed[0], places=("gs://ferncombe/1.jpg",))], address, lambda done: None)


@pytest.mark.usefixtures("in_this_process")
def test_workers_of_another_version_are_refused(
    scheduler_here: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_module, "worker_software", lambda: {"numpy": "0.1"})
    with pytest.raises(InputError, match=r"numpy 0\.1, here \d"):
        run_on_cluster(tasks(tmp_path, "out"), scheduler_here.scheduler_address, lambda done: None)


def test_a_scheduler_that_ends_in_the_middle_is_told_and_what_is_there_is_kept(tmp_path: Path) -> None:
    """Before, a traceback through the library, and no table."""
    some = tasks(tmp_path, "out")
    with local(1, processes=False) as started:
        first: list[Done] = []

        def ends(done: Done) -> None:
            first.append(done)
            if len(first) == 1:
                started.close()

        batch = run_on_cluster(some, started.scheduler_address, ends)
    assert batch.lost and first and [done for done in batch.done if done is not None] == first
    assert len(first) < len(some)
    again = run_here(some, 1, lambda done: None)
    assert all(done is not None for done in again.done)


@pytest.mark.parametrize("address", ["tls://127.0.0.1:1", "ucx://127.0.0.1:1", "nothing://x"])
def test_an_address_of_another_kind(address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tracebacks of whatever the library does with each."""
    monkeypatch.setattr(cluster_module, "WAIT_S", 0.3)
    with pytest.raises(InputError, match="No cluster answers"):
        run_on_cluster(tasks(tmp_path, "out")[:1], address, lambda done: None)


def test_where_no_cluster_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "WAIT_S", 0.5)
    with pytest.raises(InputError, match="No cluster answers"):
        run_on_cluster(tasks(tmp_path, "out"), "tcp://127.0.0.1:9", lambda done: None)
    for wrong, expected in (
        (["--cluster", "tcp://127.0.0.1:9", "--jobs", "2"], "one of the two"),
        (["--photos-shared"], "together with --cluster"),
    ):
        result = CliRunner().invoke(app, ["batch", str(tmp_path / "yard"), "--out", str(tmp_path / "out"), *wrong])
        assert isinstance(result.exception, InputError) and expected in str(result.exception)
