"""An enquiry's photographs: listed, looked at, left out."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict
from typing import Any

from calib.words.kept import packed, unpacked
from photomeasure.web.database import connected
from photomeasure.web.enquiries.enquiry import Enquiry, Looked, Photograph
from photomeasure.web.enquiries.shelf import Shelf


def photographs_of(shelf: Shelf, enquiry: Enquiry) -> tuple[Photograph, ...]:
    """All of them, in the order in which they came."""
    with connected(shelf.database) as database:
        rows = database.execute(
            "SELECT * FROM photographs WHERE enquiry = ? ORDER BY number", (enquiry.key,)
        ).fetchall()
    return tuple(photograph_of(row) for row in rows)


def of_this_round(shelf: Shelf, enquiry: Enquiry) -> tuple[Photograph, ...]:
    """Those that show the rig as it stands now, without those that were taken again."""
    return tuple(p for p in photographs_of(shelf, enquiry) if p.round == enquiry.round and not p.left_out)


def keep_looked(shelf: Shelf, number: int, looked: Looked) -> None:
    """Keep what a quick look at a photograph found."""
    written = {**asdict(looked), "sentence": packed(looked.sentence)}
    with connected(shelf.database, writes=True) as database:
        database.execute("UPDATE photographs SET looked = ? WHERE number = ?", (json.dumps(written), number))


def leave_out(shelf: Shelf, enquiry: Enquiry, number: int) -> None:
    """The customer takes it again: it is kept, and not measured."""
    with connected(shelf.database, writes=True) as database:
        database.execute("UPDATE photographs SET left_out = 1 WHERE number = ? AND enquiry = ?", (number, enquiry.key))


def photograph_of(row: sqlite3.Row) -> Photograph:
    """A photograph from its row."""
    return Photograph(
        number=row["number"],
        file=row["file"],
        name=row["name"],
        sha256=row["sha256"],
        bytes=row["bytes"],
        round=row["round"],
        arrived=row["arrived"],
        left_out=bool(row["left_out"]),
        looked=None if row["looked"] is None else _looked(json.loads(row["looked"])),
    )


def _looked(kept: dict[str, Any]) -> Looked:
    px = kept.get("px")
    return Looked(**{**kept, "sentence": unpacked(kept["sentence"]), "px": None if px is None else (px[0], px[1])})
