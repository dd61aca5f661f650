"""What is kept no longer: photographs after the dealer's days, cases that are deleted, and what a killed program left.

Deleted means: rows out of the database, which overwrites them and is then written anew without them; files removed from
the folder. (Copies that a backup or the file system itself has made are out of this program's reach.)
"""

from __future__ import annotations

import json
import shutil
import time
from pathlib import Path
from typing import TYPE_CHECKING

from photomeasure.web.database import connected, emptied
from photomeasure.web.when import DAY_S

if TYPE_CHECKING:
    import sqlite3

GIVEN_UP_S = 2 * DAY_S  # a photograph that has not gone on arriving for so long never will


class Keeping:
    """Over one store's database and its two folders."""

    def __init__(self, database: Path, photographs: Path, results: Path) -> None:
        self._database, self._photographs, self._results = database, photographs, results

    def sweep(self, now: float | None = None) -> None:
        """Remove what no row names: uploads that were never measured, results that were not finished, photographs that
        broke off on their way; and the rows of those that were given up."""
        given_up = (time.time() if now is None else now) - GIVEN_UP_S
        with connected(self._database, writes=True) as database:
            database.execute("DELETE FROM arriving WHERE began < ?", (given_up,))
            enquiries = {row["key"]: row["folder"] for row in database.execute("SELECT key, folder FROM enquiries")}
            folders, results = (
                {row[0] for row in database.execute(f"SELECT {name} FROM cases")} for name in ("folder", "result")
            )
            files: dict[str, set[str]] = {folder: set() for folder in enquiries.values()}
            for table in ("photographs", "arriving"):
                for row in database.execute(f"SELECT enquiry, file FROM {table}"):
                    files[enquiries[row["enquiry"]]].add(row["file"])
        _remove_all_but(self._results, results)
        _remove_all_but(self._photographs, folders | files.keys())
        for folder, known in files.items():
            if (self._photographs / folder).is_dir():
                _remove_all_but(
                    self._photographs / folder, known | {f"{file}{of}.jpg" for file in known for of in ("", ".ring")}
                )

    def give_up(self, now: float | None = None) -> None:
        """Remove what has not gone on arriving for too long; safe while others arrive."""
        before = (time.time() if now is None else now) - GIVEN_UP_S
        with connected(self._database, writes=True) as database:
            old = "began < ? AND file NOT IN (SELECT file FROM photographs)"
            rows = database.execute(
                f"SELECT e.folder, a.file FROM arriving a JOIN enquiries e ON e.key = a.enquiry WHERE {old}", (before,)
            ).fetchall()
            database.execute(f"DELETE FROM arriving WHERE {old}", (before,))
        for row in rows:
            (self._photographs / row["folder"] / row["file"]).unlink(missing_ok=True)

    def forget_photographs(self, days: int, now: float | None = None) -> list[str]:
        """Remove photographs, and pictures made of them, of what was last touched so many days ago; what was measured
        stays as figures. Returns the folders. days: 0 for none."""
        if days <= 0:
            return []
        before = (time.time() if now is None else now) - days * DAY_S
        with connected(self._database) as database:
            rows = database.execute(
                "SELECT folder, max(touched) AS touched FROM ("
                " SELECT folder, saved AS touched FROM cases UNION ALL"
                " SELECT folder, coalesce(news, made) FROM enquiries) GROUP BY folder"
            ).fetchall()
        old = [row["folder"] for row in rows if row["touched"] < before and self._has_photographs(row["folder"])]
        for folder in old:
            self._forget(folder)
        if old:
            emptied(self._database)
        return old

    def delete(self, folder: str) -> None:
        """Everything about the case whose photographs lie there: rows, photographs, results."""
        with connected(self._database, writes=True) as database:
            results = [row[0] for row in database.execute("SELECT result FROM cases WHERE folder = ?", (folder,))]
            database.execute("DELETE FROM cases WHERE folder = ?", (folder,))
            database.execute("DELETE FROM enquiries WHERE folder = ?", (folder,))  # links and photographs go with it
            # while nobody else writes: a measurement that ends now finds no folder, and keeps nothing
            shutil.rmtree(self._photographs / folder, ignore_errors=True)
        # killed from here on, the next start sweeps what no row names
        for result in results:
            shutil.rmtree(self._results / result, ignore_errors=True)
        emptied(self._database)

    def _has_photographs(self, folder: str) -> bool:
        place = self._photographs / folder
        return place.is_dir() and any(place.iterdir())

    def _forget(self, folder: str) -> None:
        with connected(self._database, writes=True) as database:
            results = [_without_pictures(database, row) for row in database.execute(
                "SELECT key, result, about FROM cases WHERE folder = ?", (folder,)
            ).fetchall()]  # fmt: skip
            key = database.execute("SELECT key FROM enquiries WHERE folder = ?", (folder,)).fetchone()
            for table in ("photographs", "arriving"):
                if key is not None:
                    database.execute(f"DELETE FROM {table} WHERE enquiry = ?", (key[0],))
        for result in results:
            for picture in (self._results / result).glob("*.jpg"):
                picture.unlink(missing_ok=True)
        place = self._photographs / folder
        for found in place.iterdir():
            shutil.rmtree(found, ignore_errors=True) if found.is_dir() else found.unlink(missing_ok=True)


def _without_pictures(database: sqlite3.Connection, row: sqlite3.Row) -> str:
    about = {**json.loads(row["about"]), "uploads": [], "names": [], "pictures": [], "asks": []}
    database.execute("UPDATE cases SET about = ? WHERE key = ?", (json.dumps(about), row["key"]))
    return str(row["result"])


def _remove_all_but(place: Path, known: set[str]) -> None:
    for found in place.iterdir():
        if found.name in known:
            continue
        if found.is_dir() and not found.is_symlink():
            shutil.rmtree(found, ignore_errors=True)
        else:
            found.unlink(missing_ok=True)
