"""Why a file cannot be read, in words; writing so that nothing is half-written, and nothing lost that was there before.

What a person names as an output goes through `write_output`: it never replaces a file that is read, nor one that this
program did not write, nor anything that is no regular file. `write_atomic` is for the program's own places.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from calib.outcome.errors import InputError, NoRoomError
from calib.words.said import said

_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})  # the disk, or what this person may have of it
_HEAD_BYTES = 65_536
_WHOLE_BYTES = 50_000_000  # a PDF says at its end what made it
_MARK = re.compile(rb"photomeasure/([a-z-]+)/\d")
_JSON = re.compile(rb'\s*\{\s*"schema"\s*:\s*"photomeasure/([a-z-]+)/\d')
_TABLE = b"rig,photos,"
_SYSTEM_SAYS = {
    errno.ENOENT: said("No such file or directory"),
    errno.EACCES: said("Permission denied"),
    errno.EISDIR: said("Is a directory"),
    errno.ENOTDIR: said("Not a directory"),
    errno.ENOSPC: said("No space left on device"),
    errno.ENAMETOOLONG: said("File name too long"),
    errno.EROFS: said("Read-only file system"),
}


def why_unread(error: OSError | UnicodeDecodeError) -> str:
    """Why a text file cannot be read, without the system's numbers: "No such file or directory"."""
    if isinstance(error, OSError):
        reason = error.args[0] if error.args and isinstance(error.args[0], str) else str(error)
        return error_said(error) if error.strerror else reason
    line = bytes(error.object[: error.start]).count(b"\n") + 1
    return said("line {line} is not UTF-8 text", line=line) if line > 1 else said("it is not UTF-8 text")


def error_said(error: OSError) -> str:
    """What the system says, in words that can be told in another language where it is one of the usual things."""
    return _SYSTEM_SAYS.get(error.errno or 0, error.strerror or str(error))


def is_file(path: Path) -> bool:
    """Whether there is a file; False too for a path that can be none (a name too long, a null sign, no right to look)."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_folder(path: Path) -> bool:
    """Whether there is a folder, in the same way."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def check_folder(folder: Path) -> None:
    """Raise InputError where a folder is to be written to and it, or one that holds it, is a file."""
    try:
        nearest = next((place for place in (folder, *folder.parents) if place.exists()), None)
    except OSError:  # may not even be looked at: writing there says so
        return
    if nearest is not None and not nearest.is_dir():
        raise InputError(
            said("Cannot write into {folder}: {nearest} is a file, not a folder.", folder=folder, nearest=nearest),
            expected=said("a folder that exists or can be made, and may be written to"),
            remedy=said("choose another output path, or move that file away"),
        )


def mark(kind: str) -> str:
    """What a picture, report or drawing of this program carries, so that it is known again before it is replaced."""
    return f"photomeasure/{kind}/1"


def kind_of(data: bytes) -> str | None:
    """What a file of this program says that it is ("record", "picture", "table"); None for a file of anybody else's."""
    if data.startswith(_TABLE):
        return "table"
    if data.lstrip()[:1] == b"{":
        found = _JSON.match(data)
    elif data.startswith(b"%PDF"):
        found = re.search(rb"/Keywords \(" + _MARK.pattern, data)
    else:
        found = _MARK.search(data, 0, _HEAD_BYTES)
    return None if found is None else found.group(1).decode()


_ENDINGS = {".pdf": "report", ".csv": "table", ".xlsx": "spreadsheet"}  # by which other programs tell what to open


def is_output(path: Path, kind: str) -> bool:
    """Whether a file's beginning says that this program wrote it as one of this kind; its end may be lost."""
    try:
        with path.open("rb") as stream:
            return kind_of(stream.read(_HEAD_BYTES)) == kind
    except (OSError, ValueError):
        return False


