"""What goes wrong around a batch: processes that die or are killed, odd names, one photograph twice, two batches at once."""

from __future__ import annotations

import csv
import errno
import io
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.asked.stated import Stated
from photomeasure.batch import run as run_module
from photomeasure.batch.alone import alone_in
from photomeasure.batch.names import as_file_name, names_a_file
from photomeasure.batch.rigs import rigs_in
from photomeasure.batch.rows import Done, Row, rows_of, table
from photomeasure.batch.run import run as run_tasks
from photomeasure.batch.same_photo import PhotoSeen
from photomeasure.batch.tasks import tasks_of
from photomeasure.record.schema import read_record
from tests.batch.dying import bad_dies, bad_dies_once, no_room_for_b
from tests.running import runs
from tests.sample_requests import SAMPLES

ROOT = Path(__file__).parents[2]
RIGS = 6  # two at once take seconds: time enough to end them in the middle


def yard(place: Path, *names: str) -> Path:
    place.mkdir(exist_ok=True)
    for name in names:
        shutil.copyfile(SAMPLES / "refuse.jpg", place / name)
    return place


run = runs("batch")


def errors(place: Path) -> dict[str, str]:
    tasks = tasks_of(
        rigs_in(yard(place, *(f"{name}.jpg" for name in ("a", "b", "bad", "c", "d")))).rigs, Stated(), place / "out"
    )
    batch = run_tasks(tasks, 2, lambda done: None)
    return {done.row.rig: done.row.error for done in batch.done if done is not None}


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are POSIX")
def test_a_process_that_dies_costs_its_rig_and_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_module, "_work", bad_dies)
    said = errors(tmp_path / "yard")
    assert "signal 9" in said.pop("bad")
    assert said == dict.fromkeys("abcd", "seen")


def test_a_rig_whose_process_died_is_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_module, "_work", bad_dies_once)
    assert set(errors(tmp_path / "yard").values()) == {"seen"}


