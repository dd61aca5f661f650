"""Reading a setup file: TOML, heights from measurement records, and errors that name the field."""

from __future__ import annotations

import difflib
import json
import math
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import BOUNDS, in_words
from calib.outcome.reading import fitted, json_of, read_text, read_toml
from calib.outcome.toml_lines import line_said
from calib.words.said import joined, said, said_many
from photomeasure.rig.fields import QuantityField
from photomeasure.rig.setup import SCHEMA, Setup
from photomeasure.rig.together import Figure, Record, correlations

_LARGEST_FILE_BYTES = 1_000_000
_RECORD_FIELDS = (
    ("vehicle", "ball_height"),
    ("trailer", "level_coupling_height"),
    ("trailer", "standing_coupling_height"),
)
_PITCH = ("trailer", "standing_pitch")  # from a record of `photomeasure level`
# from the record of a pair of photographs: how far the ball sank; the name that people read in a plan
_SINKINGS = (("vehicle", "coupling_drop"), ("vehicle", "stand_test", "drop"))
_NAMES = {
    ("vehicle", "ball_height"): "ball height",
    ("vehicle", "coupling_drop"): "drop when coupled",
    ("vehicle", "stand_test", "drop"): "stand-test drop",
    ("trailer", "level_coupling_height"): "level coupling height",
    ("trailer", "standing_coupling_height"): "coupling height as it stands",
    _PITCH: "pitch as it stands",
}


def load_setup(path: Path) -> Setup:
    """Return the checked setup of a TOML file; record paths are relative to the file's folder.

    Raises InputError that names every wrong field with its allowed range and unit.
    """
    text = _read(path, said("the setup file"))
    raw = read_toml(
        text,
        str(path),
        expected=said("a setup file in TOML such as sample_images/rigs/ferncombe-yard-truck-2.toml"),
        remedy=said("mend the line named above; text needs double quotes, numbers a point and no unit"),
    )
    return parse_setup(raw, folder=path.parent, label=str(path), text=text)


def parse_setup(raw: dict[str, Any], *, folder: Path, label: str, text: str = "") -> Setup:
    """Return the checked setup of a dictionary as TOML gives it; raises InputError as load_setup does. text: of the file, where
    there is one, so that lines can be named."""
    if raw.get("schema") != SCHEMA:
        raise InputError(
            said("{label} says schema = {value}.", label=label, value=repr(raw.get("schema"))),
            expected=said('schema = "{schema}" in its first lines', schema=SCHEMA),
            remedy=said("add that line, or check that this is a rig setup file"),
        )
    return fitted(
        Setup,
        _with_records(raw, folder),
        label,
        expected=said("a table with its unit in the key and its uncertainty for every quantity, in its range"),
        remedy=said("correct the fields named above; the commented setups under sample_images show each one"),
        text=text,
        all_faults=_wrong_fields,
    )


def _wrong_fields(error: ValidationError, text: str) -> str:
    faults = list(_faults(error, text))
    return said_many(
        "has {count} wrong field:\n    {faults}",
        "has {count} wrong fields:\n    {faults}",
        count=len(faults),
        faults=joined(faults, "\n    "),
    )


def _read(path: Path, what: str) -> str:
    return read_text(
        path,
        what=what,
        form=said("{what}: a few kilobytes of text that may be read", what=what),
        remedy=said("check the path; a record's path is relative to the setup file's folder"),
        most_bytes=_LARGEST_FILE_BYTES,
    )


