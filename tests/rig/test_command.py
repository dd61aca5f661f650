"""The command: what it prints and writes, and that it costs nothing until it is called."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.commands.plan import plan
from tests.rig.scenario import SAMPLES

WORKED = sorted(path.name for path in SAMPLES.glob("ferncombe-*.toml"))


@pytest.mark.parametrize("name", WORKED)
def test_text_json_and_drawing_tell_the_same(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = plan(SAMPLES / name, tmp_path / "deep" / "plan.json", tmp_path / "out")
    said = " ".join(capsys.readouterr().out.split())
    assert code == 0
    document = json.loads((tmp_path / "deep" / "plan.json").read_text(encoding="utf-8"))
    assert document == json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert document["schema"] == "photomeasure/plan/1"
    assert document["recommendation"] in said
    assert document["fault"]["sentence"] in said
    for option in document["options"]:
        assert f"{option['height_mm']['mean']:.0f} \N{PLUS-MINUS SIGN}" in said
    for caution in document["cautions"]:
        assert caution in said
    assert (tmp_path / "out" / "plan.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_nothing_is_written_for_a_wrong_setup(tmp_path: Path) -> None:
    setup = tmp_path / "setup.toml"
    setup.write_text('schema = "photomeasure/rig-setup/1"\ntitle = "x"\n', encoding="utf-8")
    with pytest.raises(InputError):
        plan(setup, tmp_path / "plan.json", tmp_path / "out")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["setup.toml"]


def test_a_file_where_the_folder_should_be_is_told_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(InputError, match="is a file, not a folder"):
        plan(SAMPLES / WORKED[0], None, tmp_path / "out")
    assert not capsys.readouterr().out


def test_a_rule_file_beside_the_setup_is_found(tmp_path: Path) -> None:
    text = (SAMPLES / "ferncombe-yard-truck-2.toml").read_text(encoding="utf-8")
    (tmp_path / "setup.toml").write_text(text.replace('"au-ball-50"', '"own.toml"'), encoding="utf-8")
    rule = Path(sys.modules["photomeasure.rules"].__file__ or "").parent / "au-ball-50.toml"
    own = rule.read_text(encoding="utf-8").replace("high_mm = 460", "high_mm = 440").replace('"au-ball-50"', '"own"')
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    plan(tmp_path / "setup.toml", tmp_path / "plan.json", None)
    assert json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["rule"]["band_mm"] == [350, 440]


def test_importing_the_command_pulls_in_nothing_heavy() -> None:
    code = "import sys, photomeasure.commands.plan; print(','.join(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert not {"numpy", "scipy", "cv2", "pydantic", "rich"} & set(loaded.strip().split(","))
