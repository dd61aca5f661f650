"""Defaults from `photomeasure.toml`: what is typed stands above them, a wrong line is told, none is taken unseen."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import pytest
import typer.main
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.cli import app
from photomeasure.cli import settings as settings_module
from photomeasure.cli.settings import default_map
from tests.cli.test_look import run
from tests.cli.test_surroundings import run_in


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of work, and no file in the user's own place."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(settings_module, "places", lambda: (Path("photomeasure.toml"), tmp_path / "own.toml"))
    return tmp_path


def defaults(folder: Path, text: str) -> dict[str, Any]:
    (folder / "photomeasure.toml").write_text(text, encoding="utf-8")
    return default_map(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def test_a_line_at_the_top_holds_for_every_command_that_has_the_option(folder: Path) -> None:
    found = defaults(folder, 'bar-x = 149.5\nrule = "dk"\nunladen = true\n[batch]\nbar_x = "150 mm"\n')
    assert found["measure"] == {"bar_x": "149.5", "rule": "dk", "laden": False}
    assert found["batch"]["bar_x"] == "150 mm" and found["batch"]["rule"] == "dk"
    assert found["calibrate"] == {"bar_x": "149.5"}


def test_the_folder_stands_above_the_user_and_what_is_typed_above_both(folder: Path) -> None:
    (folder / "own.toml").write_text('bar-x = 151\ndecision = "simple"\n', encoding="utf-8")
    found = defaults(folder, "bar-x = 149\n")["measure"]
    assert found == {"bar_x": "149", "decision": "simple"}
    with pytest.raises(InputError, match="no-such"):  # both are valid and get as far as opening the photograph
        run("measure", "no-such.jpg")
    (folder / "photomeasure.toml").write_text("bar-x = 15\n", encoding="utf-8")
    with pytest.raises(InputError, match="--bar-x is 15 mm"):
        run("measure", "no-such.jpg")
    with pytest.raises(InputError, match="no-such"):
        run("measure", "no-such.jpg", "--bar-x", "150")


def test_files_are_meant_from_where_the_settings_lie(folder: Path) -> None:
    (folder / "own.toml").write_text('camera = "phone.json"\nrule = "house.toml"\n', encoding="utf-8")
    (folder / "house.toml").write_text("", encoding="utf-8")
    found = defaults(folder, "")["measure"]
    assert found == {"camera": str(folder / "phone.json"), "rule": str(folder / "house.toml")}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bar-z = 3", "bar-z is no option"),
        ("tape = 412", "tape is no option that can have a default"),
        ("rig = 'A'", "rig is no option that can have a default"),
        ("coupled = 1", "coupled is 1"),
        ("bar-x = [1]", "bar-x is"),
        ("[mesure]\nbar-x = 150", "no command 'mesure'"),
        ("bar-x = 149,5", "photomeasure.toml"),
        ("bar-x 149", "photomeasure.toml"),
    ],
)
def test_a_wrong_line_is_told(folder: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        defaults(folder, text)


def test_settings_shows_what_is_in_force_and_from_where(folder: Path) -> None:
    (folder / "own.toml").write_text("bar-x = 151\n[plan]\n", encoding="utf-8")
    (folder / "photomeasure.toml").write_text("bar-x = 149\ncoupled = true\n", encoding="utf-8")
    code, out, _ = run("settings")
    assert code == 0
    assert "--bar-x 149, from photomeasure.toml" in out and "151" not in out
    assert "--coupled yes, from photomeasure.toml" in out


def test_what_a_file_says_in_place_of_the_person_is_told(folder: Path) -> None:
    (folder / "photomeasure.toml").write_text("bar-x = 149.5\nuncoupled = true\nask = false\n", encoding="utf-8")
    with pytest.raises(InputError, match="no-such"):
        run("measure", "no-such.jpg")
    result = CliRunner().invoke(app, ["measure", "no-such.jpg", "--uncoupled"])
    assert "From photomeasure.toml: --bar-x 149.5, --no-ask." in result.stderr


@pytest.mark.parametrize("line", ['bar-x = "nan"', 'language = "xx"'])
def test_what_is_wrong_in_it_is_told_as_its(line: str, tmp_path: Path) -> None:
    """Nobody typed that option."""
    (tmp_path / "photomeasure.toml").write_text(line, encoding="utf-8")
    done = run_in([sys.executable, "-m", "photomeasure", "measure", "no-such.jpg"], tmp_path, os.environ)
    option = line.replace(" = ", " ").replace('"', "")
    assert done.returncode == 2 and done.stderr.startswith(f"From photomeasure.toml: --{option}.\n")
