"""Cases that outlive the program: which there are in a database, photographs, records and pictures as files beside it.

    store.sqlite   one row a result: where its files lie, and what was answered; enquiries, links, photographs of customers
    token          the address's secret word, the same after every start
    photographs/   as they were uploaded, one folder for every upload and every enquiry
    results/       one folder for every result, with its record and pictures
    remembered/    profiles of phones and check bars of prints, as `calibrate --remember` and `kit remember` keep them

A result's files are written first, into a folder of their own, and the row that names the folder last: so a case is there
whole or not at all, whenever the program is killed. What no row names is removed at the next start.
"""

from __future__ import annotations

import errno
import json
import os
import secrets
import shutil
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from calib.outcome.errors import InputError
from calib.outcome.files import error_said, write_atomic
from calib.words.said import said, say
from photomeasure.record.schema import Record
from photomeasure.web.address import new_token
from photomeasure.web.answers import Answers, checked
from photomeasure.web.asking import Ask
from photomeasure.web.cases import Case, Upload
from photomeasure.web.database import Changes, OtherEditionError, connected, opened
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.keeping import Keeping
from photomeasure.web.leftovers import held
from photomeasure.web.measuring import Measured
from photomeasure.web.problems import not_kept
from photomeasure.web.remembered import Remembered
from photomeasure.web.short import Short, kept_short, said_short, short_of

Read = TypeVar("Read")
REPLACED = 5  # times that a result may be replaced while it is read; its pictures alone do that once


def read_whole(read: Callable[[], Read]) -> Read:
    """What is read of results' files, once more where one of them was replaced by a newer one meanwhile.

    A figure is kept before its pictures are drawn, and then the two together in its place. Raises FileNotFoundError where files
    are missing for another reason.
    """
    for _ in range(REPLACED - 1):
        try:
            return read()
        except FileNotFoundError:
            continue
    return read()


class Store:
    """A folder with cases, held by one program at a time. Raises InputError where it cannot be one."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.database, self.photographs, self._results = (
            folder / name for name in ("store.sqlite", "photographs", "results")
        )
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not self.database.exists() and any(folder.iterdir()):
                raise _unfit(folder, said("there are other things in it"))
            if self._emptied():
                raise _unfit(
                    folder, said("store.sqlite is empty, and photographs lie beside it; put a copy of it back")
                )
            self._handle = held(folder)
            if self._handle is None and os.name == "posix":
                raise _unfit(folder, said("another program holds it"))
            try:
                self._opened()
            except BaseException:  # nobody holds what could not be opened
                self._let_go()
                raise
        except OtherEditionError as edition:
            raise _unfit(
                folder, said("store.sqlite is of another program or edition ({edition})", edition=edition)
            ) from edition
        except OSError as error:
            raise _unfit(folder, error_said(error)) from error
        except sqlite3.DatabaseError as error:
            raise _unfit(folder, str(error)) from error

    def _opened(self) -> None:
        opened(self.database)
        for part in (self.photographs, self._results):
            part.mkdir(mode=0o700, exist_ok=True)
        self.remembered = Remembered.kept_in(self._folder / "remembered")
        self.keeping = Keeping(self.database, self.photographs, self._results)
        self.shelf = Shelf(self.database, self.photographs)
        self.changes = Changes(self.database)
        self.keeping.sweep()
        self.keeping.forget_photographs(self.shelf.settings().keep_days)

    def _let_go(self) -> None:
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def _emptied(self) -> bool:
        """Whether the rows were lost and files are left, which would all be removed as nobody's."""
        lost = self.database.is_file() and self.database.stat().st_size == 0
        return lost and any(part.is_dir() and any(part.iterdir()) for part in (self.photographs, self._results))

    @contextmanager
    def _connected(self) -> Iterator[sqlite3.Connection]:
        with connected(self.database) as database:
            yield database

    def token(self) -> str:
        """The address's secret word, made once."""
        path = self._folder / "token"
        if not path.exists():
            write_atomic(path, new_token() + "\n")
            path.chmod(0o600)
        return path.read_text(encoding="utf-8").strip()

    def holds(self, folder: Path) -> bool:
        """Whether a case's photographs lie in this folder."""
        with self._connected() as database:
            asked = "SELECT 1 FROM cases WHERE folder = ? UNION SELECT 1 FROM enquiries WHERE folder = ?"
            return database.execute(asked, (folder.name, folder.name)).fetchone() is not None

    def save(self, case: Case) -> None:
        """Keep a measured case, in place of what was kept of it before."""
        if case.measured is None:
            return
        result = self._results / f"{case.key}.{secrets.token_hex(4)}"
        try:
            before = self._save(case, case.measured, result)
        except (OSError, InputError, sqlite3.DatabaseError) as error:
            shutil.rmtree(result, ignore_errors=True)
            print(say("photomeasure: a case could not be kept: {error}", error=error), file=sys.stderr)
            raise not_kept() from error
        if before is not None:
            shutil.rmtree(self._results / before, ignore_errors=True)

    def _save(self, case: Case, measured: Measured, result: Path) -> str | None:
        """Write it; returns the folder of what was kept of it before."""
        if not case.folder.is_dir() and self.photographs.is_dir():  # deleted for good while it was measured or drawn
            return None
        result.mkdir(mode=0o700)
        write_atomic(result / "record.json", measured.record.to_json())
        for number, (_, data) in enumerate(measured.pictures, start=1):
            write_atomic(result / f"picture-{number}.jpg", data)
        for number, ask in enumerate(measured.asks, start=1):
            write_atomic(result / f"ask-{number}.jpg", ask.picture)
        row = (case.key, case.folder.name, result.name, time.time(), json.dumps(_about(case, measured)))
        with connected(self.database, writes=True) as database:
            if not case.folder.is_dir():  # deleted for good while it was written
                shutil.rmtree(result, ignore_errors=True)
                if not self.photographs.is_dir():  # all of them went away, which nobody asked for
                    raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(self.photographs))
                return None
            before = database.execute("SELECT result FROM cases WHERE key = ?", (case.key,)).fetchone()
            database.execute("INSERT OR REPLACE INTO cases VALUES (?, ?, ?, ?, ?)", row)
        return None if before is None else str(before[0])

    def load(self, key: str) -> Case | None:
        """A case that was kept."""
        return read_whole(lambda: self._load(key))

    def _load(self, key: str) -> Case | None:
        with self._connected() as database:
            row = database.execute("SELECT folder, result, about FROM cases WHERE key = ?", (key,)).fetchone()
        if row is None:
            return None
        folder, result, about = self.photographs / row[0], self._results / row[1], json.loads(row[2])
        centres = tuple(None if centre is None else (centre[0], centre[1]) for centre in about["centres"])
        case = Case(
            key=key,
            folder=folder,
            uploads=tuple(Upload(path=folder / file, name=name, sha256=sha) for file, name, sha in about["uploads"]),
            answers=Answers(**about["answers"]),
            centres=centres,
            pick_u_px=about["pick_u_px"],
            taped=about["taped"],
            of_customer=self.shelf.by_folder(row[0]) is not None,
            measured=_measured(result, about),
        )
        asked, _ = checked(case.answers)
        kept = None if case.measured is None else case.measured.record.asked
        case.carried = None if kept is None else kept.carried
        told = None if asked is None else replace(asked, carried=case.carried)
        case.doing = (told, centres, case.pick_u_px, about.get("remembered", ""))
        return case

    def results(self, folder: str | None = None) -> list[Kept]:
        """What is kept, of all photographs or of those in this folder, the newest first."""
        which, of = ("", ()) if folder is None else (" WHERE folder = ?", (folder,))
        with self._connected() as database:
            asked = f"SELECT key, folder, result, saved, about FROM cases{which} ORDER BY saved DESC"
            rows = database.execute(asked, of).fetchall()
        return [
            self._kept(row["key"], row["folder"], row["result"], row["saved"], json.loads(row["about"])) for row in rows
        ]

    def results_of(self, folder: str) -> list[KeptFiles]:
        """Every result of the photographs in this folder, the oldest first."""
        with self._connected() as database:
            rows = database.execute("SELECT * FROM cases WHERE folder = ? ORDER BY saved", (folder,)).fetchall()
        return [
            KeptFiles(
                key=row["key"], folder=self._results / row["result"], saved=row["saved"], about=json.loads(row["about"])
            )
            for row in rows
        ]

    def _kept(self, key: str, folder: str, result: str, saved: float, about: dict[str, Any]) -> Kept:
        short = short_of(about.get("said"))
        if short is None:  # of the first edition
            short = said_short(Record.model_validate_json((self._results / result / "record.json").read_bytes()))
        first = about["uploads"][0][1] if about["uploads"] else ""
        answers = about["answers"]
        return Kept(key=key, folder=folder, saved=saved, rig=answers["rig"] or first, by=answers["by"], said=short)

    def close(self) -> None:
        """Remove what was not measured, and let go of the folder."""
        self.changes.close()
        with suppress(OSError, sqlite3.DatabaseError):  # moved away or full: the next start sweeps
            self.keeping.sweep()
        self._let_go()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A result in a list. rig: as it was named, or the first photograph's name; by: who measured."""

    key: str
    folder: str
    saved: float
    rig: str
    by: str
    said: Short


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFiles:
    """A result's folder, and what the database has of it."""

    key: str
    folder: Path
    saved: float
    about: dict[str, Any]


