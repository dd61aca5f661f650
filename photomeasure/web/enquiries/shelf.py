"""Enquiries in the store: made, found by key or by a link's secret, changed. Every change is one transaction."""

from __future__ import annotations

import json
import secrets
import sqlite3
import time
from collections.abc import Collection, Mapping
from dataclasses import asdict
from pathlib import Path

from calib.words.kept import packed, unpacked
from photomeasure.web.database import connected
from photomeasure.web.enquiries.enquiry import BEFORE, About, Enquiry
from photomeasure.web.enquiries.links import Link, digest_of, new_secret
from photomeasure.web.enquiries.settings import Settings
from photomeasure.web.when import DAY_S

_TIMES = frozenset({"opened", "sent", "news", "seen", "closed"})


class Shelf:
    """All enquiries of one store. database: its file; photographs: the folder in which each has a folder of its own."""

    def __init__(self, database: Path, photographs: Path) -> None:
        self.database, self.photographs = database, photographs

    def make(self, about: About) -> Enquiry:
        """A new one, without a link yet. Raises OSError."""
        key, folder = secrets.token_urlsafe(9), secrets.token_urlsafe(9)
        made = time.time()
        (self.photographs / folder).mkdir(mode=0o700)
        with connected(self.database, writes=True) as database:
            database.execute(
                "INSERT INTO enquiries (key, folder, about, answers, round, ask, made) VALUES (?, ?, ?, '{}', 1, '', ?)",
                (key, folder, json.dumps(asdict(about)), made),
            )
        return Enquiry(key=key, folder=folder, about=about, made=made)

    def get(self, key: str) -> Enquiry | None:
        with connected(self.database) as database:
            row = database.execute("SELECT * FROM enquiries WHERE key = ?", (key,)).fetchone()
        return None if row is None else enquiry_of(row)

    def by_folder(self, folder: str) -> Enquiry | None:
        with connected(self.database) as database:
            row = database.execute("SELECT * FROM enquiries WHERE folder = ?", (folder,)).fetchone()
        return None if row is None else enquiry_of(row)

    def all(self) -> list[Enquiry]:
        """The newest first."""
        with connected(self.database) as database:
            rows = database.execute("SELECT * FROM enquiries ORDER BY coalesce(news, made) DESC").fetchall()
        return [enquiry_of(row) for row in rows]

    def folder(self, enquiry: Enquiry) -> Path:
        return self.photographs / enquiry.folder

    # -- changes ---------------------------------------------------------------------------------------------------

    def change(self, key: str, about: About) -> None:
        with connected(self.database, writes=True) as database:
            database.execute("UPDATE enquiries SET about = ? WHERE key = ?", (json.dumps(asdict(about)), key))

    def stamp(self, key: str, *times: str, at: float | None = None) -> None:
        """Note that something has happened now: opened (the first time only), sent, news, seen, closed."""
        now = time.time() if at is None else at
        with connected(self.database, writes=True) as database:
            for name in times:
                assert name in _TIMES
                once = " AND opened IS NULL" if name == "opened" else ""
                database.execute(f"UPDATE enquiries SET {name} = ? WHERE key = ?{once}", (now, key))

    def open_again(self, key: str) -> None:
        with connected(self.database, writes=True) as database:
            database.execute("UPDATE enquiries SET closed = NULL WHERE key = ?", (key,))

    def answer(self, key: str, said: Mapping[str, str]) -> None:
        """Keep answers beside those that are there."""
        with connected(self.database, writes=True) as database:
            row = database.execute("SELECT answers FROM enquiries WHERE key = ?", (key,)).fetchone()
            if row is not None:
                answers = {**json.loads(row["answers"]), **said}
                database.execute("UPDATE enquiries SET answers = ? WHERE key = ?", (json.dumps(answers), key))

    def ask(self, key: str, sentence: str) -> None:
        """Ask the customer for another photograph: nothing has been sent in answer to that yet."""
        with connected(self.database, writes=True) as database:
            row = database.execute("SELECT answers FROM enquiries WHERE key = ?", (key,)).fetchone()
            if row is not None:
                answers = {name: said for name, said in json.loads(row["answers"]).items() if name != "moved"}
                database.execute(
                    "UPDATE enquiries SET ask = ?, answers = ?, closed = NULL WHERE key = ?",
                    (written_sentence(sentence), json.dumps(answers), key),
                )
                database.execute(
                    "INSERT INTO messages (enquiry, at, by_customer, text) VALUES (?, ?, 0, ?)",
                    (key, time.time(), written_sentence(sentence)),
                )

    def next_round(self, key: str, again: Collection[str] = ()) -> None:
        """What comes now shows the rig at another time, or elsewhere. again: what is asked once more, as it may be otherwise
        now; what was answered is kept as what was so before."""
        with connected(self.database, writes=True) as database:
            row = database.execute("SELECT answers FROM enquiries WHERE key = ?", (key,)).fetchone()
            if row is not None:
                kept = json.loads(row["answers"])
                answers = {f"{BEFORE}{name}" if name in again else name: said for name, said in kept.items()}
                database.execute(
                    "UPDATE enquiries SET round = round + 1, answers = ? WHERE key = ?", (json.dumps(answers), key)
                )

    def sent(self, key: str) -> None:
        """The customer has done what was asked."""
        now = time.time()
        with connected(self.database, writes=True) as database:
            database.execute("UPDATE enquiries SET sent = ?, news = ?, ask = '' WHERE key = ?", (now, now, key))

    # -- links -----------------------------------------------------------------------------------------------------

    def new_link(self, key: str, days: int) -> str:
        """A secret that opens this enquiry from now on; every earlier one is withdrawn."""
        secret, now = new_secret(), time.time()
        with connected(self.database, writes=True) as database:
            database.execute("UPDATE links SET withdrawn = ? WHERE enquiry = ? AND withdrawn IS NULL", (now, key))
            database.execute(
                "INSERT INTO links (digest, enquiry, made, until) VALUES (?, ?, ?, ?)",
                (digest_of(secret), key, now, now + days * DAY_S),
            )
        return secret

    def withdraw(self, key: str) -> None:
        with connected(self.database, writes=True) as database:
            database.execute(
                "UPDATE links SET withdrawn = ? WHERE enquiry = ? AND withdrawn IS NULL", (time.time(), key)
            )

    def link_by(self, secret: str) -> Link | None:
        """The link that this secret is of, open or not. Looked for by its digest: how long it takes tells nothing of it."""
        return self._link("digest = ?", digest_of(secret))

    def link_of(self, key: str) -> Link | None:
        """An enquiry's newest link."""
        return self._link("enquiry = ?", key)

    def _link(self, which: str, value: str) -> Link | None:
        with connected(self.database) as database:
            row = database.execute(f"SELECT * FROM links WHERE {which} ORDER BY made DESC LIMIT 1", (value,)).fetchone()
        return (
            None
            if row is None
            else Link(enquiry=row["enquiry"], made=row["made"], until=row["until"], withdrawn=row["withdrawn"])
        )

    # -- settings --------------------------------------------------------------------------------------------------

    def settings(self) -> Settings:
        with connected(self.database) as database:
            rows = dict(database.execute("SELECT name, value FROM settings").fetchall())
        return Settings(
            name=rows.get("name", ""),
            keep_days=int(rows.get("keep_days", Settings().keep_days)),
            link_days=int(rows.get("link_days", Settings().link_days)),
        )

    def set(self, settings: Settings) -> None:
        with connected(self.database, writes=True) as database:
            database.executemany(
                "INSERT OR REPLACE INTO settings VALUES (?, ?)",
                [(name, str(value)) for name, value in asdict(settings).items()],
            )


_KEPT = '{"text":'  # with which a sentence begins that can be told in another language


def written_sentence(sentence: str) -> str:
    """As it is kept: with what it needs to be told in another language, where it has that."""
    kept = packed(sentence)
    return kept if isinstance(kept, str) else json.dumps(kept)


def read_sentence(kept: str) -> str:
    """The sentence again."""
    try:
        return unpacked(json.loads(kept)) if kept.startswith(_KEPT) else kept
    except ValueError:  # somebody's own words that begin so
        return kept


def enquiry_of(row: sqlite3.Row) -> Enquiry:
    """An enquiry as its row has it."""
    return Enquiry(
        key=row["key"],
        folder=row["folder"],
        about=About(**json.loads(row["about"])),
        answers=json.loads(row["answers"]),
        round=row["round"],
        ask=read_sentence(row["ask"]),
        made=row["made"],
        opened=row["opened"],
        sent=row["sent"],
        news=row["news"],
        seen=row["seen"],
        closed=row["closed"],
    )
