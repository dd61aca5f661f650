"""`photomeasure target`: what it writes, what it says, what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.commands.target import target


def test_writes_both_files_and_says_what_to_do_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "ferncombe" / "kit"
    assert target(out, "letter") == 0
    assert sorted(path.name for path in out.iterdir()) == ["target.json", "target.pdf"]
    assert json.loads((out / "target.json").read_text())["paper"] == "letter"
    said = capsys.readouterr().out
    for words in (
        str(out / "target.pdf"),
        "100 %",
        "180 mm",
        "--bar-x",
        "--bar-y",
        "US letter",
        "chocked",
        "tape",
    ):
        assert words in said


def test_paper_may_be_written_in_capitals(tmp_path: Path) -> None:
    assert target(tmp_path, "A4") == 0


def test_other_paper_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        target(tmp_path, "a5")
    assert "a5" in caught.value.what
    assert "a4, a3, letter" in caught.value.expected
    assert not list(tmp_path.iterdir())


def test_folder_that_cannot_be_made_is_an_input_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError):
        target(tmp_path / "file" / "kit", "a4")
