"""The store's database: opened for one piece of work at a time, brought to this edition, and emptied for good."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

OURS, EDITION = 0x70686D73, 3  # SQLite's application_id and user_version


class OtherEditionError(Exception):
    """The file is a database, and not one that this program may touch."""


def _of_a_file(path: Path, **how: Any) -> sqlite3.Connection:
    """A connection to a database that is there: one that was moved away under the program is missed, not made anew without
    the rows, for what no row names is removed at the next start."""
    found: sqlite3.Connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=20, **how)
    return found


@contextmanager
def connected(path: Path, *, writes: bool = False) -> Iterator[sqlite3.Connection]:
    """One transaction: written whole where the block ends well, not at all where it does not.

    writes: nobody else writes between what is read here and what is written.
    """
    with closing(_of_a_file(path)) as database:
        database.row_factory = sqlite3.Row
        database.execute("PRAGMA foreign_keys = ON")
        database.execute("PRAGMA secure_delete = ON")  # what is deleted is overwritten
        with database:
            if writes:
                database.execute("BEGIN IMMEDIATE")
            yield database


def opened(path: Path) -> None:
    """Make the database, or bring one of an earlier edition to this one. Raises OtherEditionError, OSError,
    sqlite3.DatabaseError."""
    path.touch()
    with connected(path) as database:
        ours, edition = (
            database.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version")
        )
        tables = {row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    fresh = ours == 0 and edition == 0 and tables <= {"cases"}
    if not fresh and (ours != OURS or edition > EDITION):
        raise OtherEditionError(edition)
    if edition < EDITION:
        from photomeasure.web.migrations.upgrade import upgrade

        upgrade(path, OURS, EDITION)


class Changes:
    """Whether anybody has written since, without looking at what: SQLite counts the commits of others for a connection that
    is kept open (PRAGMA data_version), and holds no lock for it."""

    def __init__(self, path: Path) -> None:
        self._path, self._lock = path, threading.Lock()
        self._kept: sqlite3.Connection | None = None

    def number(self) -> int:
        """Another one after each change, as long as this program runs."""
        with self._lock:
            if self._kept is None:
                self._kept = _of_a_file(self._path, isolation_level=None, check_same_thread=False)
            return int(self._kept.execute("PRAGMA data_version").fetchone()[0])

    def close(self) -> None:
        with self._lock:
            if self._kept is not None:
                self._kept.close()
                self._kept = None


def emptied(path: Path) -> None:
    """Write the file anew without what was deleted from it."""
    with closing(_of_a_file(path, isolation_level=None)) as database:
        database.execute("VACUUM")
