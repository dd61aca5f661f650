"""Ctrl-C while the program is still being loaded: it ends as any program that is not there yet does, without a traceback."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def ended_by_ctrl_c() -> Iterator[None]:
    """The system's own end by SIGINT (130 in a shell) while the block runs, unless somebody set something else."""
    ours = threading.current_thread() is threading.main_thread()
    if not ours or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield
        return
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
