"""The work on one rig, in a process of its own: kept where its record is there already, else measured and written."""

from __future__ import annotations

import errno
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from calib.outcome.errors import InputError, NoRoomError
from calib.outcome.files import write_output
from calib.words.said import said
from photomeasure import __version__
from photomeasure.asked.prints import PRINTS
from photomeasure.asked.request import Request
from photomeasure.asked.requested import request_of as request_of_said
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.batch.elsewhere import fetched
from photomeasure.batch.rows import Done, Row, failed_row, row_of
from photomeasure.batch.same_photo import photos_seen
from photomeasure.batch.tasks import Task
from photomeasure.pipeline import Result
from photomeasure.record.carried import carried_from
from photomeasure.record.earlier import set_aside
from photomeasure.record.measure_and_record import MONTE_CARLO_SEED, file_digest, recorded, software
from photomeasure.record.request_kept import asked_part
from photomeasure.record.schema import Record, read_record
from photomeasure.record.with_tape import said_of
from photomeasure.seen.camera_for import profile_folder
from photomeasure.seen.given import given
from photomeasure.seen.look import Refused


def request_of(task: Task) -> Request:
    """The request of `measure` for this rig."""
    said = replace(task.said, rig=task.rig)
    before = said.from_record
    return request_of_said(
        said,
        task.photos,
        centres_px=task.centres_px,
        profile_folder=profile_folder(),
        carried=None if before is None else carried_from(before, sheet_untouched=said.sheet_untouched),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """All that measuring one rig takes. pictures: whether they are drawn.

    kept: names and digests of photographs of which the record is there already; None where it is to be measured whatever they are.
    """

    request: Request
    seed: int | None
    tape: TapeSaid | None
    pictures: bool
    kept: tuple[tuple[str, str | None], ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRig:
    """One rig's record as text, and its annotated pictures; or why there is none. kept: the record that is there is of these
    photographs."""

    record: str = ""
    pictures: tuple[bytes, ...] = ()
    failed: str | None = None
    kept: bool = False


def work(task: Task) -> Done:
    """Measure one rig and write its record; whatever goes wrong with it becomes a row, so that the others go on."""
    job = begun(task)
    return job if isinstance(job, Done) else written(task, job, measured(job, task.elsewhere))


def begun(task: Task) -> Job | Done:
    """What there is to do for a rig; or its row, where its record is there already or it cannot be asked for."""
    try:
        request = request_of(task)
        there = _made_so(task, request)
        kept = None if there is None else _photos_of(there)
        if there is not None and not task.elsewhere and kept == digests(task.photos):
            return _kept(task, there)
        tape = task.said.tape or _taped_since(task)
    except InputError as error:
        return failed(task, _told(error))
    return Job(
        request=request,
        seed=_seed(task),
        tape=tape,
        pictures=task.wanted.pictures,
        kept=kept if task.elsewhere else None,
    )


def measured(job: Job, elsewhere: Mapping[Path, str], sent: Mapping[Path, bytes] | None = None) -> MeasuredRig:
    """Measure; nothing is written and nothing raised.

    elsewhere: photographs that are to be read here, and where they lie; sent: those that came along.
    """
    try:
        files = {**(sent or {}), **{path: fetched(place, path) for path, place in elsewhere.items()}}
        with given(files):
            if job.kept is not None and job.kept == digests(job.request.photos):
                return MeasuredRig(kept=True)
            outcome, record = recorded(job.request, seed=job.seed, tape=job.tape)
            drawn = tuple(_drawn(record, outcome)) if job.pictures else ()
        return MeasuredRig(record=record.to_json(), pictures=drawn)
    except InputError as error:
        return MeasuredRig(failed=_told(error))
    except MemoryError:
        return MeasuredRig(
            failed=said(
                "There was not enough memory to measure it. Next: measure fewer at a time, use smaller photographs, or end other "
                "programs."
            )
        )
    except Exception as error:  # a fault of the program must not cost the other rigs; the row and the exit code tell
        return MeasuredRig(failed=said("fault of the program: {name}: {error}", name=type(error).__name__, error=error))


def digests(photos: Iterable[Path]) -> tuple[tuple[str, str | None], ...]:
    """Of each photograph its name and the digest of its bytes, as records keep them."""
    return tuple((path.name, file_digest(path)) for path in photos)


def written(task: Task, job: Job, found: MeasuredRig) -> Done:
    """Write what was measured where it belongs, and make the row."""
    if found.failed is not None:
        return failed(task, found.failed)
    try:
        if found.kept:
            return _kept(task, read_record(task.record_file))
        record = Record.model_validate_json(found.record)
        aside = set_aside(task.record_file, record)
        replaced = task.record_file.is_file() and _otherwise_asked(task, job.request)
        write_output(task.record_file, found.record, task.photos)
        for path, data in zip(task.picture_files(len(found.pictures)), found.pictures, strict=True):
            write_output(path, data, task.photos)
    except InputError as error:
        read_only = getattr(error.__cause__, "errno", None) == errno.EROFS  # neither finds the next one any room
        return replace(failed(task, _told(error)), no_room=isinstance(error, NoRoomError) or read_only)
    return Done(
        row=_row(task, record),
        aside=None if aside is None else aside.name,
        replaced=replaced,
        photos=photos_seen(record),
    )


def still_there(task: Task, done: Done | None) -> Done | None:
    """The same, or a row that tells that the record was written and is gone: nobody finds what a table only names."""
    if done is None or not done.row.record or task.record_file.is_file():
        return done
    gone = said(
        "It was measured, and its record {record} is gone: the folder was removed or moved meanwhile. Next: the same command "
        "makes it again.",
        record=task.record_file,
    )
    return failed(task, gone)


def failed(task: Task, why: str) -> Done:
    """What comes of a rig that could not be asked for or written."""
    return Done(row=failed_row(task.rig, task.photos_text, why))


def _told(error: InputError) -> str:
    return f"{error.what} Next: {error.remedy}."


def _otherwise_asked(task: Task, request: Request) -> bool:
    """Whether the record that is there was made with other options."""
    try:
        asked = read_record(task.record_file).asked
    except InputError:
        return False
    return asked is None or asked.model_copy(update={"remembered": {}}) != asked_part(request, (), _seed(task))


def _seed(task: Task) -> int | None:
    return MONTE_CARLO_SEED if task.wanted.monte_carlo else None


def _drawn(record: Record, outcome: Result | Refused) -> list[bytes]:
    from photomeasure.shown.picture.pictures import pictures

    return [data for _, data in pictures(record, outcome)]


def _taped_since(task: Task) -> TapeSaid | None:
    """A reading that was added to the rig's earlier record: nobody should have to tape twice."""
    try:
        return said_of(read_record(task.record_file).tape)
    except InputError:
        return None


def _row(task: Task, record: Record) -> Row:
    return row_of(task.rig, task.photos_text, record, task.record_file.name)


def _kept(task: Task, record: Record) -> Done:
    return Done(row=_row(task, record), kept=True, photos=photos_seen(record))


def _photos_of(record: Record) -> tuple[tuple[str, str | None], ...]:
    return tuple((photo.file, photo.sha256) for photo in record.photos)


def _made_so(task: Task, request: Request) -> Record | None:
    """The record of an earlier run, where measuring the same photographs again could only give the same."""
    if not task.record_file.is_file():
        return None
    try:
        record = read_record(task.record_file)
    except InputError:
        return None  # half a file or another version's: measured again
    tape = task.said.tape  # a reading that was added to the record since stays in it
    if record.asked is None or (record.version, record.software) != (__version__, software()):
        return None
    if tape is not None and tape != said_of(record.tape):
        return None
    wanted = asked_part(request, (), _seed(task))
    if record.asked.model_copy(update={"remembered": {}}) != wanted or not _profiles_stand(task, request, record):
        return None
    return record if _pictures_stand(task, record) else None


def _pictures_stand(task: Task, record: Record) -> bool:
    """Whether the pictures that are wanted are there and were drawn after this record was written."""
    if not task.wanted.pictures:
        return True
    decoded = sum(photo.width_px is not None for photo in record.photos)
    older = task.older_pictures()
    return all(path.is_file() and path not in older for path in task.picture_files(decoded))


def _profiles_stand(task: Task, request: Request, record: Record) -> bool:
    """Whether the folder of remembered cameras is as it was: nothing gone that was used, nothing newer than the record."""
    folder = request.profile_folder
    if folder is None or record.asked is None:
        return True
    kept = [*folder.glob("*.json"), *(folder / PRINTS).glob("*.json")]
    profiles = {path.name: path.stat().st_mtime for path in kept}
    newest = max(profiles.values(), default=0.0)
    return record.asked.remembered.keys() <= profiles.keys() and newest <= task.record_file.stat().st_mtime
