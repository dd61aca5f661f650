"""The record that is there already: of the same photographs it may be made anew, of others it is never replaced."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.record.measure_and_record import file_digest
from photomeasure.record.schema import Record, TapePart, is_record, read_record, written_record


def earlier_tape(path: Path, photos: Collection[Path]) -> TapePart | None:
    """The tape's reading in the record at `path`, made from the same photographs; None where there is none, or no such record.

    Raises InputError where it is of other photographs, since writing there would lose another rig's record.
    """
    written = written_record(path)
    if written is None or _surely_without(written, photos):
        return None
    record = _there(path)
    if record is None or of_the_same(record, photos):
        return None if record is None else record.tape
    whose = f" of {record.rig}" if record.rig else ""
    raise InputError(
        said(
            "{path} is the record{whose} of other photographs ({value}): it is not written over.",
            path=path,
            whose=whose,
            value=record.computed[:10],
        ),
        expected=said("a place at which no record is yet, or one of the same photographs"),
        remedy=said("name another folder or file for this rig, or move that record away"),
    )


def _surely_without(written: Mapping[str, Any], photos: Iterable[Path]) -> bool:
    """Whether a record, as its file has it, is of these photographs and holds no tape: told without making a record of it."""
    seen = written.get("photos")
    if written.get("tape") is not None or not isinstance(seen, list):
        return False
    digests = [photo.get("sha256") if isinstance(photo, dict) else None for photo in seen]
    if not all(isinstance(digest, str) for digest in digests):
        return False
    return set(digests) == {file_digest(path) for path in photos}


def of_the_same(record: Record, photos: Iterable[Path]) -> bool:
    """Whether a record is of these photographs, told by their digests."""
    return {photo.sha256 for photo in record.photos} == {file_digest(path) for path in photos}


def set_aside(path: Path, made: Record) -> Path | None:
    """Rename a record at `path` of other photographs than `made`, so that nothing is lost; its new path, None where none is
    there. Told by digests."""
    record = _there(path)
    if record is None or {photo.sha256 for photo in record.photos} == {photo.sha256 for photo in made.photos}:
        return None
    number = 1
    while (aside := path.with_name(f"{path.stem} (earlier {number}){path.suffix}")).exists():
        number += 1
    path.rename(aside)
    return aside


def _there(path: Path) -> Record | None:
    if not path.is_file() or not is_record(path):
        return None
    try:
        return read_record(path)
    except InputError:
        return None
