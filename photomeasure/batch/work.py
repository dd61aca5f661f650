"""The work on one rig, in a process of its own: kept where its record is there already, else measured and written."""

from __future__ import annotations

import signal
from dataclasses import dataclass
from pathlib import Path

from calib.errors import InputError
from calib.files import write_atomic
from photomeasure import __version__
from photomeasure.asked import asked_part
from photomeasure.batch.rows import Row, failed_row, row_of
from photomeasure.pipeline import Request
from photomeasure.record import Record, read_record
from photomeasure.recorded import file_digest, recorded, software


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One rig to measure, and where its record goes."""

    rig: str
    request: Request
    tape_mm: float | None
    record_file: Path

    @property
    def photos(self) -> str:
        return " | ".join(str(path) for path in self.request.photos)


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """kept: the record was there already."""

    row: Row
    kept: bool = False


def prepare() -> None:
    """For a worker process: one thread (the processes share the cores), and Ctrl-C is its parent's to handle."""
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)


def work(task: Task) -> Done:
    """Measure one rig; whatever goes wrong with it becomes a row, so that the others go on."""
    try:
        kept = _kept(task)
        if kept is not None:
            return Done(row=_row(task, kept), kept=True)
        record = recorded(task.request, tape_mm=task.tape_mm)[1]
        write_atomic(task.record_file, record.to_json())
    except InputError as error:
        return Done(row=failed_row(task.rig, task.photos, str(error)))
    except Exception as error:  # a fault of the program must not cost the other rigs; the row and the exit code tell
        return Done(row=failed_row(task.rig, task.photos, f"fault of the program: {type(error).__name__}: {error}"))
    return Done(row=_row(task, record))


def _row(task: Task, record: Record) -> Row:
    return row_of(task.rig, task.photos, record, task.record_file.name)


def _kept(task: Task) -> Record | None:
    """The record of an earlier run, where measuring again could only give the same."""
    if not task.record_file.is_file():
        return None
    try:
        record = read_record(task.record_file)
    except InputError:
        return None  # half a file or another version's: measured again
    tape_mm = None if record.tape is None else record.tape.reading_mm
    if record.asked is None or (record.version, record.software, tape_mm) != (__version__, software(), task.tape_mm):
        return None
    wanted = asked_part(task.request, (), None)
    if record.asked.model_copy(update={"remembered": {}}) != wanted or not _profiles_stand(task, record):
        return None
    seen = [(photo.file, photo.sha256) for photo in record.photos]
    now = [(str(path), file_digest(path)) for path in task.request.photos]
    return record if seen == now else None


def _profiles_stand(task: Task, record: Record) -> bool:
    """Whether the folder of remembered cameras is as it was: nothing gone that was used, nothing newer than the record."""
    folder = task.request.profile_folder
    if folder is None or record.asked is None:
        return True
    profiles = {path.name: path.stat().st_mtime for path in folder.glob("*.json")} if folder.is_dir() else {}
    newest = max(profiles.values(), default=0.0)
    return record.asked.remembered.keys() <= profiles.keys() and newest <= task.record_file.stat().st_mtime
