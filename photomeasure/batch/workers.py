"""Worker processes, one task at a time each: one that dies costs its task and no other, and none outlives its parent.

A pool of the standard library gives up all its tasks when one process dies (a decoder that crashes, no memory left); here
the dead one is replaced. Each worker holds the reading end of a pipe that nothing is ever written to: when the parent is
gone, however it went, the pipe closes and the worker ends at once.

On Linux workers are forked from a process that has loaded what a measurement uses (`warm`), which has no thread and nothing of the
parent's: loading, half a second of a processor, is paid for once and not by each. Elsewhere each loads for itself.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

from calib.outcome.threads import ONE_THREAD
from calib.words.said import said

_FORKED = sys.platform == "linux"  # macOS has libraries that do not survive it, Windows has no such thing
_LEAVE_S = 5.0  # time for a worker to end by itself, before it is made to


@dataclass(frozen=True, slots=True, kw_only=True)
class Died:
    """The worker that had the task ended before it answered. how: "signal 11", "exit code 1"."""

    how: str


@dataclass(slots=True, kw_only=True)
class _Worker:
    process: BaseProcess
    line: Connection
    number: int | None = None  # of the task that it is at


def ready() -> bool:
    """Begin to load what workers use, where they are forked, while the caller goes on; without, it begins with the first worker.

    False where each loads for itself: on other systems, and where there is no room for the socket by which forking is asked for.
    """
    if not _FORKED:
        return False
    from multiprocessing import forkserver

    multiprocessing.get_context("forkserver").set_forkserver_preload(["photomeasure.batch.warm"])
    try:
        with _as_workers_start(), _deaf_to_ctrl_c():
            forkserver.ensure_running()
    except OSError:
        return False
    return True


class Workers:
    """At most `jobs` processes that run `work(task)`. Use in a `with` statement, which ends them."""

    def __init__(self, jobs: int, work: Callable[[Any], Any]) -> None:
        self._jobs, self._work = jobs, work
        self._alive, self._held = multiprocessing.Pipe(duplex=False)
        self._workers: list[_Worker] = []
        self._stopping = False

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        """Idle ones end by themselves; what is still at work is stopped."""
        for worker in self._workers:
            worker.line.close()
            if worker.number is not None:
                worker.process.terminate()
        for worker in self._workers:
            worker.process.join(_LEAVE_S)
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
        self._held.close()
        self._alive.close()

    def stop(self) -> None:
        """Begin no further task; what is at work goes on to its end."""
        self._stopping = True

    def remaining(self) -> Iterator[tuple[int, Any]]:
        """Results of what was at work when `results` was left."""
        return self.results(())

    def results(self, tasks: Sequence[Any]) -> Iterator[tuple[int, Any]]:
        """Number of each task with its result, or `Died`, as they end."""
        waiting = iter(range(len(tasks)))
        busy = [worker for worker in self._workers if worker.number is not None]
        while True:
            while not self._stopping and len(busy) < self._jobs and (number := next(waiting, None)) is not None:
                worker = self._free(busy)
                worker.number = number
                busy.append(worker)
                with contextlib.suppress(OSError):  # it has died: that is seen where its answer is waited for
                    worker.line.send(tasks[number])
            if not busy:
                return
            line = wait([worker.line for worker in busy])[0]
            worker = next(worker for worker in busy if worker.line is line)
            number, result = worker.number, self._answer(worker)
            busy.remove(worker)
            assert number is not None
            yield number, result

    def _answer(self, worker: _Worker) -> Any:
        try:
            result = worker.line.recv()
        except (EOFError, OSError):
            worker.process.join(_LEAVE_S)
            worker.process.kill()
            worker.process.join()
            self._workers.remove(worker)
            code = worker.process.exitcode or 0
            worker.line.close()
            return Died(how=said("signal {number}", number=-code) if code < 0 else said("exit code {code}", code=code))
        worker.number = None
        return result

    def _free(self, busy: Sequence[_Worker]) -> _Worker:
        idle = next((worker for worker in self._workers if worker not in busy), None)
        if idle is not None:
            return idle
        mine, its = multiprocessing.Pipe()
        # by either no threads or locks of this process are carried along
        context: Any = multiprocessing.get_context("forkserver" if ready() else "spawn")
        environment = {**os.environ, **dict.fromkeys(ONE_THREAD, "1")}
        arguments = (its, self._alive, self._work, environment)
        process = context.Process(target=_serve, args=arguments, daemon=True)
        with _as_workers_start(), _deaf_to_ctrl_c():  # which processes take over from the one that starts them
            process.start()
        its.close()
        self._workers.append(_Worker(process=process, line=mine))
        return self._workers[-1]


def _serve(line: Connection, alive: Connection, work: Callable[[Any], Any], environment: Mapping[str, str]) -> None:
    """In a worker: one thread, as the processes share the cores; Ctrl-C is the parent's to handle.

    environment: the parent's as it is now; the process from which this one is forked may be older.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.clear()
    os.environ.update(environment)
    threading.Thread(target=_end_with, args=(alive,), daemon=True).start()
    import cv2

    cv2.setNumThreads(1)
    with contextlib.suppress(EOFError, OSError):  # the parent has no more
        while True:
            line.send(work(line.recv()))


def _end_with(alive: Connection) -> None:
    """Wait for the parent to go."""
    with contextlib.suppress(EOFError, OSError):
        alive.recv_bytes()
    os._exit(1)


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _as_workers_start() -> Iterator[None]:
    """What processes started inside find in the environment when they load: one thread each for linear algebra, and the same
    modules as here.
    """
    paths = dict.fromkeys(os.path.abspath(path) for path in sys.path)  # noqa: PTH100  # the working folder stands there as ""
    wanted = {**dict.fromkeys(ONE_THREAD, "1"), "PYTHONPATH": os.pathsep.join(paths)}
    before = {name: os.environ.get(name) for name in wanted}
    os.environ.update(wanted)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
