"""Verifying a record: find its photographs, check their digests, measure again, compare."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from calib.outcome.errors import InputError
from calib.outcome.reading import json_of, text_of
from photomeasure import __version__
from photomeasure.record.measure_and_record import recorded, software
from photomeasure.record.request_kept import request_from
from photomeasure.record.schema import SCHEMA, Record, read_record
from photomeasure.record.with_tape import said_of
from photomeasure.repeat.compare import RecordsCompared, compare
from photomeasure.repeat.search import PhotoFolder, Sought, seek

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


def verify(record_file: Path, folder: PhotoFolder | None) -> Verified:
    """Do a record's measurement again. folder: where to look for photographs first.

    Raises InputError for a file that is no record.
    """
    other = _other_schema(record_file)
    if other is not None:
        why = f"It was made by another version of the program: schema {other}, here {SCHEMA}."
        return Verified(record_file=record_file, outcome="not-repeatable", why=why)
    record = read_record(record_file)
    if record.asked is None or not record.photos or any(photo.sha256 is None for photo in record.photos):
        why = "It does not hold all that it rests on: what was asked in full, and a digest of every photograph."
        return Verified(record_file=record_file, outcome="not-repeatable", record=record, why=why)
    photos = tuple(seek(photo, record_file, folder) for photo in record.photos)
    for outcome, state in (("photo-missing", "missing"), ("photo-changed", "changed")):
        if any(photo.state == state for photo in photos):
            found: Outcome = "photo-missing" if outcome == "photo-missing" else "photo-changed"
            return Verified(record_file=record_file, outcome=found, record=record, photos=photos)
    now = _again(record, photos)
    comparison = compare(record, now)
    return Verified(
        record_file=record_file,
        outcome="differs" if comparison.differing else "same",
        record=record,
        now=now,
        photos=photos,
        comparison=comparison,
        remarks=_remarks(record, differs=bool(comparison.differing)),
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
            f"{path} is no record of a measurement.",
            expected=f"a JSON file with schema {SCHEMA}, as measure --json, measure --out and batch write it",
            remedy="name the record's file",
        )
    return None


def _again(record: Record, photos: tuple[Sought, ...]) -> Record:
    asked = record.asked
    if asked is None:
        raise ValueError("a record without what was asked cannot be repeated")
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as place:
        paths = tuple(_under_its_name(photo, Path(place) / "photos" / str(i)) for i, photo in enumerate(photos))
        request = request_from(asked, paths, Path(place) / "cameras")
        return recorded(request, seed=asked.monte_carlo_seed, tape=said_of(record.tape))[1]


def _under_its_name(photo: Sought, place: Path) -> Path:
    """The photograph's path; a copy where the file was renamed since, as reasons of refusals name the file."""
    if photo.path is None:
        raise ValueError(f"{photo.file} was not found")
    name = Path(photo.file).name
    if photo.path.name == name:
        return photo.path
    place.mkdir(parents=True)
    return Path(shutil.copyfile(photo.path, place / name))


def _remarks(record: Record, *, differs: bool) -> tuple[str, ...]:
    """What is not as it was when the record was made."""
    remarks = []
    if record.version != __version__:
        remarks.append(f"The record was made by version {record.version}; this is version {__version__}.")
    here = software()
    others = [
        f"{name} {old} (here {here.get(name, 'none')})"
        for name, old in record.software.items()
        if old != here.get(name)
    ]
    if others:
        remarks.append(f"It was computed with {', '.join(others)}.")
    if differs and remarks:
        remarks.append("That may be why: to repeat it exactly, use what it was made with.")
    return tuple(remarks)