def check_output(path: Path, kind: str | None, inputs: Iterable[Path] = ()) -> None:
    """Raise InputError where `path` must not be written to.

    That is a file among `inputs`, by whatever name; anything that is no regular file (link, pipe, device, folder); a name
    that ends like another kind; and a file that is there and is none of this program's of the same kind. An empty file may be
    written to.
    """
    check_folder(path.parent)
    meant = _ENDINGS.get(path.suffix.lower(), kind)
    if meant != kind and kind in _ENDINGS.values():
        raise InputError(
            said("{path} ends like a {meant}, and a {kind} is written there.", path=path, meant=meant, kind=kind),
            expected=said("a name that ends as what is in the file"),
            remedy=said("change the ending, or ask for a {meant} instead", meant=meant),
        )
    for read in inputs:
        if _same_file(path, read):
            raise InputError(
                said("{path} would be written over, and it is read as an input.", path=path),
                expected=said("an output that is none of the files that are read"),
                remedy=said("name another file for the output"),
            )
    _check_regular(path)
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            there = stream.read(_HEAD_BYTES)
            if there.startswith(b"%PDF") and size <= _WHOLE_BYTES:
                there += stream.read()
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError(
            said(
                "Cannot write {path}: what is there cannot be looked at ({value}).",
                path=path,
                value=error.strerror or error,
            ),
            expected=said("a path at which nothing is yet, or an earlier file of the same kind"),
            remedy=said("choose another output path"),
        ) from error
    if size > 0 and (kind is None or kind_of(there) != kind):
        raise InputError(
            said(
                "{path} is there already, and is no {value} of this program: it is not written over.",
                path=path,
                value=kind or "file",
            ),
            expected=said("a path at which nothing is yet, or an earlier file of the same kind"),
            remedy=said("choose another output path, or move that file away"),
        )


def _same_file(path: Path, other: Path) -> bool:
    try:
        return path.samefile(other)
    except (OSError, ValueError):  # one of them is not there
        return False


def _check_regular(path: Path) -> None:
    try:
        mode = path.lstat().st_mode
    except OSError:  # not there, or said when it is written
        return
    if stat.S_ISREG(mode):
        return
    what = (
        said("a folder")
        if stat.S_ISDIR(mode)
        else said("a link to another file")
        if stat.S_ISLNK(mode)
        else said("a device")
        if stat.S_ISCHR(mode) or stat.S_ISBLK(mode)
        else said("no regular file")
    )
    raise InputError(
        said("{path} is {what}: it is not written over.", path=path, what=what),
        expected=said("a path at which nothing is yet, or a regular file"),
        remedy=said("choose another output path; where a file is named, a single - is the standard output"),
    )


def write_output(path: Path, data: bytes | str, inputs: Iterable[Path] = ()) -> None:
    """Write what a person asked for to the path that they named; InputError as of `check_output` and `write_atomic`."""
    raw = data.encode("utf-8") if isinstance(data, str) else data
    check_output(path, kind_of(raw), inputs)
    write_atomic(path, raw)


def write_atomic(path: Path, data: bytes | str) -> None:
    """Write `data` (text as UTF-8) to `path` in one step; folders that are missing are made.

    Raises InputError where the folder cannot be written, or what is there is no regular file. A crash, of the machine
    too, leaves the old file or the new one, never a part.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    check_folder(path.parent)
    _check_regular(path)
    handle, beside = _begun_beside(path)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(raw)
            stream.flush()
            os.fsync(stream.fileno())  # or the new name may come to the disk before what it names
        Path(beside).replace(path)
    except OSError as error:
        Path(beside).unlink(missing_ok=True)
        raise _not_written(path, error) from error
    except BaseException:  # Ctrl-C: nothing is left lying about
        Path(beside).unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def check_writable(folder: Path, name: str) -> None:
    """Make the folder, and raise InputError where no file called `name` could be begun in it: before time is spent on it."""
    handle, beside = _begun_beside(folder / name)
    os.close(handle)
    Path(beside).unlink(missing_ok=True)


def _begun_beside(path: Path) -> tuple[int, str]:
    """An empty file beside `path`, open for writing; folders that are missing are made."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # a short name of its own: the target's may be as long as a name can be
        beside = path.parent / f".being-written.{secrets.token_hex(8)}"
        # as public as any file this person makes: the system heeds their mask, which no thread can read without changing it
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        return os.open(beside, flags, 0o666), str(beside)
    except OSError as error:
        if error.errno in _FULL:
            raise _not_written(path, error) from error
        raise InputError(
            said("Cannot write {path}: {why}.", path=path, why=error_said(error)),
            expected=said("a folder that exists or can be made, and may be written to"),
            remedy=said("choose another output path, or change the folder's permissions"),
        ) from error


def _not_written(path: Path, error: OSError) -> InputError:
    kind = NoRoomError if error.errno in _FULL else InputError
    return kind(
        said("Cannot write {path}: {why}.", path=path, why=error_said(error)),
        expected=said("room on the disk and a path that is not a folder"),
        remedy=said("free some space or choose another output path"),
    )


def _sync_folder(folder: Path) -> None:
    """The new name on the disk as well, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