def _about(case: Case, measured: Measured) -> dict[str, Any]:
    return {
        "uploads": [(upload.path.name, upload.name, upload.sha256) for upload in case.uploads],
        "answers": asdict(case.answers),
        "centres": case.centres,
        "pick_u_px": case.pick_u_px,
        "taped": dict(case.taped),
        "names": measured.names,
        "pictures": [name for name, _ in measured.pictures],
        "candidates_px": measured.candidates_px,
        "interest_px": measured.interest_px,
        "asks": [(ask.photo, ask.px, ask.u_px) for ask in measured.asks],
        "said": kept_short(said_short(measured.record)),
        "remembered": "" if case.doing is None else case.doing[3],
    }


def _measured(result: Path, about: dict[str, Any]) -> Measured:
    return Measured(
        record=Record.model_validate_json((result / "record.json").read_bytes()),
        names=tuple(about.get("names", about["pictures"])),
        pictures=tuple(
            (name, (result / f"picture-{number}.jpg").read_bytes())
            for number, name in enumerate(about["pictures"], start=1)
        ),
        candidates_px=tuple(tuple((x, y) for x, y in some) for some in about["candidates_px"]),
        interest_px=tuple(None if box is None else (box[0], box[1], box[2], box[3]) for box in about["interest_px"]),
        asks=tuple(
            Ask(photo=photo, px=(px[0], px[1]), u_px=u_px, picture=(result / f"ask-{number}.jpg").read_bytes())
            for number, (photo, px, u_px) in enumerate(about["asks"], start=1)
        ),
    )


def _unfit(folder: Path, why: str) -> InputError:
    return InputError(
        said("{folder} cannot be the store: {why}.", folder=folder, why=why),
        expected=said(
            "a folder that does not exist yet, is empty, or was this program's store before, and that no other holds"
        ),
        remedy=said("name another folder with --store, or stop the program that holds this one"),
    )
