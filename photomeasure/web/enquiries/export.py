"""Everything about one case in one file: what was typed and answered, photographs, records, pictures."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from photomeasure.web.database import connected
from photomeasure.web.enquiries.enquiry import Enquiry
from photomeasure.web.enquiries.messages import messages_of
from photomeasure.web.enquiries.photographs import photographs_of
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.store import Store, read_whole

SCHEMA = "photomeasure/case-export/1"


def export(store: Store, enquiry: Enquiry) -> bytes:
    """A ZIP: `case.json` names every other file in it and what it is. Photographs are the bytes that were sent."""
    return read_whole(lambda: _export(store, enquiry))


def _export(store: Store, enquiry: Enquiry) -> bytes:
    shelf = store.shelf
    photographs = photographs_of(shelf, enquiry)
    folder = shelf.folder(enquiry)
    results = store.results_of(enquiry.folder)
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as archive:  # photographs are compressed already
        listed: list[dict[str, Any]] = []
        for photograph in photographs:
            name = f"photographs/{photograph.number}-{photograph.name}"
            if (folder / photograph.file).exists():
                archive.write(folder / photograph.file, name)
            listed.append({**asdict(photograph), "file": name, "arrived": _moment(photograph.arrived)})
        measured: list[dict[str, Any]] = []
        for number, result in enumerate(results, start=1):
            files = []
            for path in sorted(result.folder.iterdir()):
                files.append(f"results/{number}/{path.name}")
                archive.write(path, files[-1])
            measured.append({"key": result.key, "saved": _moment(result.saved), "files": files, "kept": result.about})
        told = {
            "schema": SCHEMA,
            "case": {
                "key": enquiry.key,
                **asdict(enquiry.about),
                "answers": dict(enquiry.answers),
                "asked_for": enquiry.ask,
                "round": enquiry.round,
                **{
                    name: _moment(getattr(enquiry, name))
                    for name in ("made", "opened", "sent", "news", "seen", "closed")
                },
            },
            "links": _links(shelf, enquiry),
            "photographs": listed,
            "messages": [
                {"at": _moment(one.at), "by": "customer" if one.by_customer else "dealer", "text": one.text}
                for one in messages_of(shelf, enquiry.key)
            ],
            "results": measured,
        }
        archive.writestr("case.json", json.dumps(told, indent=1, ensure_ascii=False) + "\n")
    return held.getvalue()


def _links(shelf: Shelf, enquiry: Enquiry) -> list[dict[str, Any]]:
    """When each was made and ended; its secret is not kept."""
    with connected(shelf.database) as database:
        rows = database.execute("SELECT * FROM links WHERE enquiry = ? ORDER BY made", (enquiry.key,)).fetchall()
    return [{name: _moment(row[name]) for name in ("made", "until", "withdrawn")} for row in rows]


def _moment(at: float | None) -> str | None:
    return None if at is None else datetime.fromtimestamp(at, UTC).isoformat(timespec="seconds")