def _with_records(raw: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Replace each {record = "..."} by the height and uncertainty which that record gives."""
    filled = {key: dict(value) if isinstance(value, dict) else value for key, value in raw.items()}
    figures: dict[str, tuple[Figure, Record]] = {}
    for section, name in _RECORD_FIELDS:
        table = filled.get(section)
        entry = table.get(name) if isinstance(table, dict) else None
        if isinstance(table, dict) and isinstance(entry, dict) and "record" in entry:
            path, record = _record_of(entry, folder, f"{section}.{name}")
            table[name] = _height_or_error(record, path, f"{section}.{name}")
            figures[_NAMES[section, name]] = "height", record
            if section == "vehicle":
                _same_state(table, record, path)
    section, name = _PITCH
    table = filled.get(section)
    entry = table.get(name) if isinstance(table, dict) else None
    if isinstance(table, dict) and isinstance(entry, dict) and "record" in entry:
        path, record = _record_of(entry, folder, f"{section}.{name}")
        table[name] = _pitch_or_error(record, path, f"{section}.{name}")
        figures[_NAMES[_PITCH]] = "pitch", record
    for place in _SINKINGS:
        _with_sinking(filled, place, folder, figures)
    typed = filled.get("correlation", [])
    if figures and isinstance(typed, list):
        said = [set(one["between"]) for one in typed if isinstance(one, dict) and isinstance(one.get("between"), list)]
        found = [(one, other, r) for one, other, r in correlations(figures) if {one, other} not in said]
        known = [{"between": [one, other], "r": r} for one, other, r in found]  # what is typed stands
        filled["correlation"] = [*typed, *known]
    return filled


def _with_sinking(
    filled: dict[str, Any], place: tuple[str, ...], folder: Path, figures: dict[str, tuple[Figure, Record]]
) -> None:
    """Replace a drop that names the record of a pair by how far the ball sank in it."""
    table: Any = filled
    for part in place[:-1]:
        inner = table.get(part)
        if not isinstance(inner, dict):
            return
        table[part] = dict(inner)
        table = table[part]
    entry, where = table.get(place[-1]), ".".join(place)
    if isinstance(entry, dict) and "record" in entry:
        path, record = _record_of(entry, folder, where)
        table[place[-1]] = _sinking_or_error(record, path, where, table if place[-2] == "stand_test" else None)
        figures[_NAMES[place]] = "sinking", record


def _sinking_or_error(
    record: dict[str, Any], path: Path, where: str, stand_test: dict[str, Any] | None
) -> dict[str, Any]:
    """stand_test: the setup's table of it, where the drop is under somebody on the bar and not under the trailer."""
    _usable(record, path, where)
    sink, stand = record.get("sink"), record.get("stand_test")
    state = record.get("state")
    coupled = isinstance(sink, dict) and isinstance(state, dict) and state.get("coupled") is True
    if isinstance(stand, dict) if stand_test is None else coupled:
        wanted, is_ = said("the trailer"), said("somebody on the bar")
        if stand_test is not None:
            wanted, is_ = is_, wanted
        raise InputError(
            said(
                "{where}: {path} tells how far the ball sank under {found}, not under {wanted}.",
                where=where,
                path=path,
                found=is_,
                wanted=wanted,
            ),
            expected=said("the record of a stand test for stand_test.drop, of the same rig coupled for coupling_drop"),
            remedy=said("name the other record, or put this one where it belongs"),
        )
    mm, u_mm = (sink.get("mm"), sink.get("u_mm")) if isinstance(sink, dict) else (None, None)
    if isinstance(stand, dict):
        mm, u_mm = stand.get("drop_mm"), stand.get("u_mm")
        mass = (stand_test or {}).get("mass")
        typed_kg = mass.get("kg") if isinstance(mass, dict) else None
        if _finite(typed_kg) and _finite(stand.get("mass_kg")) and typed_kg != stand["mass_kg"]:
            raise InputError(
                said(
                    "{where}: {path} was photographed with {stand:g} kg on the bar; the setup says {typed_kg:g} kg.",
                    where=where,
                    path=path,
                    stand=stand["mass_kg"],
                    typed_kg=typed_kg,
                ),
                expected=said("the mass of whoever stood there"),
                remedy=said("write the same mass, or name the record of the other stand test"),
            )
    if not (_finite(mm) and _finite(u_mm)):
        raise InputError(
            said("{where}: {path} does not tell how far the ball sank.", where=where, path=path),
            expected=said("the record of a pair of photographs: of now, with those from before or their record"),
            remedy=said(
                "measure both together (photomeasure measure after.jpg --before before.jpg, or empty.jpg --standing "
                "standing.jpg), or type mm and u_mm"
            ),
        )
    return {"mm": mm, "u_mm": u_mm, "source": path.name}


def _record_of(entry: dict[str, Any], folder: Path, where: str) -> tuple[Path, dict[str, Any]]:
    if len(entry) != 1 or not isinstance(entry["record"], str):
        raise InputError(
            said("{where} mixes a record with other keys: {listed}.", where=where, listed=", ".join(map(str, entry))),
            expected=said("{form} alone: height and uncertainty come from it", form='{ record = "file.json" }'),
            remedy=said("keep the record, or type mm and u_mm in its place"),
        )
    path = folder / entry["record"]
    try:
        record = json_of(_read(path, said("the record of {where}", where=where)))
    except json.JSONDecodeError as error:
        raise InputError(
            said("{where}: {path} is no JSON: {error}.", where=where, path=path, error=error),
            expected=said("a record written by `photomeasure measure --json`"),
            remedy=said("name the record's .json file, or type mm and u_mm"),
        ) from error
    return path, record if isinstance(record, dict) else {}


def _same_state(vehicle: dict[str, Any], record: dict[str, Any], path: Path) -> None:
    """Raise InputError where the record's state contradicts the setup's; an open one is no fault."""
    state = record.get("state")
    for name, yes, no in (("coupled", said("coupled"), said("uncoupled")), ("laden", said("laden"), said("unladen"))):
        seen = state.get(name) if isinstance(state, dict) else None
        stated = vehicle.get(name)
        if isinstance(seen, bool) and isinstance(stated, bool) and seen != stated:
            raise InputError(
                said(
                    "vehicle.{name} = {value}, but {path} was taken {state}.",
                    name=name,
                    value=str(stated).lower(),
                    path=path,
                    state=yes if seen else no,
                ),
                expected=said("the state in which the ball's height was measured"),
                remedy=said(
                    "write {name} = {value} under [vehicle], or name another record",
                    name=name,
                    value=str(seen).lower(),
                ),
            )


def _usable(record: dict[str, Any], path: Path, where: str) -> None:
    """Raise InputError for a measurement that was refused, or that a tape contradicts."""
    refusal = record.get("refusal")
    if refusal or record.get("verdict") == "refused":
        reason = refusal.get("reason", _NO_REASON) if isinstance(refusal, dict) else _NO_REASON
        raise InputError(
            said("{where}: the measurement in {path} was refused ({reason}).", where=where, path=path, reason=reason),
            expected=said("a record that holds a height"),
            remedy=said("photograph again as its remedy says, or measure with a tape and type mm and u_mm"),
        )
    tape = record.get("tape")
    if isinstance(tape, dict) and tape.get("agrees") is False:
        raise InputError(
            said(
                "{where}: in {path} photograph and tape disagree, so neither height can be planned with.",
                where=where,
                path=path,
            ),
            expected=said("a record whose tape agrees with its photograph, or one without a tape"),
            remedy=said("read the tape again and add it to the record, or type mm and u_mm"),
        )


def _height_or_error(record: dict[str, Any], path: Path, where: str) -> dict[str, Any]:
    _usable(record, path, where)
    height_mm, u_mm = record.get("height_mm"), record.get("u_mm")
    if not (_finite(height_mm) and _finite(u_mm)):
        raise InputError(
            said("{where}: {path} gives no height_mm and u_mm.", where=where, path=path),
            expected=said("a record written by `photomeasure measure --json`, with both as numbers in mm"),
            remedy=said("name the right record, or type mm and u_mm"),
        )
    return {"mm": height_mm, "u_mm": u_mm, "source": path.name}


def _pitch_or_error(record: dict[str, Any], path: Path, where: str) -> dict[str, Any]:
    pitch_deg, u_deg = record.get("pitch_deg"), record.get("u_deg")
    if not (_finite(pitch_deg) and _finite(u_deg)):
        raise InputError(
            said("{where}: {path} gives no pitch_deg and u_deg.", where=where, path=path),
            expected=said("a record written by `photomeasure level --json` in which a pitch was measured"),
            remedy=said("name the right record, photograph again as its remedy says, or type deg and u_deg"),
        )
    return {"deg": pitch_deg, "u_deg": u_deg, "source": path.name}


def _finite(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _faults(error: ValidationError, text: str) -> Iterator[str]:
    for fault in error.errors():
        place = [part for part in fault["loc"] if part != "schema_name"]
        dotted = ".".join(f"[{part + 1}]" if isinstance(part, int) else part for part in place).replace(".[", "[")
        line = line_said(text, tuple(place))
        field = dotted or said("the file")
        yield joined([joined([line, field]) if line else field, _sentence(fault, place)], ": ")


def _sentence(fault: Any, place: list[Any]) -> str:
    """Say one fault in our words, with range and unit where the field has them."""
    table, kind = _model_at(place[:-1]), fault["type"]
    if kind == "missing":
        wanted = _field_of(table, place[-1]) if table else None
        return said("is missing; expected {wanted}", wanted=wanted.allowed() if wanted else said("a value"))
    if kind == "extra_forbidden":
        near = difflib.get_close_matches(str(place[-1]), list(table.model_fields) if table else [], n=1)
        known = ", ".join(name for name in (table.model_fields if table else {}) if name != "schema_name")
        if near:
            return said("is no known key; did you mean {near}; known here: {known}", near=near[0], known=known)
        return said("is no known key; known here: {known}", known=known)
    if kind == "value_error":
        return in_words(fault)
    unit = next((word for tail, word in _TAILS.items() if place and str(place[-1]).endswith(tail)), "")
    values = {"typed": repr(fault["input"]), "fault": in_words(fault)}
    if not unit:
        return said("{typed}: {fault}", **values)
    if kind in BOUNDS:
        return said("{typed} {unit}: {fault} {unit}", **values, unit=unit)
    return said("{typed}: {fault} (unit: {unit})", **values, unit=unit)


_TAILS = {"_mm": "mm", "_deg": said("degrees"), "_m": "m"}
_NO_REASON = said("no reason given")


def _model_at(place: list[Any]) -> type[BaseModel] | None:
    """Return the model that the path of a fault leads to."""
    model: type[BaseModel] = Setup
    for part in place:
        if isinstance(part, int):
            continue
        info = model.model_fields.get(part)
        found = next(_models_in(info.annotation), None) if info else None
        if found is None:
            return None
        model = found
    return model


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in typing.get_args(annotation):
        yield from _models_in(inner)


def _field_of(model: type[BaseModel], name: Any) -> QuantityField | None:
    info = model.model_fields.get(name)
    found = [item for item in (info.metadata if info else []) if isinstance(item, QuantityField)]
    return found[0] if found else None
