"""What is kept while the page runs: for each rig its uploads in a temporary folder of its own, and what came of them.

A bounded number; what is worth least goes first, of one worth the oldest, and all of it when the server stops.
"""

from __future__ import annotations

import asyncio
import hashlib
import itertools
import os
import re
import secrets
import shutil
import threading
from collections import OrderedDict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from calib.outcome.refusal import Refusal
from photomeasure.asked.carried import Carried
from photomeasure.asked.request import PICK_SIGMA_PX
from photomeasure.pipeline import Standing
from photomeasure.seen.look import Refused
from photomeasure.web.answers import Answers, Asked, Centre
from photomeasure.web.leftovers import own_folder
from photomeasure.web.measuring import Measured
from photomeasure.web.previews import Preview

if TYPE_CHECKING:
    from photomeasure.web.store import Store

MOST_CASES = 20
Doing = tuple[
    Asked | None, tuple[Centre, ...], float, str
]  # answers, marks, the least sure one's px, what was remembered
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """One photograph. path: where it is stored, under a name of ours; name: the person's, to be shown only."""

    path: Path
    name: str
    sha256: str


@dataclass(slots=True, kw_only=True)
class Case:
    """One rig's photographs with answers, marks and one result; other answers for the same photographs are another case."""

    key: str
    folder: Path
    uploads: tuple[Upload, ...]
    answers: Answers
    centres: tuple[Centre, ...] = ()
    pick_u_px: float = PICK_SIGMA_PX  # of the least sure mark
    measured: Measured | None = None
    carried: Carried | None = (
        None  # the centre from before it was coupled, where the rig is measured from an earlier one
    )
    taped: Mapping[str, str] = field(default_factory=dict)  # the tape's fields, where it was read afterwards
    of_customer: bool = False  # its photographs came by a link
    doing: Doing | None = None  # what is being measured, or was measured last
    task: asyncio.Task[None] | None = None
    drawing: asyncio.Task[None] | None = None  # of the pictures, after the figure is known
    keeping: asyncio.Lock = field(default_factory=asyncio.Lock)
    previews: dict[int, Preview | Refusal] = field(default_factory=dict)
    standing: Standing | Refused | None = None  # what the pictures show, where they were looked at for marks alone
    looking: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def busy(self) -> bool:
        return self.looking.locked() or any(task is not None and not task.done() for task in (self.task, self.drawing))

    @property
    def all_answers(self) -> Answers:
        """The answers with the tape's reading that came later."""
        return replace(self.answers, **self.taped)

    @property
    def failed(self) -> bool:
        return self.task is not None and self.task.done() and self.task.exception() is not None

    @property
    def worth(self) -> int:
        """What is kept longest: a result that somebody has taped, then one with a height, then the rest."""
        record = None if self.measured is None else self.measured.record
        return 0 if record is None or record.height_mm is None else 1 if record.tape is None else 2

    @property
    def paths(self) -> tuple[Path, ...]:
        """What the photographs go by while they are looked at (`called`): the person's names, no two alike, not their files."""
        return tuple(Path(upload.name) for upload in self.uploads)

    @property
    def stored(self) -> tuple[tuple[Path, str], ...]:
        """Where each photograph is stored, and the person's name for it."""
        return tuple((upload.path, upload.name) for upload in self.uploads)

    def same_as(self, uploads: Sequence[Upload], answers: Answers) -> bool:
        """Whether the very same was sent: a second press of the button."""
        mine, theirs = ([(u.name, u.sha256) for u in some] for some in (self.uploads, uploads))
        return mine == theirs and self.answers == answers


