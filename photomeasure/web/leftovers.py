"""The folder in which uploads lie while the page runs, and those that a killed page has left behind: they hold photographs
with the place in them, so the next page that starts on this machine removes them."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from pathlib import Path

PREFIX = "photomeasure-page-"
_YOUNG_S = 5.0  # one that was made just now may not be held yet


def own_folder() -> tuple[Path, int | None]:
    """A new folder that only this user may look into, and the handle that holds it as long as this process lives."""
    folder = Path(tempfile.mkdtemp(prefix=PREFIX))
    return folder, held(folder)


def sweep() -> int:
    """Remove this user's folders that no running page holds; returns how many."""
    removed = 0
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        try:
            of_it = folder.lstat()
            mine = not hasattr(os, "getuid") or of_it.st_uid == os.getuid()
            if folder.is_symlink() or not folder.is_dir() or not mine or time.time() - of_it.st_mtime < _YOUNG_S:
                continue
        except OSError:
            continue
        handle = held(folder)
        if handle is not None:  # nobody else holds it
            shutil.rmtree(folder, ignore_errors=True)
            os.close(handle)
            removed += 1
    return removed


def held(folder: Path) -> int | None:
    """A lock that the system lets go of when the process ends, however it ends; None where it is held by another, or the
    system has no such locks (nothing is swept there)."""
    handle = None
    try:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (ImportError, OSError):
        if handle is not None:
            os.close(handle)
        return None
    return handle
