"""Verifying a record: find its photographs, check their digests, measure again, compare."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from calib.outcome.errors import InputError
from calib.outcome.reading import json_of, text_of
from calib.words.said import joined, said
from photomeasure import __version__
from photomeasure.record.level import LevelRecord
from photomeasure.record.measure_and_record import recorded, software
from photomeasure.record.own_digests import changed_parts
from photomeasure.record.request_kept import request_from
from photomeasure.record.schema import SCHEMA, Record, read_record
from photomeasure.record.with_tape import said_of
from photomeasure.repeat.compare import RecordsCompared, compare
from photomeasure.repeat.search import PhotoFolder, Sought, seek, under_its_name
from photomeasure.repeat.verify_level import is_level, level_again
from photomeasure.seal.digest import has_doubled_key

Outcome = Literal["same", "differs", "photo-missing", "photo-changed", "not-repeatable"]
_SCHEMA_FAMILY = SCHEMA.rsplit("/", 1)[0] + "/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What came of one record. why: of a record that cannot be repeated. now: the record of this time."""

    record_file: Path
    outcome: Outcome
    record: Record | None = None
    now: Record | None = None
    photos: tuple[Sought, ...] = ()
    comparison: RecordsCompared | None = None
    why: str | None = None
    remarks: tuple[str, ...] = ()
    rewritten: bool = False  # its content does not fit the digest that it holds of itself


def verify(record_file: Path, folder: PhotoFolder | None) -> Verified:
    """Do a record's measurement again. folder: where to look for photographs first.

    Raises InputError for a file that is no record.
    """
    if is_level(record_file):
        return _of_level(record_file, folder)
    other = _other_schema(record_file)
    if other is not None:
        why = said(
            "It was made by another version of the program: schema {other}, here {schema}.", other=other, schema=SCHEMA
        )
        return Verified(record_file=record_file, outcome="not-repeatable", why=why)
    record = read_record(record_file)
    if record.asked is None or not record.photos or any(photo.sha256 is None for photo in record.photos):
        why = said("It does not hold all that it rests on: what was asked in full, and a digest of every photograph.")
        return Verified(record_file=record_file, outcome="not-repeatable", record=record, why=why)
    photos = tuple(seek(photo, record_file, folder) for photo in record.photos)
    for outcome, state in (("photo-missing", "missing"), ("photo-changed", "changed")):
        if any(photo.state == state for photo in photos):
            found: Outcome = "photo-missing" if outcome == "photo-missing" else "photo-changed"
            return Verified(record_file=record_file, outcome=found, record=record, photos=photos)
    now = _again(record, photos)
    comparison = compare(record, now)
    rewritten, of_digests = _of_digests(record_file)
    return Verified(
        record_file=record_file,
        outcome="differs" if comparison.differing or rewritten else "same",
        record=record,
        now=now,
        photos=photos,
        comparison=comparison,
        remarks=(*_remarks(record, differs=bool(comparison.differing)), *of_digests),
        rewritten=rewritten,
    )


def _of_level(record_file: Path, folder: PhotoFolder | None) -> Verified:
    """The same for the record of a trailer's level."""
    found = level_again(record_file, folder)
    states = [photo.state for photo in found.photos]
    changed, of_digests = _of_digests(record_file)
    rewritten = found.comparison is not None and changed
    outcome: Outcome = "same"
    if not found.photos or any(part.sha256 is None for part in found.record.photos):
        return Verified(
            record_file=record_file,
            outcome="not-repeatable",
            why=said("It does not hold a digest of every photograph."),
        )
    if "missing" in states:
        outcome = "photo-missing"
    elif "changed" in states:
        outcome = "photo-changed"
    elif rewritten or (found.comparison is not None and found.comparison.differing):
        outcome = "differs"
    remarks: tuple[str, ...] = ()
    if found.comparison is not None:
        remarks = (*_remarks(found.record, differs=bool(found.comparison.differing)), *of_digests)
    return Verified(
        record_file=record_file,
        outcome=outcome,
        photos=found.photos,
        comparison=found.comparison,
        remarks=remarks,
        rewritten=rewritten,
    )


def _other_schema(path: Path) -> str | None:
    """The schema of a record of another version; None for this version's, and for what is no record at all."""
    try:
        written = json_of(text_of(path))
    except (OSError, ValueError):
        return None  # read_record says what is wrong
    schema = written.get("schema") if isinstance(written, dict) else None
    if isinstance(schema, str) and schema.startswith(_SCHEMA_FAMILY) and schema != SCHEMA:
        return schema
    if schema != SCHEMA:
        raise InputError(
            said("{path} is no record of a measurement.", path=path),
            expected=said(
                "a JSON file with schema {schema}, as measure --json, measure --out and batch write it", schema=SCHEMA
            ),
            remedy=said("name the record's file"),
        )
    if has_doubled_key(path.read_bytes()):
        raise InputError(
            said("{path} says one thing twice: a key stands twice in it.", path=path),
            expected=said("a record as it was written, which every program reads alike"),
            remedy=said("use the file as measure or batch wrote it"),
        )
    return None


def _again(record: Record, photos: tuple[Sought, ...]) -> Record:
    asked = record.asked
    if asked is None:
        raise ValueError("a record without what was asked cannot be repeated")
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as place:
        paths = tuple(under_its_name(photo, Path(place) / "photos" / str(i)) for i, photo in enumerate(photos))
        request = request_from(asked, paths, Path(place) / "cameras")
        return recorded(request, seed=asked.monte_carlo_seed, tape=said_of(record.tape))[1]


def _of_digests(record_file: Path) -> tuple[bool, tuple[str, ...]]:
    """Whether a record's content does not fit the digest that it holds of itself, and what its digests tell."""
    changed = changed_parts(json_of(text_of(record_file)))
    if changed is None:
        return False, (
            said(
                "The record holds no digests of itself, as those of earlier programs: whether what was typed of the case, or its "
                "version, was changed since, cannot be seen."
            ),
        )
    told = {
        "content": said(
            "The record does not say what the program wrote: something in it was changed afterwards. What the photographs do not "
            "tell (the case, who, where, a note) may be that; its digest does not say what it was."
        ),
        "made_with": said(
            "The version or the software that the record names is not what the program wrote: it was changed afterwards. The "
            "photographs were measured with what is here."
        ),
    }
    return "content" in changed, tuple(told[part] for part in changed)


def _remarks(record: Record | LevelRecord, *, differs: bool) -> tuple[str, ...]:
    """What is not as it was when the record was made."""
    remarks = []
    if record.version != __version__:
        remarks.append(
            said(
                "The record was made by version {version}; this is version {here}.",
                version=record.version,
                here=__version__,
            )
        )
    here = software()
    others = [
        said("{name} {old} (here {now})", name=name, old=old, now=here.get(name, said("none")))
        for name, old in record.software.items()
        if old != here.get(name)
    ]
    if others:
        remarks.append(said("It was computed with {listed}.", listed=joined(others)))
    if differs and remarks:
        remarks.append(said("That may be why: to repeat it exactly, use what it was made with."))
    return tuple(remarks)