def descendants(process: int) -> set[int]:
    """All processes below one, by /proc."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if fields[0] != "Z":
                parents[int(entry.name)] = int(fields[1])
    found, more = {process}, True
    while more:
        new = {child for child, parent in parents.items() if parent in found} - found
        found, more = found | new, bool(new)
    return found - {process}


def alive(processes: set[int]) -> set[int]:
    left = set()
    for process in processes:
        try:
            state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            continue
        if state != "Z":
            left.add(process)
    return left


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are counted by /proc")
@pytest.mark.usefixtures("in_this_process")  # the run that goes on; the one that is ended is a process with others
@pytest.mark.parametrize("sign", [signal.SIGKILL, pytest.param(signal.SIGTERM, marks=pytest.mark.slow)])
def test_no_process_is_left_and_the_next_run_goes_on(sign: signal.Signals, tmp_path: Path) -> None:
    photos = yard(tmp_path / "yard", *(f"rig {number:02d}.jpg" for number in range(RIGS)))
    out = tmp_path / "out"
    command = [sys.executable, "-m", "photomeasure", "batch", str(photos), "--out", str(out), "--jobs", "2"]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 120.0
    while not list(out.glob("*.json")) and time.monotonic() < deadline and process.poll() is None:
        time.sleep(0.02)
    below = descendants(process.pid)
    assert len(below) >= 2
    process.send_signal(sign)
    process.wait(60)
    while alive(below) and time.monotonic() < deadline + 60.0:
        time.sleep(0.05)
    assert not alive(below)
    before = {path.name: path.stat().st_mtime_ns for path in out.glob("*.json")}
    assert before and all(read_record(out / name) for name in before)  # none half-written
    assert run(photos, "--out", out)[0] == 3
    assert len(list(out.glob("*.json"))) == RIGS
    assert {name: (out / name).stat().st_mtime_ns for name in before} == before  # kept, not made again


@pytest.mark.usefixtures("in_this_process")
def test_one_photograph_under_two_rigs_is_said(tmp_path: Path) -> None:
    photos = yard(tmp_path / "yard", "van.jpg", "truck.jpg")
    _, output = run(photos, "--out", tmp_path / "out")
    assert "One photograph in several rigs" in output and "van: also in truck" in output
    rows = {row["rig"]: row for row in csv.DictReader((tmp_path / "out" / "table.csv").open(encoding="utf-8"))}
    assert (rows["van"]["same_photo_as"], rows["truck"]["same_photo_as"]) == ("truck", "van")
    _, again = run(photos, "--out", tmp_path / "out")  # kept records say it too
    assert "van: also in truck" in again
    assert "Measured anew with other options" not in again
    _, other = run(photos, "--out", tmp_path / "out", "--bar-x", 149)
    assert "Measured anew with other options" in other


def test_rows_that_share_nothing_are_as_they_were() -> None:
    done = [
        Done(row=Row(rig=name, photos=""), photos=(PhotoSeen(sha256=digest),))
        for name, digest in (("a", "1"), ("b", "2"))
    ]
    assert rows_of([done[0], None, done[1]]) == [done[0].row, done[1].row]


def test_cells_that_would_be_formulas_are_text() -> None:
    nasty = '=HYPERLINK("http://example.com")'
    rows = [
        Row(
            rig="a", photos=nasty, lower_by_from_mm="-3.5", note="@x", error="\tx", more=(("extra", "+1"), ("e2", "-x"))
        ),
        Row(rig="\x1b[31mred", photos=""),
    ]
    first, second = csv.DictReader(io.StringIO(table(rows)))
    assert first["photos"] == f"'{nasty}" and first["lower_by_from_mm"] == "-3.5" and first["note"] == "'@x"
    assert first["extra"] == "+1" and first["e2"] == "'-x" and "\t" not in first["error"]
    assert second["rig"] == "\\x1b[31mred"


@pytest.mark.parametrize(
    "name",
    [
        "CON",
        "nul.1",
        "Lpt1",
        "van.",
        "van ",
        "a/b",
        "a:b",
        ".van",
        "",
        " ",
        "x" * 201,
        "\u5927" * 100,
        "a\x1bb",
        "a\u202eb",
    ],
)
def test_names_that_cannot_name_a_file_everywhere(name: str) -> None:
    assert not names_a_file(name)
    made = as_file_name(name)
    assert names_a_file(made) and as_file_name(made) == made


@pytest.mark.parametrize("name", ["van", "T\u00e9l\u00e9 2", "console", "a.b", "\u5927\u578b", "-x", "rig (2)"])
def test_names_that_can(name: str) -> None:
    assert names_a_file(name) and as_file_name(name) == name


def test_wrong_names_in_a_list_are_told(tmp_path: Path) -> None:
    listed = tmp_path / "rigs.csv"
    listed.write_text(
        "rig,photo\nCON,a.jpg\nvan.,b.jpg\n" + "\u5927" * 100 + ",c.jpg\nd," + "n" * 300 + ".jpg\n", encoding="utf-8"
    )
    with pytest.raises(InputError) as caught:
        run(listed, "--out", tmp_path / "out")
    assert str(caught.value).count("can name a file") == 3


@pytest.mark.usefixtures("in_this_process")
@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="such names cannot be given there")
def test_photographs_and_folders_with_odd_names_become_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos = yard(tmp_path / "yard", "van.jpg", "x\x1b[31m.jpg", "n" * 250 + ".jpg")
    shutil.copyfile(SAMPLES / "refuse.jpg", os.fsencode(photos) + b"/p\xe9.jpg")
    (photos / "deep.json").write_text("[" * 100_000)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "deep.json").write_text("[" * 100_000)
    code, output = run(photos, "--out", tmp_path / "out")
    text = (tmp_path / "out" / "table.csv").read_text(encoding="utf-8")
    assert code == 3 and "\x1b" not in output + text
    rows = {row["rig"]: row for row in csv.DictReader(io.StringIO(text))}
    assert len(rows) == 4 and rows["van"]["refusal"] == "no-sheet"
    assert "cannot be shown" in rows["p_"]["error"] and "cannot be shown" in rows["x_[31m"]["error"]


def test_a_folder_that_may_not_be_read_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos = yard(tmp_path / "yard", "van.jpg")
    (photos / "shut").mkdir()
    plainly = Path.iterdir

    def refused(self: Path) -> object:
        if self.name == "shut":
            raise PermissionError(13, "Permission denied", str(self))
        return plainly(self)

    monkeypatch.setattr(Path, "iterdir", refused)
    grouping = rigs_in(photos)
    assert [rig.name for rig in grouping.rigs] == ["van"] and any("shut may not" in said for said in grouping.aside)


@pytest.mark.usefixtures("in_this_process")
@pytest.mark.skipif(sys.platform == "win32", reason="folders are not locked there")
def test_two_batches_into_one_folder_at_once(tmp_path: Path) -> None:
    photos = yard(tmp_path / "yard", "van.jpg")
    with alone_in(tmp_path / "out"), pytest.raises(InputError, match="Another batch"):
        run(photos, "--out", tmp_path / "out")
    assert run(photos, "--out", tmp_path / "out")[0] == 3


def test_a_full_disk_ends_a_batch_before_more_is_measured_for_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run_module, "_work", no_room_for_b)
    photos = yard(tmp_path / "yard", *(f"{name}.jpg" for name in "abcdefgh"))
    batch = run_tasks(tasks_of(rigs_in(photos).rigs, Stated(), tmp_path / "out"), 1, lambda done: None)
    assert batch.full and [done is not None for done in batch.done] == [True, True, *[False] * 6]
    with pytest.raises(InputError, match=r"The disk is full: 0 of 8 rigs"):
        run(photos, "--out", tmp_path / "out", "--jobs", "1")


def test_no_room_for_a_record_is_told_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from photomeasure.batch.work import work

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    task = tasks_of(rigs_in(yard(tmp_path / "yard", "a.jpg")).rigs, Stated(), tmp_path / "out")[0]
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", full)
        done = work(task)
    assert done.no_room and "No space left" in done.row.error and list((tmp_path / "out").iterdir()) == []
    assert not work(task).no_room and (tmp_path / "out" / "a.json").is_file()


def test_a_folder_that_cannot_be_written_is_told_before_anything_is_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    photos = yard(tmp_path / "yard", "a.jpg")

    def refused(*_: object, **__: object) -> object:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    def never(*_: object) -> object:
        raise AssertionError("measured for nothing")

    monkeypatch.setattr(os, "open", refused)
    monkeypatch.setattr(run_module, "run", never)
    with pytest.raises(InputError, match="Permission denied"):
        run(photos, "--out", tmp_path / "out")


@pytest.mark.usefixtures("in_this_process")
def test_a_record_that_was_taken_away_meanwhile_is_not_said_to_be_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that was moved in the middle: all rigs "measured" before, exit code 0, and no record in it."""
    from calib.outcome.files import write_output

    def moved_after(path: Path, data: str, inputs: tuple[Path, ...]) -> None:
        write_output(path, data, inputs)
        if path.name == "a.json":
            (tmp_path / "out").rename(tmp_path / "moved")

    monkeypatch.setattr("photomeasure.batch.work.write_output", moved_after)
    photos = tmp_path / "yard"
    photos.mkdir()
    shutil.copyfile(SAMPLES / "chat.jpg", photos / "a.jpg")
    code, _ = run(photos, "--out", tmp_path / "out", "--jobs", "1")
    row = next(csv.DictReader(io.StringIO((tmp_path / "out" / "table.csv").read_text())))
    assert code == 3 and "is gone" in row["error"] and not row["record"]
    monkeypatch.undo()


def test_want_of_memory_is_no_fault_of_the_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from photomeasure.batch import work as work_module

    def none_left(*_: object, **__: object) -> object:
        raise MemoryError

    monkeypatch.setattr(work_module, "recorded", none_left)
    task = tasks_of(rigs_in(yard(tmp_path / "yard", "a.jpg")).rigs, Stated(), tmp_path / "out")[0]
    error = work_module.work(task).row.error
    assert "not enough memory" in error and "fewer at a time" in error and "fault" not in error


def test_a_disk_that_becomes_read_only_ends_a_batch_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before, all other rigs were measured for nothing."""
    from photomeasure.batch.work import work

    def read_only(handle: int) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    task = tasks_of(rigs_in(yard(tmp_path / "yard", "a.jpg")).rigs, Stated(), tmp_path / "out")[0]
    monkeypatch.setattr(os, "fsync", read_only)
    assert work(task).no_room
    monkeypatch.setattr(run_module, "_work", no_room_for_b)
    photos = yard(tmp_path / "more", *(f"{name}.jpg" for name in "abcd"))
    with pytest.raises(InputError, match="Read-only file system"):
        run(photos, "--out", tmp_path / "out2", "--jobs", "1")
