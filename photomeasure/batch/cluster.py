"""Rigs measured by the workers of a dask.distributed cluster: photographs go there, records come back and are written here.

The workers need the same program and libraries, and no folder in common with this machine; photographs at an address of a store,
or under paths that they share, they read themselves. A worker that is lost loses nothing: the scheduler gives its rigs to
another. What is finished is on this disk at once, so the same command goes on after a break.
"""

from __future__ import annotations

import contextlib
import logging
import tempfile
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from contextvars import copy_context
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from calib.outcome.errors import InputError
from calib.words.said import joined, said
from photomeasure.batch.addresses import is_address, scheme_of
from photomeasure.batch.elsewhere import lacks, unread
from photomeasure.batch.rows import Done
from photomeasure.batch.run import Batch
from photomeasure.batch.tasks import Task

if TYPE_CHECKING:
    from photomeasure.batch.work import Job, MeasuredRig

WAIT_S = 20.0  # for the scheduler to answer
AHEAD = 2  # rigs a thread of the cluster that are sent before the first comes back: memory stays flat however many there are
TRIES = 3
WRITERS = 8  # records written at once: each waits for the disk, which alone would hold up forty workers
_MESSAGES_KEPT = "distributed.admin.low-level-log-length"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A job with the files that it needs. photos: by path; elsewhere: those that the worker reads itself, and where they lie;
    profiles: remembered cameras by file name."""

    job: Job
    photos: Mapping[Path, bytes]
    elsewhere: Mapping[Path, str]
    profiles: Mapping[str, bytes]


def check_cluster(address: str | None, jobs: int | None, *, photos_shared: bool = False) -> None:
    """Raise InputError where the extra is not installed, or the options contradict each other."""
    if address is None:
        if photos_shared:
            raise InputError(
                said("--photos-shared says where the workers of a cluster read photographs, and none is named."),
                expected=said("--photos-shared together with --cluster"),
                remedy=said("leave out --photos-shared: this machine reads them anyway"),
            )
        return
    if jobs is not None:
        raise InputError(
            said("--jobs says how many processes of this machine work, --cluster that others do."),
            expected=said("one of the two"),
            remedy=said("leave out --jobs; how many work is up to the cluster"),
        )
    if find_spec("distributed") is None:
        raise InputError(
            said("--cluster {address} needs a package that is not installed: distributed.", address=address),
            expected=said("photomeasure with its extra for clusters"),
            remedy=said('pip install "photomeasure[cluster]"'),
        )


def run_on_cluster(tasks: Sequence[Task], address: str, finished: Callable[[Done], None]) -> Batch:
    """As `photomeasure.batch.run.run`, by the workers of the scheduler at `address`.

    Raises InputError where no scheduler answers, it has no workers, or they are of another version.
    """
    from photomeasure.batch.work import failed, work, written

    done: list[Done | None] = [None] * len(tasks)
    waiting = iter(range(len(tasks)))
    schemes = {scheme_of(place) for task in tasks for place in task.elsewhere.values() if is_address(place)}
    with _client(address) as (client, threads), ThreadPoolExecutor(WRITERS) as writers:
        _check_readers(client, sorted(schemes))
        running: dict[Any, tuple[int, Sent, int]] = {}
        writing: dict[Future[Done], int] = {}
        full = False

        def keep(number: int, row: Done) -> None:
            nonlocal full
            full |= row.no_room  # nothing more is measured then, for it could not be kept
            done[number] = row
            finished(row)

        def keep_written(most: int) -> None:
            """Rows of records that are on the disk; waits until no more than so many are on their way there."""
            while writing and (len(writing) > most or any(future.done() for future in writing)):
                for future in wait(writing, return_when=FIRST_COMPLETED).done:
                    keep(writing.pop(future), future.result())

        def send_more() -> None:
            while not full and len(running) < AHEAD * threads and (number := next(waiting, None)) is not None:
                sent = _sent(tasks[number])
                if isinstance(sent, Done):
                    keep(number, sent)
                elif sent is None:  # something about its files is to be told as it is told without a cluster
                    keep(number, work(tasks[number]))
                else:
                    running[_submit(client, sent)] = (number, sent, 1)

        try:
            send_more()
            while running and not full:
                future = _first(running)
                number, sent, tries = running.pop(future)
                found = _result(future)
                if isinstance(found, _Lost) and found.passing and tries < TRIES and client.status == "running":
                    running[_submit(client, sent)] = (number, sent, tries + 1)
                    continue
                if isinstance(found, _Lost):
                    keep(number, failed(tasks[number], found.why))
                else:
                    in_context = copy_context().run  # a thread has no language of its own
                    writing[writers.submit(in_context, written, tasks[number], sent.job, found)] = number
                keep_written(WRITERS)
                send_more()
            keep_written(0)
        except KeyboardInterrupt:
            client.cancel(list(running), force=True)
            keep_written(0)
            return Batch(done=tuple(done), interrupted=True)
        except Exception as error:
            if not _is_gone(client, error):
                raise
            keep_written(0)
            return Batch(done=tuple(done), lost=True)
        client.cancel(list(running), force=True)  # where the disk was full
    return Batch(done=tuple(done))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lost:
    """No answer. passing: another try may bring one."""

    why: str
    passing: bool


def _submit(client: Any, sent: Sent) -> Any:
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Sending large graph")  # that is what is meant to happen
        return client.submit(measure_sent, sent, pure=False)


def _first(running: Mapping[Any, Any]) -> Any:
    """One that has ended, whichever is first."""
    return next(iter(_distributed().wait(list(running), return_when="FIRST_COMPLETED").done))


def _is_gone(client: Any, error: Exception) -> bool:
    """Whether the scheduler went away: what it was asked for is cancelled, and nothing more can be asked."""
    return isinstance(error, _distributed().client.FuturesCancelledError) or client.status != "running"


def _distributed() -> Any:
    """The library, whose functions have no types."""
    import distributed

    return distributed


def _result(future: Any) -> MeasuredRig | _Lost:
    try:
        found: MeasuredRig = future.result()
    except _distributed().KilledWorker:
        why = said(
            "every worker of the cluster that measured it died: a damaged photograph, or too little memory. Next: measure its "
            "photographs one by one."
        )
        return _Lost(why=why, passing=False)
    except Exception as error:  # cancelled, connection lost, what could not be sent
        why = said(
            "the cluster gave no answer ({name}: {error}). Next: run the same command again: it goes on from here.",
            name=type(error).__name__,
            error=error,
        )
        return _Lost(why=why, passing=True)
    return found


@contextmanager
def _client(address: str) -> Iterator[tuple[Any, int]]:
    """A client of workers of the same version, and how many threads they have."""
    from photomeasure.record.measure_and_record import software

    library = _distributed()
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)  # what goes wrong is told here, in a sentence
    try:
        client = library.Client(address, timeout=WAIT_S)
    except Exception as error:  # of many kinds, by what stands before "://"
        raise InputError(
            said("No cluster answers at {address}: {error}.", address=address, error=error),
            expected=said("the address of a dask.distributed scheduler, such as tcp://10.0.0.5:8786"),
            remedy=said(
                "start one with dask scheduler, workers with dask worker ADDRESS --nthreads 1, and check the address"
            ),
        ) from error
    try:
        threads = sum(client.nthreads().values())
        if threads == 0:
            raise InputError(
                said("The cluster at {address} has no workers.", address=address),
                expected=said("at least one worker with this program installed"),
                remedy=said("start some: dask worker {address} --nthreads 1", address=address),
            )
        _check_versions(client, software())
        _keep_no_copies(client)
        yield client, threads
    finally:
        with contextlib.suppress(OSError, TimeoutError):  # a scheduler that is gone says no good-bye
            client.close(timeout=WAIT_S)


def _check_versions(client: Any, mine: dict[str, str]) -> None:
    """The same figures to the last digit need the same program and libraries everywhere."""
    theirs = client.run(worker_software, on_error="return")
    for worker, software in theirs.items():
        if software == mine:
            continue
        if not isinstance(software, dict):
            what = said(
                "The worker {worker} cannot run this program ({name}: {error}).",
                worker=worker,
                name=type(software).__name__,
                error=software,
            )
        else:
            unlike = [
                said("{name} {theirs}, here {mine}", name=name, theirs=software.get(name), mine=mine[name])
                for name in mine
                if software.get(name) != mine[name]
            ]
            what = said("The worker {worker} has {unlike}.", worker=worker, unlike=joined(unlike))
        raise InputError(
            what,
            expected=said("the same program and the same versions of its libraries as here"),
            remedy=said("install the same on all machines, or take that worker out"),
        )


def _check_readers(client: Any, schemes: Sequence[str]) -> None:
    """That every worker has what reads the addresses of a list, before any time is spent."""
    for scheme in schemes:
        for worker, lacking in client.run(lacks, scheme).items():
            if lacking is not None:
                what = said(
                    "The worker {worker} cannot read photographs at {scheme}://: {lacking}.",
                    worker=worker,
                    scheme=scheme,
                    lacking=lacking,
                )
                raise unread(what, scheme)


def _keep_no_copies(client: Any) -> None:
    """Of what was sent; where it cannot be changed, more memory is needed, and that is all."""
    with contextlib.suppress(Exception):
        client.scheduler_comm.recent_message_log = deque(maxlen=1)
        client.run_on_scheduler(forget_messages)
        client.run(forget_messages_here, on_error="return")


def forget_messages(dask_scheduler: Any) -> None:
    """In the scheduler: keep no copies of messages that were sent, for every one of ours holds photographs.

    It keeps the last 1000 to each worker for looking at faults: with photographs of 3.5 MB that is 3.5 GB a worker.
    """
    import dask

    dask.config.set({_MESSAGES_KEPT: 1})  # for workers that come later
    for stream in dask_scheduler.stream_comms.values():
        stream.recent_message_log = deque(stream.recent_message_log, maxlen=1)


def forget_messages_here(dask_worker: Any) -> None:
    """In a worker: the same, and only the last of the call trees that it keeps of every second (0.25 MB each)."""
    stream = dask_worker.batched_stream
    stream.recent_message_log = deque(stream.recent_message_log, maxlen=1)
    dask_worker.state.stimulus_log = deque(maxlen=100)
    for history in ("profile_history", "profile_keys_history"):
        setattr(dask_worker, history, deque(maxlen=10))


def worker_software() -> dict[str, str]:
    """On a worker: what it computes with."""
    from photomeasure.record.measure_and_record import software

    return software()


def _sent(task: Task) -> Sent | Done | None:
    """A rig's job with its files; its row, where nothing is to be measured; None where a photograph cannot be read plainly."""
    from calib.outcome.plain_text import steers
    from photomeasure.batch.work import begun
    from photomeasure.seen.image import MAX_FILE_BYTES

    job = begun(task)
    if isinstance(job, Done):
        return job
    photos, elsewhere = {}, task.elsewhere
    for path in task.photos:
        if path in elsewhere:
            continue
        try:
            if steers(path.name) or not path.is_file() or path.stat().st_size > MAX_FILE_BYTES:
                return None
            photos[path] = path.read_bytes()
        except (OSError, ValueError):
            return None
    folder = job.request.profile_folder
    files = sorted(folder.glob("*.json")) if folder is not None and folder.is_dir() else []
    profiles = {path.name: path.read_bytes() for path in files}
    return Sent(job=job, photos=photos, elsewhere=elsewhere, profiles=profiles)


def measure_sent(sent: Sent) -> MeasuredRig:
    """On a worker: measure from the bytes that came along, and those that it fetches itself."""
    import cv2

    from photomeasure.batch.work import measured

    cv2.setNumThreads(1)  # as in the processes of one machine
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as folder:
        for name, data in sent.profiles.items():
            (Path(folder) / name).write_bytes(data)
        request = replace(sent.job.request, profile_folder=Path(folder) if sent.profiles else None)
        return measured(replace(sent.job, request=request), sent.elsewhere, sent.photos)
