"""Work that runs beside other work, in a thread of its own where a second core is free for it.

Decoding, numpy and OpenCV let other threads run while they count. Workers of a batch are one a core: there, and where a process
may use one core only, the work is done when it is asked for, as without this.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import copy_context
from typing import Generic, TypeVar

import cv2

Made = TypeVar("Made")


def core_to_spare() -> bool:
    """Whether this process may use more than one core, and was not told to keep to one thread (`cv2.setNumThreads`)."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return cores > 1 and cv2.getNumThreads() > 1


@contextmanager
def beside(work: Callable[[], Made]) -> Iterator[Callable[[], Made]]:
    """Begin `work`; what is handed over waits for it and returns what it made, or raises what it raised.

    The thread has ended when the block is left, whichever way.
    """
    if not core_to_spare():
        yield work
        return
    running = _Running(work)
    running.start()
    try:
        yield running.made
    finally:
        running.join()


class _Running(threading.Thread, Generic[Made]):
    def __init__(self, work: Callable[[], Made]) -> None:
        super().__init__(name="beside")
        self._work, self._context = work, copy_context()
        self._made: Made
        self._raised: BaseException | None = None

    def run(self) -> None:
        try:
            self._made = self._context.run(self._work)
        except BaseException as raised:  # handed on to who asks for what was to be made
            self._raised = raised

    def made(self) -> Made:
        self.join()
        if self._raised is not None:
            raise self._raised
        return self._made
