"""Why a file cannot be read, in words; writing so that nothing is ever half-written: beside the target, then renamed over it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from calib.outcome.errors import InputError


def why_unread(error: OSError | UnicodeDecodeError) -> str:
    """Why a text file cannot be read, without the system's numbers: "No such file or directory"."""
    return (error.strerror or str(error)) if isinstance(error, OSError) else "it is not UTF-8 text"


def check_folder(folder: Path) -> None:
    """Raise InputError where a folder is to be written to and it, or one that holds it, is a file."""
    try:
        nearest = next((place for place in (folder, *folder.parents) if place.exists()), None)
    except OSError:  # may not even be looked at: writing there says so
        return
    if nearest is not None and not nearest.is_dir():
        raise InputError(
            f"Cannot write into {folder}: {nearest} is a file, not a folder.",
            expected="a folder that exists or can be made, and may be written to",
            remedy="choose another output path, or move that file away",
        )


def write_atomic(path: Path, data: bytes | str) -> None:
    """Write `data` (text as UTF-8) to `path` in one step; folders that are missing are made.

    Raises InputError where the folder cannot be written. A crash leaves the old file or the new one, never a part.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    check_folder(path.parent)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise InputError(
            f"Cannot write {path}: {error.strerror or error}.",
            expected="a folder that exists or can be made, and may be written to",
            remedy="choose another output path, or change the folder's permissions",
        ) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(raw)
        # mkstemp makes private files; a record is as public as any file this person makes
        mask = os.umask(0)
        os.umask(mask)
        Path(beside).chmod(0o666 & ~mask)
        Path(beside).replace(path)
    except OSError as error:
        Path(beside).unlink(missing_ok=True)
        raise InputError(
            f"Cannot write {path}: {error.strerror or error}.",
            expected="room on the disk and a path that is not a folder",
            remedy="free some space or choose another output path",
        ) from error
