"""What came of verifying records, in words and as a document."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from calib.words.said import joined, said, said_many
from photomeasure.record.schema import Record
from photomeasure.repeat.compare import TOLERANCE_SENTENCE, ChangedValue, RecordsCompared
from photomeasure.repeat.search import Sought
from photomeasure.repeat.verify import Outcome, Verified
from photomeasure.shown import words
from photomeasure.shown.headline import headline

SCHEMA = "photomeasure/verify/1"
TITLES: dict[Outcome, str] = {
    "same": said("THE SAME"),
    "differs": said("DIFFERS"),
    "photo-missing": said("CANNOT BE REPEATED: a photograph is missing"),
    "photo-changed": said("CANNOT BE REPEATED: a photograph has been changed"),
    "not-repeatable": said("CANNOT BE REPEATED"),
}
NO_RECORD = said("NO RECORD")
_SHOWN = 12
_PHOTO_KEY = re.compile(r"^photos\[(\d+)\]\.")  # counted from 1
_FIRST = ("height_mm", "u_mm", "U_mm", "interval_mm", "verdict", "refusal", "p_inside")


def lines(verified: Verified) -> list[str]:
    """One record's outcome: a headline, then what it rests on."""
    told = [said("{file}: {outcome}", file=verified.record_file, outcome=TITLES[verified.outcome])]
    if verified.record is not None:
        told.append(
            said("Recorded: {figure}; made {day}.", figure=_figure(verified.record), day=verified.record.computed[:10])
        )
    if verified.why is not None:
        told += [verified.why, said("Verify it with the program that made it, or measure again.")]
    told += [_photo(photo) for photo in verified.photos if photo.state != "found"]
    if any(photo.state == "missing" for photo in verified.photos):
        told.append(said("Put it beside the record, or name its folder with --photos."))
    if verified.comparison is not None:
        told += _compared(verified.comparison, len(verified.photos))
    return [*told, *verified.remarks]


def _figure(record: Record) -> str:
    found = words.figure(record)
    figure = [] if found is None else [found.text]
    refusal = [] if record.refusal is None else [record.refusal.code]
    return joined([*figure, headline(record).title, *refusal])


def _photo(photo: Sought) -> str:
    if photo.state == "missing":
        return said("{file} (SHA-256 {digest}) was not found.", file=photo.file, digest=_short(photo.sha256))
    return said(
        "{path} is not the photograph that was measured: its SHA-256 is {now}, recorded {digest}.",
        path=photo.path,
        now=_short(photo.now_sha256),
        digest=_short(photo.sha256),
    )


def _short(digest: str | None) -> str:
    return said("not recorded") if digest is None else f"{digest[:12]}..."


def _compared(found: RecordsCompared, photos: int) -> list[str]:
    digests = said_many(
        "The photograph has the digest recorded.",
        "{count} photographs have the digests recorded.",
        count=photos,
    )
    compared = said(
        "{figures} and {texts}",
        figures=said_many("{count} figure", "{count} figures", count=found.figures),
        texts=said_many("{count} text", "{count} texts", count=found.sentences),
    )
    if found.identical:
        return [joined([digests, said("Measured again: {compared} compared, all identical.", compared=compared)], " ")]
    if not found.differing:
        same = said("Measured again: {compared} compared, all the same to the printed digit.", compared=compared)
        if found.largest_key is not None:
            same = said(
                "Measured again: {compared} compared, all the same to the printed digit; the largest change of a length is "
                "{mm:.2g} mm ({key}).",
                compared=compared,
                mm=found.largest_mm,
                key=found.largest_key,
            )
        return [joined([digests, same], " "), TOLERANCE_SENTENCE]
    first = sorted(found.differing, key=_importance)[:_SHOWN]
    more = len(found.differing) - len(first)
    differ = said_many(
        "Measured again: {compared} compared, {count} differs:",
        "Measured again: {compared} compared, {count} differ:",
        count=len(found.differing),
        compared=compared,
    )
    return [
        joined([digests, differ], " "),
        *(joined(["", _difference(d)], "  ") for d in first),
        *([said("  and {more} more (--json FILE has them all)", more=more)] if more else []),
        TOLERANCE_SENTENCE,
    ]


def _importance(difference: ChangedValue) -> int:
    first = difference.key.split(".")[0].split("[")[0]
    return _FIRST.index(first) if first in _FIRST else len(_FIRST)


def _difference(found: ChangedValue) -> str:
    photo = _PHOTO_KEY.match(found.key)
    key: str = found.key
    if photo is not None:
        key = said("photograph {number}, {key}", number=photo.group(1), key=found.key[photo.end() :])
    if found.change is None:
        return said(
            "{key}: recorded {recorded}, now {now}", key=key, recorded=_value(found.recorded), now=_value(found.now)
        )
    values = {"key": key, "recorded": found.recorded, "now": found.now, "change": abs(found.change)}
    if found.change > 0:
        return said(
            "{key}: recorded {recorded:.6g}, now {now:.6g} ({change:.3g} more, tolerance {tolerance:.2g})",
            **values,
            tolerance=found.tolerance,
        )
    return said(
        "{key}: recorded {recorded:.6g}, now {now:.6g} ({change:.3g} less, tolerance {tolerance:.2g})",
        **values,
        tolerance=found.tolerance,
    )


def _value(value: Any) -> str:
    if value is None:
        return said("nothing")
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def summary(all_verified: list[Verified], no_records: int = 0) -> str:
    """One line over several records. no_records: files that are none."""
    told = [said("No record.")]
    if all_verified:
        told = [
            said(
                "Records that are the same: {same} of {count}.",
                same=sum(verified.outcome == "same" for verified in all_verified),
                count=len(all_verified),
            )
        ]
    if no_records:
        told.append(
            said_many("{count} of the files is no record.", "{count} of the files are no records.", count=no_records)
        )
    return joined(told, " ")


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
        "rewritten": verified.rewritten,
        "largest_mm": None if found is None else found.largest_mm,
        "differing": [
            {"key": d.key, "recorded": d.recorded, "now": d.now, "change": d.change, "tolerance": d.tolerance}
            for d in (() if found is None else found.differing)
        ],
    }


def _path(path: Path | None) -> str | None:
    return None if path is None else str(path)
