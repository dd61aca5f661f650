"""Verifying the record of a trailer's level: the same photographs, the same touches, measured again and compared."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from calib.outcome.reading import json_of, read_model, text_of
from calib.words.said import said
from photomeasure.asked.level import USUAL, Allowed, LevelRequest
from photomeasure.record.level import SCHEMA, LevelRecord, recorded_level
from photomeasure.record.request_kept import request_from
from photomeasure.record.schema import PhotoPart
from photomeasure.repeat.compare import RecordsCompared, compared
from photomeasure.repeat.search import PhotoFolder, Sought, seek, under_its_name

_HALF_DIGIT_DEG, _HALF_PERMILLE, _SHARE = 0.005, 0.0005, 0.001  # half of the last digit that is printed


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelAgain:
    """photos: where they were found; now, comparison: nothing where one of them was not."""

    record: LevelRecord
    photos: tuple[Sought, ...]
    now: LevelRecord | None = None
    comparison: RecordsCompared | None = None


def is_level(path: Path) -> bool:
    """Whether a file says that it is the record of a level."""
    try:
        written = json_of(text_of(path))
    except (OSError, ValueError):
        return False
    return isinstance(written, dict) and written.get("schema") == SCHEMA


def level_again(path: Path, folder: PhotoFolder | None) -> LevelAgain:
    """Do it again. Raises InputError for a file that is no such record."""
    record = read_model(
        LevelRecord,
        path,
        what=said("the record of the level"),
        no=lambda file: said("{path} is no record of a level of this version", path=file),
        form=said("a JSON file written by level --json"),
        expected=said("a file with schema {schema}", schema=SCHEMA),
        remedy=said("measure again with --json, or use the version that wrote it"),
    )
    photos = tuple(seek(PhotoPart(file=part.file, sha256=part.sha256), path, folder) for part in record.photos)
    if any(photo.state != "found" for photo in photos):
        return LevelAgain(record=record, photos=photos)
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as place:
        paths = tuple(under_its_name(photo, Path(place) / "photos" / str(i)) for i, photo in enumerate(photos))
        now = recorded_level(_request(record, paths, Path(place) / "cameras"))[1]
    return LevelAgain(record=record, photos=photos, now=now, comparison=compare_levels(record, now))


def _request(record: LevelRecord, photos: tuple[Path, ...], profile_folder: Path) -> LevelRequest:
    allowed = record.allowed
    typed = allowed is not None and allowed.source != USUAL.source
    return LevelRequest(
        request=request_from(record.asked.request, photos, profile_folder),
        ground_px=tuple(px for part in record.photos for px in part.ground_px),
        rail_px=tuple(px for part in record.photos for px in part.rail_px) if record.asked.rail_marked else (),
        pick_u_px=record.asked.pick_u_px,
        nose=record.asked.nose,
        allowed=None
        if allowed is None or not typed
        else Allowed(nose_up_deg=allowed.nose_up_deg, nose_down_deg=allowed.nose_down_deg, source=allowed.source),
    )


def compare_levels(recorded: LevelRecord, now: LevelRecord) -> RecordsCompared:
    """Every key of the two, but for what says when, where and with what they were made."""
    return compared(recorded, now, tolerance=_tolerance, stated=lambda key: False)


def _tolerance(key: str, recorded: float) -> float:
    name = key.rsplit(".", 1)[-1].split("[", 1)[0]
    if name.endswith("_deg"):
        return _HALF_DIGIT_DEG
    return _HALF_PERMILLE if name in ("share", "p_within") else _SHARE * abs(recorded)
