"""Lines that dealer and customer write to each other at one link: no address of anybody is needed, none is kept."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass

from calib.words.said import said
from photomeasure.web.database import connected
from photomeasure.web.enquiries.shelf import Shelf, read_sentence
from photomeasure.web.problems import PageError
from photomeasure.web.when import moment

LONGEST = 400  # signs
MOST = 200  # of one case: nobody writes so many, and a script shall not fill the disk


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """at: seconds since 1970."""

    at: float
    by_customer: bool
    text: str

    @property
    def when(self) -> str:
        return moment(self.at)


def messages_of(shelf: Shelf, key: str) -> tuple[Message, ...]:
    """An enquiry's, the oldest first."""
    with connected(shelf.database) as database:
        rows = database.execute("SELECT * FROM messages WHERE enquiry = ? ORDER BY number", (key,)).fetchall()
    return tuple(
        Message(
            at=row["at"],
            by_customer=bool(row["by_customer"]),
            text=row["text"]
            if row["by_customer"]
            else read_sentence(row["text"]),  # a customer's are words and nothing else
        )
        for row in rows
    )


def text_from(form: Mapping[str, object]) -> str:
    """One line as it was typed, empty where nothing was."""
    typed = form.get("text")
    return " ".join(typed.split())[:LONGEST] if isinstance(typed, str) else ""


def keep_message(shelf: Shelf, key: str, text: str, *, by_customer: bool) -> None:
    """Keep a line; a customer's is news for the dealer. Raises PageError where there are too many."""
    now = time.time()
    with connected(shelf.database, writes=True) as database:
        count = database.execute("SELECT count(*) FROM messages WHERE enquiry = ?", (key,)).fetchone()[0]
        if count >= MOST:
            raise PageError(
                409,
                said("There are too many messages in this case."),
                expected=said("a few lines"),
                remedy=said("use the telephone"),
            )
        database.execute(
            "INSERT INTO messages (enquiry, at, by_customer, text) VALUES (?, ?, ?, ?)", (key, now, by_customer, text)
        )
        if by_customer:
            database.execute("UPDATE enquiries SET news = ? WHERE key = ?", (now, key))
