"""One batch at a time into one folder: two would measure twice, and the second table would be the only one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.files import check_folder
from calib.words.said import said


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Hold the folder (which is made) while the block runs. Raises InputError where another process holds it.

    The system lets go of it when the process ends, however it ends. Where it cannot be held (some network folders, systems
    without such locks) the block runs all the same.
    """
    check_folder(folder)
    handle = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        if handle is not None:
            os.close(handle)
        raise InputError(
            said("Another batch is writing into {folder}.", folder=folder),
            expected=said("one batch at a time in a folder"),
            remedy=said("wait until it has ended, or name another folder"),
        ) from None
    except (ImportError, OSError):  # what cannot be written is told where it is written
        pass
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)
