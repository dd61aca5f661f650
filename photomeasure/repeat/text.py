"""What came of verifying records, in words and as a document."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from photomeasure.record.schema import Record
from photomeasure.repeat.compare import TOLERANCE_SENTENCE, ChangedValue, RecordsCompared
from photomeasure.repeat.search import Sought
from photomeasure.repeat.verify import Outcome, Verified
from photomeasure.shown import words
from photomeasure.shown.headline import headline

SCHEMA = "photomeasure/verify/1"
TITLES: dict[Outcome, str] = {
    "same": "THE SAME",
    "differs": "DIFFERS",
    "photo-missing": "CANNOT BE REPEATED: a photograph is missing",
    "photo-changed": "CANNOT BE REPEATED: a photograph has been changed",
    "not-repeatable": "CANNOT BE REPEATED",
}
NO_RECORD = "NO RECORD"
_SHOWN = 12
_PHOTO_KEY = re.compile(r"^photos\[(\d+)\]\.")  # counted from 1
_FIRST = ("height_mm", "u_mm", "U_mm", "interval_mm", "verdict", "refusal", "p_inside")


def lines(verified: Verified) -> list[str]:
    """One record's outcome: a headline, then what it rests on."""
    said = [f"{verified.record_file}: {TITLES[verified.outcome]}"]
    if verified.record is not None:
        said.append(f"Recorded: {_figure(verified.record)}; made {verified.record.computed[:10]}.")
    if verified.why is not None:
        said += [verified.why, "Verify it with the program that made it, or measure again."]
    said += [_photo(photo) for photo in verified.photos if photo.state != "found"]
    if any(photo.state == "missing" for photo in verified.photos):
        said.append("Put it beside the record, or name its folder with --photos.")
    if verified.comparison is not None:
        said += _compared(verified.comparison, len(verified.photos))
    return [*said, *verified.remarks]


def _figure(record: Record) -> str:
    found = words.figure(record)
    figure = "" if found is None else f"{found.text}, "
    return figure + headline(record).title.lower() + (f" ({record.refusal.code})" if record.refusal else "")


def _photo(photo: Sought) -> str:
    if photo.state == "missing":
        return f"{photo.file} (SHA-256 {_short(photo.sha256)}) was not found."
    return (
        f"{photo.path} is not the photograph that was measured: its SHA-256 is {_short(photo.now_sha256)}, "
        f"recorded {_short(photo.sha256)}."
    )


def _short(digest: str | None) -> str:
    return "not recorded" if digest is None else f"{digest[:12]}..."


def _compared(found: RecordsCompared, photos: int) -> list[str]:
    many = f"{photos} photographs have the digests" if photos > 1 else "The photograph has the digest"
    counted = f"{many} recorded. Measured again: {_many(found.figures, 'figure')} and {_many(found.sentences, 'text')} compared, "
    if found.identical:
        return [counted + "all identical."]
    if not found.differing:
        of_length = f"; the largest change of a length is {found.largest_mm:.2g} mm ({found.largest_key})"
        largest = "" if found.largest_key is None else of_length
        return [counted + f"all the same to the printed digit{largest}.", TOLERANCE_SENTENCE]
    shown = sorted(found.differing, key=_importance)[:_SHOWN]
    more = len(found.differing) - len(shown)
    rest = [f"  and {more} more (--json FILE has them all)"] if more else []
    return [
        counted + (f"{len(found.differing)} differ:" if len(found.differing) > 1 else "1 differs:"),
        *(f"  {_difference(d)}" for d in shown),
        *rest,
        TOLERANCE_SENTENCE,
    ]


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _importance(difference: ChangedValue) -> int:
    first = difference.key.split(".")[0].split("[")[0]
    return _FIRST.index(first) if first in _FIRST else len(_FIRST)


def _difference(found: ChangedValue) -> str:
    key = _PHOTO_KEY.sub(r"photograph \1, ", found.key)
    if found.change is None:
        return f"{key}: recorded {_value(found.recorded)}, now {_value(found.now)}"
    way = "more" if found.change > 0 else "less"
    size = f"{abs(found.change):.3g} {way}, tolerance {found.tolerance:.2g}"
    return f"{key}: recorded {found.recorded:.6g}, now {found.now:.6g} ({size})"


def _value(value: Any) -> str:
    if value is None:
        return "nothing"
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def summary(all_verified: list[Verified], no_records: int = 0) -> str:
    """One line over several records. no_records: files that are none."""
    same = sum(verified.outcome == "same" for verified in all_verified)
    many = len(all_verified)
    said = f"{same} of {_many(many, 'record')} {'is' if same == 1 else 'are'} the same." if many else "No record."
    others = (
        f" {no_records} of the files {'is no record' if no_records == 1 else 'are no records'}." if no_records else ""
    )
    return said + others


def document(all_verified: list[Verified], no_records: Mapping[str, str] | None = None) -> dict[str, Any]:
    """The same for programs; photographs by path as a string. no_records: files that are none, and why."""
    others = [{"file": file, "why": why} for file, why in (no_records or {}).items()]
    return {"schema": SCHEMA, "records": [_entry(verified) for verified in all_verified], "no_records": others}


def _entry(verified: Verified) -> dict[str, Any]:
    found = verified.comparison
    return {
        "record": str(verified.record_file),
        "outcome": verified.outcome,
        "why": verified.why,
        "remarks": list(verified.remarks),
        "photos": [
            {"file": p.file, "state": p.state, "path": _path(p.path), "sha256": p.sha256, "now_sha256": p.now_sha256}
            for p in verified.photos
        ],
        "figures": None if found is None else found.figures,
        "texts": None if found is None else found.sentences,
        "identical": None if found is None else found.identical,
        "largest_mm": None if found is None else found.largest_mm,
        "differing": [
            {"key": d.key, "recorded": d.recorded, "now": d.now, "change": d.change, "tolerance": d.tolerance}
            for d in (() if found is None else found.differing)
        ],
    }


def _path(path: Path | None) -> str | None:
    return None if path is None else str(path)
