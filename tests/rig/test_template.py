"""A setup to begin with: it is a setup as it stands, knows every field, and takes heights and states from records."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from calib.outcome.errors import InputError
from photomeasure.commands.plan import begin, needed, plan
from photomeasure.rig.setup import Empty, Level, Ratings, Setup, Trailer, Vehicle
from photomeasure.rig.setup_file import load_setup
from photomeasure.rig.template import template


def record(path: Path, **more: Any) -> Path:
    path.write_text(json.dumps({"height_mm": 455.25, "u_mm": 0.6, **more}), encoding="utf-8")
    return path


def test_it_can_be_planned_as_it_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    setup = tmp_path / "rig.toml"
    assert begin(setup, None, None) == 0 and plan(setup, None, None) == 0
    assert "Fit the 50 mm drop" in capsys.readouterr().out
    with pytest.raises(InputError, match="is there already"):
        begin(setup, None, None)
    assert begin(None, None, None) == 0
    assert capsys.readouterr().out == setup.read_text(encoding="utf-8")


def test_with_every_comment_taken_away_the_fields_are_all_there(tmp_path: Path) -> None:
    text = template(tmp_path)
    for table in (Vehicle, Trailer, Ratings, Empty, Level):
        for name in table.model_fields:
            assert re.search(rf"^(# )?{name} = ", text, flags=re.M), name
    for name in Setup.model_fields:
        assert name in ("schema_name", "monte_carlo") or re.search(rf"^(# )?(\[+{name}|{name} =)", text, flags=re.M), (
            name
        )


def test_commented_tables_are_right(tmp_path: Path) -> None:
    """Tables that are commented out as a whole fit once the signs are taken away."""
    text = re.sub(r"^# (?=\[(empty|ratings|level)\])", "", template(tmp_path), flags=re.M)
    names = {name for table in (Ratings, Empty, Level) for name in table.model_fields} - {
        "level_coupling_height",
        "gravity_height",
    }
    text = re.sub(rf"^# (?=({'|'.join(names)}) = )", "", text, flags=re.M)
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    setup = load_setup(path)
    assert setup.empty is not None and setup.ratings.typed and setup.level.nose_down_limit_deg == 1.5


def test_heights_and_states_come_from_records(tmp_path: Path) -> None:
    ball = record(tmp_path / "ball.json", state={"coupled": False, "laden": True, "level_control": None})
    coupling = record(tmp_path / "coupling.json", height_mm=431.0, u_mm=0.9)
    setup = tmp_path / "plans" / "rig.toml"
    begin(setup, ball, coupling)
    planned = load_setup(setup)
    assert (planned.vehicle.ball_height.value, planned.vehicle.ball_height.source) == (455.25, "ball.json")
    level = planned.trailer.level_coupling_height
    assert level is not None and (level.value, level.u) == (431.0, 0.9)
    assert planned.vehicle.laden and not planned.vehicle.coupled
    text = setup.read_text(encoding="utf-8")
    assert "laden = true   # as the record says" in text and "CHECK" not in text and "@" not in text


def test_what_the_record_does_not_say_is_to_be_checked(tmp_path: Path) -> None:
    text = template(tmp_path, vehicle=record(tmp_path / "ball.json", state={"coupled": True, "level_control": True}))
    assert "coupled = true   # as the record says" in text
    assert re.search(r"^laden = true .*CHECK THIS: the record does not say$", text, flags=re.M)
    assert re.search(r"^level_control = true ", text, flags=re.M)


def test_records_that_are_none(tmp_path: Path) -> None:
    refused = tmp_path / "refused.json"
    refused.write_text(json.dumps({"height_mm": None, "refusal": {}}), encoding="utf-8")
    for path, word in ((tmp_path / "gone.json", "Cannot use"), (refused, "holds no height")):
        with pytest.raises(InputError, match=word):
            template(tmp_path, vehicle=path)
    for arguments in ((None, None, None), (Path("rig.toml"), refused, None)):
        with pytest.raises(InputError):
            needed(*arguments)