class Cases:
    """Cases by key, which nobody can guess. Uploads are stored in threads: a lock keeps the list of cases whole."""

    def __init__(self, most: int = MOST_CASES, store: Store | None = None) -> None:
        """most: how many are held in memory, and kept at all where there is no store."""
        self._most, self._store = most, store
        self._root, self._held = own_folder() if store is None else (store.photographs, None)
        self._cases: OrderedDict[str, Case] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def store(self) -> Store | None:
        return self._store

    @property
    def root(self) -> Path:
        return self._root

    def __len__(self) -> int:
        return len(self._cases)

    def get(self, key: str) -> Case | None:
        with self._lock:
            case = self._cases.get(key)
            if case is None and self._store is not None:
                case = self._store.load(key)
                if case is not None:
                    self._cases[key] = case
                    self._forget_oldest()
            if case is not None:
                self._cases.move_to_end(key)
            return case

    def save(self, case: Case) -> None:
        """Keep what was measured for good, where there is a store."""
        if self._store is not None:
            self._store.save(case)

    def keep(self, files: Sequence[tuple[str, BinaryIO]], answers: Answers) -> tuple[Case, dict[str, str]]:
        """A new case from file names and contents, or the one that holds the very same already; and what was left out
        because it is a photograph that was there before, by name, with that one's name."""
        key = secrets.token_urlsafe(9)
        folder = self._root / key
        folder.mkdir()
        try:
            uploads, twice = _each_once(
                [_stored(folder, number, name, stream) for number, (name, stream) in enumerate(files, start=1)]
            )
        except OSError:  # no half of a photograph takes the room that is wanting
            shutil.rmtree(folder, ignore_errors=True)
            raise
        with self._lock:
            same = next((case for case in self._cases.values() if case.same_as(uploads, answers)), None)
            if same is not None:
                shutil.rmtree(folder, ignore_errors=True)
                self._cases.move_to_end(same.key)
                return same, twice
            case = Case(key=key, folder=folder, uploads=uploads, answers=answers)
            self._cases[key] = case
            self._forget_oldest()
            return case, twice

    def beside(self, case: Case, doing: Doing | None) -> Case:
        """The case that measures this of a case's photographs: the very one as long as it has measured nothing else, or one
        beside it, so that what is open in another window stays as it is."""
        with self._lock:
            if case.doing is None or case.failed or case.doing == doing:
                return case
            of_them = (other for other in self._cases.values() if other.folder == case.folder)
            known = None if doing is None else next((other for other in of_them if other.doing == doing), None)
            if known is not None:
                return known
            made = replace(
                case,
                key=secrets.token_urlsafe(9),
                measured=None,
                doing=None,
                task=None,
                drawing=None,
                keeping=asyncio.Lock(),
                standing=None,
                taped={},
            )
            self._cases[made.key] = made
            self._forget_oldest()
            return made

    def forget(self, folder: str) -> tuple[Case, ...]:
        """What is held in memory of the photographs in this folder: they are deleted, or no longer there. Returns it."""
        with self._lock:
            keys = [key for key, case in self._cases.items() if case.folder.name == folder]
            return tuple(self._cases.pop(key) for key in keys)

    def add(self, case: Case) -> None:
        """A case whose photographs came another way."""
        with self._lock:
            self._cases[case.key] = case
            self._forget_oldest()

    def _remove(self, key: str) -> None:
        folder = self._cases.pop(key).folder
        kept = self._store is not None and self._store.holds(folder)
        if not kept and not any(other.folder == folder for other in self._cases.values()):
            shutil.rmtree(folder, ignore_errors=True)

    def _forget_oldest(self) -> None:
        if len(self._cases) <= self._most:
            return
        older = list(self._cases)[:-1]
        # what can be had again from the store first, then what is worth least, of one worth the oldest
        for key in sorted(older, key=lambda key: (not self._loadable(self._cases[key]), self._cases[key].worth)):
            if len(self._cases) <= self._most:
                return
            if not self._cases[key].busy:
                self._remove(key)

    def _loadable(self, case: Case) -> bool:
        """Whether what is held in memory is in the store too."""
        return case.measured is not None and self._store is not None and self._store.holds(case.folder)

    def close(self) -> None:
        """Remove everything that was uploaded, but for what a store keeps."""
        self._cases.clear()
        if self._store is not None:
            self._store.close()
            return
        shutil.rmtree(self._root, ignore_errors=True)
        if self._held is not None:
            os.close(self._held)
            self._held = None


def _each_once(stored: Sequence[Upload]) -> tuple[tuple[Upload, ...], dict[str, str]]:
    """Every photograph once, each under a name of its own: phones call all of theirs alike."""
    first: dict[str, Upload] = {}
    twice: dict[str, str] = {}
    for upload in stored:
        if upload.sha256 in first:
            twice[upload.name] = first[upload.sha256].name
            upload.path.unlink()
        else:
            taken = {other.name for other in first.values()}
            first[upload.sha256] = replace(upload, name=untaken(upload.name, taken))
    return tuple(first.values()), twice


def untaken(name: str, taken: Collection[str]) -> str:
    """A name like this one that none of the others has."""
    stem, dot, suffix = name.rpartition(".") if "." in name else (name, "", "")
    tries = itertools.chain([name], (f"{stem} ({number}){dot}{suffix}" for number in itertools.count(2)))
    return next(one for one in tries if one not in taken)


def _stored(folder: Path, number: int, name: str, stream: BinaryIO) -> Upload:
    path = folder / f"upload-{number}"
    digest = hashlib.sha256()
    with path.open("wb") as target:
        while block := stream.read(1 << 20):
            digest.update(block)
            target.write(block)
    return Upload(path=path, name=shown_name(name, number), sha256=digest.hexdigest())


def shown_name(name: str, number: int) -> str:
    """A file's name as text: without folders and signs that cannot be printed, its ending kept."""
    last = re.split(r"[\\/]", name)[-1]
    clean = "".join(sign for sign in last if sign.isprintable()).strip().strip(".")
    if not clean:
        return f"photograph-{number}"
    stem, dot, suffix = clean.rpartition(".")
    if not dot or len(suffix) > 8:
        return clean[:_LONGEST_NAME]
    return f"{stem[: _LONGEST_NAME - len(suffix) - 1]}.{suffix}"
