"""Rigs through worker processes: each finished record is on disk before the next begins, in any order, numbers alike."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass

from photomeasure.batch.rows import Done, failed_row
from photomeasure.batch.tasks import Task

_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """done: of the tasks, in their order, None for one that was not reached; interrupted: by Ctrl-C."""

    done: tuple[Done | None, ...]
    interrupted: bool = False


def run(tasks: Sequence[Task], jobs: int, finished: Callable[[Done], None]) -> Batch:
    """Work on all tasks in `jobs` processes (one process for one job too, so that its numbers are those of many).

    finished: called once for each in the order in which they end. Ctrl-C lets those that are at work end and gives up the
    rest. A worker that dies (out of memory) costs the rigs not yet done, each with a row that says so.
    """
    done: list[Done | None] = [None] * len(tasks)
    interrupted = False
    context = multiprocessing.get_context("spawn")  # no threads or locks of this process are carried along
    with (
        _one_thread_each(),
        ProcessPoolExecutor(min(jobs, len(tasks)), mp_context=context, initializer=_prepare) as pool,
    ):
        with _deaf_to_ctrl_c():  # which processes take over from the one that starts them
            numbers: dict[Future[Done], int] = {pool.submit(_work, task): number for number, task in enumerate(tasks)}
        try:
            for future in as_completed(numbers):
                number = numbers[future]
                done[number] = result = _result(future, tasks[number])
                finished(result)
        except KeyboardInterrupt:
            interrupted = True
            pool.shutdown(wait=True, cancel_futures=True)
            for future, number in numbers.items():
                if future.done() and not future.cancelled() and done[number] is None:
                    done[number] = _result(future, tasks[number])
    return Batch(done=tuple(done), interrupted=interrupted)


def _prepare() -> None:
    """In a worker: one thread, as the processes share the cores; Ctrl-C is the parent's to handle."""
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)


def _work(task: Task) -> Done:
    """In a worker: what measuring needs is loaded here, and not in the parent."""
    from photomeasure.batch.work import work

    return work(task)


def _result(future: Future[Done], task: Task) -> Done:
    try:
        return future.result()
    except BrokenProcessPool:
        why = "a worker process died, perhaps for want of memory: run again, with fewer --jobs"
        return Done(row=failed_row(task.rig, task.photos_text, why))


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
def _one_thread_each() -> Iterator[None]:
    """Libraries of processes started inside use one thread each; they read this when they are loaded."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
