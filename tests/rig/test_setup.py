"""Setup files: units, ranges, contradictions, records, and errors that a person can act on."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped, unused-ignore]
import pytest

from calib.outcome.errors import InputError
from photomeasure.rig.setup_file import load_setup, parse_setup
from photomeasure.schemas.made import schema_of
from tests.rig.scenario import SAMPLES, checked, plain, sample

Bend = Callable[[dict[str, Any]], Any]
WORKED = sorted(path.name for path in SAMPLES.glob("ferncombe-*.toml"))


def error_of(raw: dict[str, Any]) -> str:
    with pytest.raises(InputError) as caught:
        checked(raw)
    return str(caught.value)


@pytest.mark.parametrize("name", WORKED)
def test_worked_setups_load_say_they_are_invented_and_fit_the_published_schema(name: str) -> None:
    assert load_setup(SAMPLES / name).title
    assert "invented" in (SAMPLES / name).read_text(encoding="utf-8").splitlines()[0]
    jsonschema.validate(sample(name), schema_of("set-up"))


def test_units_are_converted_by_their_definitions() -> None:
    raw = plain()
    raw["trailer"]["drawbar"] = {"m": 3.5, "u_m": 0.02}
    raw["trailer"]["ball_load"] = {"kg": 100, "u_kg": 10}
    trailer = checked(raw).trailer
    assert trailer.drawbar.value == pytest.approx(3500.0)
    assert trailer.drawbar.u == pytest.approx(20.0)
    # 100 kg under standard gravity, 9.80665 m/s^2 exactly (3rd CGPM, 1901)
    assert trailer.ball_load.value == pytest.approx(980.665)
    raw["trailer"]["ball_load"] = {"N": 980.665, "u_N": 98.0665}
    assert checked(raw).trailer.ball_load.value == pytest.approx(980.665)


def test_limits_become_a_rectangular_distribution() -> None:
    # JCGM 100:2008 4.3.7: u = a / sqrt 3 for limits +/-a
    raw = plain()
    raw["vehicle"]["ball_height"] = {"mm": 470, "plus_minus_mm": 6}
    height = checked(raw).vehicle.ball_height
    assert height.u == pytest.approx(6.0 / math.sqrt(3.0))
    assert height.shape == "rectangular"


def set_to(section: str, key: str, value: Any) -> Bend:
    def bend(raw: dict[str, Any]) -> None:
        raw[section][key] = value

    return bend


WRONG: list[tuple[Bend, tuple[str, ...]]] = [
    # kg and N taken for one another: 120 kg is 1177 N
    (
        set_to("trailer", "ball_load", {"kg": 1177, "u_kg": 90}),
        ("trailer.ball_load", "5 to 600 kg", "N = 1177"),
    ),
    (
        set_to("trailer", "ball_load", {"N": 120, "u_N": 10}),
        ("trailer.ball_load", "250 to 6000 N", "kg = 120"),
    ),
    (set_to("trailer", "mass", {"kg": 23000, "u_kg": 500}), ("trailer.mass", "50 to 12000 kg", "kg = 2345")),
    (set_to("trailer", "drawbar", {"mm": 3.5, "u_mm": 0.02}), ("trailer.drawbar", "mm", "m = 3.5")),
    (set_to("trailer", "drawbar", {"mm": 350, "u_mm": 2}), ("trailer.drawbar", "800 to 12000 mm", "cm")),
    (set_to("trailer", "axle_rate", {"kN_per_m": 150000, "u_kN_per_m": 9}), ("axle_rate", "kN/m", "N/m")),
    (
        set_to("trailer", "axle_rate", {"kN_per_m": 8, "u_kN_per_m": 1}),
        ("axle_rate", "kg/mm", "kN_per_m = 78.45"),
    ),
    (set_to("trailer", "drawbar", 3500), ("trailer.drawbar", "no table", "{ mm =")),
    (set_to("trailer", "drawbar", {"mm": 3500}), ("trailer.drawbar", "u_mm", "plus_minus_mm")),
    (set_to("trailer", "drawbar", {"mm": "3500", "u_mm": 5}), ("trailer.drawbar", "without quotes")),
    (set_to("trailer", "drawbar", {"mm": math.nan, "u_mm": 5}), ("trailer.drawbar", "finite")),
    (set_to("trailer", "drawbar", {"mm": 3500, "u_mm": -5}), ("trailer.drawbar", "u_mm = -5", "0 to")),
    (set_to("trailer", "drawbar", {"mm": 3500, "u_mm": 3000}), ("trailer.drawbar", "u_mm = 3000", "mm")),
    (set_to("trailer", "drawbar", {"mm": 3500, "m": 3.5, "u_mm": 5}), ("exactly one of the keys mm, m",)),
    (set_to("trailer", "drawbar", {"mm": 3500, "u_mm": 5, "um": 5}), ("unknown key 'um'",)),
    (set_to("trailer", "drawbr", {"mm": 3500, "u_mm": 5}), ("trailer.drawbr", "did you mean drawbar")),
    (set_to("trailer", "axles", 9), ("trailer.axles", "4")),
    (set_to("trailer", "axles", True), ("trailer.axles",)),
    (set_to("vehicle", "coupled", "no way"), ("vehicle.coupled", "must be true or false")),
    (set_to("vehicle", "name", ""), ("vehicle.name", "must have at least 1 character")),
    (set_to("vehicle", "wheelbase", {"mm": 3000, "u_mm": 5}), ("vehicle", "wheelbase and overhang", "mm")),
    (
        set_to("vehicle", "stand_test", {"drop": {"mm": 1, "u_mm": 0.1}, "mass": {"kg": 390, "u_kg": 1}}),
        ("vehicle.stand_test", "N/mm", "check kg against N"),
    ),
    (
        set_to("vehicle", "stand_test", {"drop": {"mm": 9, "u_mm": 1}}),
        ("vehicle.stand_test.mass", "missing", "kg"),
    ),
    (lambda raw: raw["vehicle"].pop("stand_test"), ("vehicle", "stand_test", "axle rates in kN/m")),
    (lambda raw: raw["trailer"].pop("drawbar"), ("trailer.drawbar", "missing", "800 to 12000 mm")),
    (lambda raw: raw.pop("trailer"), ("trailer", "missing")),
    (lambda raw: raw.update(option=[{"name": "x", "u_mm": 1}]), ("option[1]", "drop_mm", "rise_mm")),
    (
        lambda raw: raw.update(option=[{"name": "x", "drop_mm": "50", "u_mm": 1}]),
        ("option[1].drop_mm: '50': must be a number, without quotes (unit: mm)",),
    ),
    (
        lambda raw: raw.update(option=[{"name": "x", "drop_mm": -5, "u_mm": 1}]),
        ("option[1].drop_mm", "-5", "mm"),
    ),
    (lambda raw: raw.update(schema="something else"), ("photomeasure/rig-setup/1",)),
]


@pytest.mark.parametrize(("bend", "words"), WRONG)
def test_wrong_fields_are_named_with_range_and_unit(bend: Bend, words: tuple[str, ...]) -> None:
    raw = plain()
    bend(raw)
    message = error_of(raw)
    for word in words:
        assert word in message, message
    assert "Expected:" in message
    assert "Next:" in message


def test_ball_load_is_held_against_the_mass() -> None:
    raw = plain()
    raw["trailer"]["mass"] = {"kg": 2600, "u_kg": 60}
    raw["trailer"]["ball_load"] = {"N": 250, "u_N": 20}  # 250 kg typed as newtons: 1 % of the mass
    assert "kg or N" in error_of(raw)
    raw["trailer"]["ball_load"] = {"kg": 250, "u_kg": 20}
    assert checked(raw).trailer.ball_load.value == pytest.approx(250 * 9.80665)


def test_all_wrong_fields_are_told_at_once() -> None:
    raw = plain()
    raw["trailer"]["drawbar"] = {"mm": 3, "u_mm": 1}
    raw["vehicle"]["ball_height"] = {"mm": 5000, "u_mm": 1}
    message = error_of(raw)
    assert "2 wrong fields" in message
    assert "trailer.drawbar" in message
    assert "vehicle.ball_height" in message


def test_a_wrong_field_of_a_file_is_told_with_its_line(tmp_path: Path) -> None:
    text = (SAMPLES / "ferncombe-yard-truck-2.toml").read_text(encoding="utf-8")
    line = next(i for i, row in enumerate(text.splitlines(), 1) if row.startswith("ball_height"))
    path = tmp_path / "setup.toml"
    path.write_text(re.sub(r"(?m)^ball_height = .*$", "ball_height = { mm = 5000, u_mm = 1 }", text), encoding="utf-8")
    with pytest.raises(InputError, match=rf"line {line}, vehicle\.ball_height"):
        load_setup(path)


def test_syntax_errors_name_the_line(tmp_path: Path) -> None:
    path = tmp_path / "setup.toml"
    path.write_text('schema = "photomeasure/rig-setup/1"\ntitle = no quotes\n', encoding="utf-8")
    with pytest.raises(InputError, match="line 2"):
        load_setup(path)


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00bad"])
def test_files_that_cannot_be_read(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "setup.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError, match="Cannot open"):
        load_setup(path)


def with_record(tmp_path: Path, record: object, **vehicle: Any) -> Any:
    (tmp_path / "yard-truck-1.json").write_text(json.dumps(record), encoding="utf-8")
    raw = plain()
    raw["vehicle"].update(ball_height={"record": "yard-truck-1.json"}, **vehicle)
    return parse_setup(raw, folder=tmp_path, label="setup.toml")


def test_a_height_comes_from_a_measurement_record(tmp_path: Path) -> None:
    setup = with_record(tmp_path, {"height_mm": 463.2, "u_mm": 0.8, "refusal": None, "verdict": "above"})
    height = setup.vehicle.ball_height
    assert (height.value, height.u, height.source) == (463.2, 0.8, "yard-truck-1.json")


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (
            {"height_mm": None, "u_mm": None, "verdict": "refused", "refusal": {"reason": "no sheet"}},
            "no sheet",
        ),
        ({"verdict": "refused"}, "was refused"),
        ({"height_mm": 463.2}, "no height_mm and u_mm"),
        ({"height_mm": 463.2, "u_mm": True}, "no height_mm and u_mm"),
        ([1, 2], "no height_mm and u_mm"),
        ({"height_mm": 463.2, "u_mm": 0.8, "state": {"coupled": True}}, "was taken coupled"),
        ({"height_mm": 463.2, "u_mm": 0.8, "state": {"laden": False}}, "was taken unladen"),
    ],
)
def test_records_that_cannot_serve(tmp_path: Path, record: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        with_record(tmp_path, record)


def test_a_record_must_exist_and_be_json(tmp_path: Path) -> None:
    raw = plain()
    raw["trailer"]["level_coupling_height"] = {"record": "gone.json"}
    with pytest.raises(InputError, match=r"gone\.json"):
        parse_setup(raw, folder=tmp_path, label="setup.toml")
    (tmp_path / "gone.json").write_text("{", encoding="utf-8")
    with pytest.raises(InputError, match="no JSON"):
        parse_setup(raw, folder=tmp_path, label="setup.toml")
    raw["trailer"]["level_coupling_height"] = {"record": "gone.json", "u_mm": 3}
    with pytest.raises(InputError, match="mixes a record"):
        parse_setup(raw, folder=tmp_path, label="setup.toml")


def test_places_on_the_way_have_to_make_sense() -> None:
    raw = plain()
    raw["articulation"] = {"demand": [{"name": "a", "kind": "crest", "grade_in_deg": -3, "grade_out_deg": 3}]}
    assert "a crest needs" in error_of(raw)
    raw["articulation"] = {"demand": [{"name": "a", "kind": "dip", "grade_in_deg": -3, "grade_out_deg": 3}]}
    assert "wheelbase" in error_of(raw)  # a length that is needed and not there
    raw["articulation"] = {"dip_limit_deg": 20}
    assert "limits_source" in error_of(raw)
