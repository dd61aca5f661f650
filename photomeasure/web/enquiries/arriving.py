"""Photographs as they come in: in pieces that may break off anywhere and go on where they were, also after a new start.

A file's length says how much of it has come. It is a photograph once it is whole, on the disk and named by a row: so there
are no halves, whenever the program is killed. The same file sent again is the same photograph.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
import shutil
import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from photomeasure.web.cases import shown_name
from photomeasure.web.database import connected
from photomeasure.web.enquiries.enquiry import Enquiry, Photograph
from photomeasure.web.enquiries.photographs import photograph_of
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.guards import PHOTO_BYTES
from photomeasure.web.problems import empty, more_than_was_said, no_room, too_large, too_many_photographs

MOST_OF_ONE = 24  # photographs of one enquiry, those that were taken again too
MOST_BEGUN = 6  # that have not arrived yet
FREE_BYTES = 500_000_000  # left on the disk for everything else
_BLOCK = 1 << 20
_ON_ITS_WAY = " AND file NOT IN (SELECT file FROM photographs)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Arriving:
    """One file on its way: bytes in all, offset of them are here."""

    key: str
    file: str
    name: str
    bytes: int
    offset: int


class OffsetError(Exception):
    """A piece that does not follow on what is here: `offset` bytes of the file."""

    def __init__(self, offset: int) -> None:
        super().__init__(offset)
        self.offset = offset


def begin(shelf: Shelf, enquiry: Enquiry, mark: str, name: str, size: int) -> Arriving | Photograph:
    """A file that comes, or goes on where it broke off; the photograph where it is here already.

    mark: by which its sender knows the file again. Raises PageError.
    """
    if size <= 0:
        raise empty()
    if size > PHOTO_BYTES:
        raise too_large(PHOTO_BYTES)
    with connected(shelf.database, writes=True) as database:
        row = database.execute("SELECT * FROM arriving WHERE enquiry = ? AND mark = ?", (enquiry.key, mark)).fetchone()
        if row is not None and row["bytes"] == size:
            _taken_again(database, enquiry, "file = ?", row["file"])
            done = _photograph(database, row["file"])
            return done if done is not None else _arriving(shelf, enquiry, row)
        if row is not None:
            database.execute("DELETE FROM arriving WHERE key = ?", (row["key"],))
        _bounds(database, shelf, enquiry, size)
        file = f"photo-{secrets.token_hex(8)}"
        (shelf.folder(enquiry) / file).touch(mode=0o600)
        key = secrets.token_urlsafe(9)
        database.execute(
            "INSERT INTO arriving VALUES (?, ?, ?, ?, ?, ?, ?)",
            (key, enquiry.key, mark, file, shown_name(name, 1), size, time.time()),
        )
    return Arriving(key=key, file=file, name=name, bytes=size, offset=0)


def _taken_again(database: sqlite3.Connection, enquiry: Enquiry, which: str, value: object) -> None:
    """A photograph that was left out, or sent in an earlier round, is sent again: it counts, and now."""
    database.execute(f"UPDATE photographs SET left_out = 0, round = ? WHERE {which}", (enquiry.round, value))


def find(shelf: Shelf, enquiry: Enquiry, key: str) -> Arriving | Photograph | None:
    """What is arriving or has arrived under a key; None where nothing is."""
    with connected(shelf.database) as database:
        row = database.execute("SELECT * FROM arriving WHERE enquiry = ? AND key = ?", (enquiry.key, key)).fetchone()
        if row is None:
            return None
        done = _photograph(database, row["file"])
    return done if done is not None else _arriving(shelf, enquiry, row)


def append(shelf: Shelf, enquiry: Enquiry, arriving: Arriving, offset: int, piece: bytes) -> Arriving | Photograph:
    """The next piece; the photograph when it was the last. Raises OffsetError, and PageError for more than was said."""
    path = shelf.folder(enquiry) / arriving.file
    with path.open("r+b") as stream:
        here = stream.seek(0, os.SEEK_END)
        if offset != here:
            raise OffsetError(here)
        if here + len(piece) > arriving.bytes:
            raise more_than_was_said()
        stream.write(piece)
    if offset + len(piece) < arriving.bytes:
        return Arriving(
            key=arriving.key, file=arriving.file, name=arriving.name, bytes=arriving.bytes, offset=offset + len(piece)
        )
    return _arrived(shelf, enquiry, arriving)


def whole(shelf: Shelf, enquiry: Enquiry, name: str, stream: BinaryIO, size: int) -> Photograph:
    """A file that came in one piece, by a plain form. Raises PageError."""
    begun = begin(shelf, enquiry, f"form-{secrets.token_hex(8)}", name, size)
    assert isinstance(begun, Arriving)
    path = shelf.folder(enquiry) / begun.file
    try:
        with path.open("wb") as target:
            shutil.copyfileobj(stream, target, _BLOCK)
        return _arrived(shelf, enquiry, begun)
    except OSError as error:  # nobody knows it by this mark again, and its half would take the room that is wanting
        path.unlink(missing_ok=True)
        with connected(shelf.database, writes=True) as database:
            database.execute("DELETE FROM arriving WHERE key = ?", (begun.key,))
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise no_room() from error
        raise


def _arrived(shelf: Shelf, enquiry: Enquiry, arriving: Arriving) -> Photograph:
    """On the disk for good, then a row: the photograph, or the one that was the same before."""
    path = shelf.folder(enquiry) / arriving.file
    sha256 = _on_the_disk(path)
    with connected(shelf.database, writes=True) as database:
        row = database.execute(
            "SELECT * FROM photographs WHERE enquiry = ? AND sha256 = ?", (enquiry.key, sha256)
        ).fetchone()
        if row is not None:
            _taken_again(database, enquiry, "number = ?", row["number"])
            if row["file"] != arriving.file:
                # the next time that it is sent, it is that one at once
                database.execute("DELETE FROM arriving WHERE key = ?", (arriving.key,))
        else:
            fresh = (
                enquiry.key, arriving.file, shown_name(arriving.name, 1), sha256, arriving.bytes, enquiry.round, time.time(),
            )  # fmt: skip
            database.execute(
                "INSERT INTO photographs (enquiry, file, name, sha256, bytes, round, arrived) VALUES (?, ?, ?, ?, ?, ?, ?)",
                fresh,
            )
            database.execute("UPDATE enquiries SET news = ? WHERE key = ?", (time.time(), enquiry.key))
        found = database.execute(
            "SELECT * FROM photographs WHERE enquiry = ? AND sha256 = ?", (enquiry.key, sha256)
        ).fetchone()
    if found["file"] != arriving.file:
        path.unlink(missing_ok=True)
    return photograph_of(found)


def _on_the_disk(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("r+b") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
        os.fsync(stream.fileno())
    if hasattr(os, "O_DIRECTORY"):  # that it is in its folder, too
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    return digest.hexdigest()


def _bounds(database: sqlite3.Connection, shelf: Shelf, enquiry: Enquiry, size: int) -> None:
    """What one link may bring: so many photographs, and no more than there is room for."""

    def count(table: str, more: str = "") -> int:
        row = database.execute(f"SELECT count(*) FROM {table} WHERE enquiry = ?{more}", (enquiry.key,)).fetchone()
        return int(row[0])

    if count("photographs") >= MOST_OF_ONE:
        raise too_many_photographs()
    if count("arriving", _ON_ITS_WAY) >= MOST_BEGUN:  # one that was given up makes room
        oldest = database.execute(
            f"SELECT key, file FROM arriving WHERE enquiry = ?{_ON_ITS_WAY} ORDER BY began LIMIT 1", (enquiry.key,)
        ).fetchone()
        database.execute("DELETE FROM arriving WHERE key = ?", (oldest["key"],))
        (shelf.folder(enquiry) / oldest["file"]).unlink(missing_ok=True)
    if shutil.disk_usage(shelf.photographs).free < size + FREE_BYTES:
        raise no_room()


def _photograph(database: sqlite3.Connection, file: str) -> Photograph | None:
    row = database.execute("SELECT * FROM photographs WHERE file = ?", (file,)).fetchone()
    return None if row is None else photograph_of(row)


def _arriving(shelf: Shelf, enquiry: Enquiry, row: sqlite3.Row) -> Arriving:
    path = shelf.folder(enquiry) / row["file"]
    if not path.exists():  # swept
        path.touch(mode=0o600)
    return Arriving(key=row["key"], file=row["file"], name=row["name"], bytes=row["bytes"], offset=path.stat().st_size)
