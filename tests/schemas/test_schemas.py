"""The shipped schemas are what the code accepts: the same files, and the same yes or no to files with something wrong in them."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped, unused-ignore]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from photomeasure.asked.prints import RememberedPrint
from photomeasure.record.schema import Record
from photomeasure.rules.load import available_rules
from photomeasure.schemas import SCHEMAS, schema_text
from photomeasure.schemas.made import MODELS, schema_file
from photomeasure.seal.schema import Entry, Seal
from tests.asked.test_asked import BAY, FULL
from tests.calib.profile.test_profile import profile
from tests.cli.test_look import run
from tests.sample_requests import SAMPLES

SURVEY = """
dictionary = "DICT_4X4_50"
[[tape]]
from = "12.0"
to = "a"
mm = 2500.0
[[height]]
point = "12.0"
mm = 1200.0
[[ground]]
name = "a"
photo = "one.jpg"
px = [100.0, 200.0]
[plumb]
markers = [1, 2]
[coupling_plane]
through = ["a", "b"]
"""


def record() -> dict[str, Any]:
    """A record with everything of a request in it."""
    from photomeasure.record.request_kept import asked_part

    made = Record.model_validate(dict(
        version="1", computed="2026-05-14T13:48:00+10:00", height_mm=421.0, u_mm=2.0, U_mm=4.0, interval_mm=(417.0, 425.0),
        verdict="within", sentence="Within the band.", state={"coupling": "ball-50", "coupled": True, "laden": None, "level_ground": True},
        budget=[{"quantity": "check bars", "u_mm": 1.0, "share": 0.25}], asked=asked_part(FULL, (), 7),
        photos=[{"file": "a.jpg", "sha256": "0" * 64}],
    ))  # fmt: skip
    return json.loads(made.to_json())  # type: ignore[no-any-return]


def examples(name: str) -> Iterator[dict[str, Any]]:
    """Files that the program writes or ships, as they are parsed."""
    if name == "record":
        yield record()
    elif name == "rule":
        for rule in available_rules():
            yield tomllib.loads((files("photomeasure.rules") / f"{rule}.toml").read_text(encoding="utf-8"))
    elif name == "set-up":
        for path in sorted((SAMPLES / "rigs").glob("*.toml")):
            yield tomllib.loads(path.read_text(encoding="utf-8"))
    elif name == "profile":
        yield profile().model_dump(by_alias=True, mode="json")
    elif name == "survey":
        yield tomllib.loads(SURVEY)
    elif name == "bay":
        yield BAY.model_dump(by_alias=True, mode="json")
    elif name == "print":
        yield RememberedPrint(number=468779, bars=FULL.bars).as_file()
    elif name == "seal":
        entry = Entry(file="a.json", rig=None, bytes_sha256="0", content_sha256="1", photographs=["2"], chain="3")
        seal = Seal(
            schema="photomeasure/seal/1",
            case=None,
            by="M. Hale",
            sealed="2026",
            records=[entry],
            public_key="x",
            signature="y",
        )
        yield json.loads(seal.to_json())
    else:
        request = record()["asked"]
        yield {
            "schema": "photomeasure/level/1", "version": "1", "computed": "2026", "pitch_deg": -0.5, "u_deg": 0.1,
            "photos": [{"file": "a.jpg", "ground_px": [[1.0, 2.0], [3.0, 4.0]], "rail_px": []}],
            "asked": {"request": request, "pick_u_px": 1.0, "nose": "left"}, "software": {},
        }  # fmt: skip


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_shipped_file_is_what_the_code_makes(name: str) -> None:
    assert schema_text(name) == schema_file(name), "write them anew: python -m photomeasure.schemas.made"
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text(name)))


def test_the_command_prints_them_and_names_them() -> None:
    assert MODELS.keys() == SCHEMAS.keys()
    code, listed, _ = run("schema")
    assert code == 0 and all(f"photomeasure schema {name}" in listed for name in SCHEMAS)
    assert run("schema", "rule") == (0, schema_text("rule"), "")
    shipped = {path.name for path in Path(str(files("photomeasure.schemas"))).glob("*.json")}
    assert shipped == {f"{name}.json" for name in SCHEMAS}


@pytest.mark.parametrize("name", SCHEMAS)
def test_what_the_program_writes_and_ships_fits(name: str) -> None:
    some = list(examples(name))
    assert some
    for written in some:
        jsonschema.validate(written, json.loads(schema_text(name)))


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every key and element within."""
    inner = value.items() if isinstance(value, Mapping) else enumerate(value) if isinstance(value, list) else ()
    for key, deeper in inner:
        yield (*path, key)
        yield from places(deeper, (*path, key))


def fits(name: str, written: Any) -> bool:
    return not any(True for _ in jsonschema.Draft202012Validator(json.loads(schema_text(name))).iter_errors(written))


def faults(name: str, written: Any) -> set[str] | None:
    """Kinds of faults that the code finds; None for none."""
    try:
        MODELS[name].model_validate_json(json.dumps(written))
    except ValidationError as error:
        return {fault["type"] for fault in error.errors()}
    return None


# what a schema cannot say: fields that must fit each other, tables whose unit decides the range, a date's own form
BEYOND = {"value_error", "datetime_from_date_parsing", "datetime_parsing", "date_from_datetime_parsing", "date_parsing"}
EXAMPLES = {name: next(examples(name)) for name in SCHEMAS}
PLACES = {name: list(places(example)) for name, example in EXAMPLES.items()}


@settings(max_examples=60, deadline=None)
@given(data=st.data(), name=st.sampled_from(sorted(SCHEMAS)))
def test_schema_and_code_say_the_same_of_a_file_with_something_wrong_in_it(data: st.DataObject, name: str) -> None:
    """A key taken out or added, a value of another kind or size: what one of them takes the other does too.

    Numbers in quotes are left aside: the program reads them, though none of its files has any.
    """
    written = copy.deepcopy(EXAMPLES[name])
    *way, last = data.draw(st.sampled_from(PLACES[name]))
    table = written
    for step in way:
        table = table[step]
    match data.draw(st.sampled_from(("take", "add", "change"))):
        case "take":
            del table[last]
        case "add" if isinstance(table, dict):
            table["nobody-knows-this"] = 1
        case _:
            table[last] = data.draw(st.sampled_from([None, "text", [], {}, [[[]]], {"a": 1}, -1.5e9, 1e9]))
    found = faults(name, written)
    if found is None:
        assert fits(name, written)
    elif not found & BEYOND:
        assert not fits(name, written), found
