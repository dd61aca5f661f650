"""The ledger: every record with a tape's reading, from record files and folders of them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.files import is_output
from calib.words.said import said
from photomeasure.asked.tape_said import USUAL_CLASS, TapeClass
from photomeasure.record.schema import Record, is_record, read_record

_OURS = ("seal", "plan", "verify", "audit", "level", "target")  # lie beside records, and are not taken for a mistake


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One photograph's figure and the tape's reading of the same height; lengths in mm, u_ standard, U_mm expanded."""

    record_file: Path
    made: str
    height_mm: float
    u_mm: float
    U_mm: float
    interval_mm: tuple[float, float]
    tape_mm: float
    u_tape_mm: float
    tape_class: TapeClass = USUAL_CLASS
    centre: str
    camera: str
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """pairs: in the order of their making. The rest says what was not counted, and why.

    unreadable: records in a folder that are broken; no_records: what a person named that is not there or is no record.
    """

    pairs: tuple[Pair, ...]
    untaped: int = 0
    refused: int = 0
    repeated: int = 0
    other_files: int = 0
    unreadable: tuple[str, ...] = ()
    no_records: tuple[str, ...] = ()


def read_ledger(places: Iterable[Path]) -> Ledger:
    """Record files, and folders in which every JSON file that is a record counts.

    Of several records of the same photographs the one made last counts. A place that is not there, or a file named by
    itself that is no record, is told in the ledger; InputError is raised where none of the places is there.
    """
    places = list(dict.fromkeys(places))
    there = [place for place in places if place.exists()]
    wrong = [_missing(place) for place in places if place not in there]
    if wrong and not there:
        raise wrong[0]
    taped: dict[tuple[str, ...], Pair] = {}
    untaped = refused = other = repeated = 0
    unreadable: list[str] = []
    for path, named in _files(there):
        if not named and not os.access(path, os.R_OK):
            unreadable.append(said("{path} may not be read", path=path))
            continue
        if not named and not is_record(path):
            other += not any(is_output(path, kind) for kind in _OURS)
            continue
        try:
            record = read_record(path)
        except InputError as error:
            if named:
                wrong.append(error)
            else:
                unreadable.append(error.what)
            continue
        pair = _pair(path, record)
        if record.tape is None:
            untaped += 1
        elif pair is None:
            refused += 1
        else:
            key = tuple(sorted(photo.sha256 or f"{path}" for photo in record.photos))
            before = taped.get(key)
            repeated += before is not None
            if before is None or pair.made >= before.made:
                taped[key] = pair
    pairs = sorted(taped.values(), key=lambda pair: (pair.made, str(pair.record_file)))
    return Ledger(
        pairs=tuple(pairs),
        untaped=untaped,
        refused=refused,
        repeated=repeated,
        other_files=other,
        unreadable=tuple(unreadable),
        no_records=tuple(error.what for error in wrong),
    )


def _missing(place: Path) -> InputError:
    return InputError(
        said("There is no {place}.", place=place),
        expected=said("a record, or a folder with records in it"),
        remedy=said("name what measure --json, measure --out or batch wrote"),
    )


def _files(places: Iterable[Path]) -> Iterator[tuple[Path, bool]]:
    """Files once each, and whether a person named them."""
    seen: set[Path] = set()
    for place in places:
        named = not place.is_dir()  # a pipe or a device too: that it is no record is told
        for path in [place] if named else sorted(place.rglob("*.json")):
            if (named or path.is_file()) and path.resolve() not in seen:
                seen.add(path.resolve())
                yield path, named


def _pair(path: Path, record: Record) -> Pair | None:
    tape, interval = record.tape, record.interval_mm
    if tape is None or record.height_mm is None or record.u_mm is None or record.U_mm is None or interval is None:
        return None
    return Pair(
        record_file=path,
        made=record.computed,
        height_mm=record.height_mm,
        u_mm=record.u_mm,
        U_mm=record.U_mm,
        interval_mm=interval,
        tape_mm=tape.centre_mm,
        u_tape_mm=tape.u_mm,
        tape_class=tape.tape_class,
        centre=record.centre.source if record.centre is not None else said("not told"),
        camera=next(
            (photo.camera for photo in record.photos if photo.camera is not None), said("not told by the file")
        ),
        rule=record.rule.name if record.rule is not None else "none",
    )
