"""What the commands write, and when: before anything is shown, and again once a tape was read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calib.outcome.errors import InputError
from photomeasure.asked.stated import Stated
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.commands import measure as command
from photomeasure.commands import plan as plan_command
from photomeasure.record.schema import read_record
from photomeasure.shown import terminal
from tests.rig.scenario import SAMPLES
from tests.sample_requests import SAMPLES as PICTURES
from tests.shown.report.samples import pages_text


def options(photo: Path, out: Path, tape_mm: float | None = None) -> command.Options:
    said = Stated(coupling="ball-50", pick_u_px=0.5, ball_diameter_mm=50.0, tape_mm=tape_mm)
    return command.Options(photos=(photo,), said=said, out=out)


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A photograph without a kit: the quickest way through the whole command."""
    path = tmp_path / "yard truck 2.jpg"
    shades = np.linspace(60, 200, 640, dtype=np.uint8)
    Image.fromarray(np.tile(shades, (480, 1))).convert("RGB").save(path, quality=90)
    return path


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


WRITTEN = ["yard truck 2-height.jpg", "yard truck 2-report.pdf", "yard truck 2.json"]


def test_files_are_there_before_anything_is_shown(photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(*_: object, details: bool) -> None:
        assert names(tmp_path / "out") == WRITTEN
        raise BrokenPipeError

    monkeypatch.setattr(terminal, "show", closed)
    with pytest.raises(BrokenPipeError):
        command.run(options(photo, tmp_path / "out"))
    assert names(tmp_path / "out") == WRITTEN


def test_a_result_is_shown_also_where_it_cannot_be_written(
    photo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").write_text("a file, no folder", encoding="utf-8")
    with pytest.raises(InputError):
        command.run(options(photo, tmp_path / "out"))
    assert "CANNOT MEASURE" in capsys.readouterr().out


def test_a_reading_that_is_typed_afterwards_is_in_record_and_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    report, record = (tmp_path / "out" / f"coupled{end}" for end in ("-report.pdf", ".json"))

    def asked(_: object) -> TapeSaid:
        assert "Tape reads, mm" in pages_text(report.read_bytes())[0]
        return TapeSaid(reading_mm=412.0)

    monkeypatch.setattr(command, "_asked", asked)
    assert command.run(options(PICTURES / "coupled.jpg", tmp_path / "out")) == 0
    tape = read_record(record).tape
    assert tape is not None and tape.reading_mm == 412.0
    assert "412 mm" in pages_text(report.read_bytes())[0]


def test_nobody_is_asked_after_a_refusal_or_who_said_not_to(
    photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def asked() -> float:
        raise AssertionError("asked")

    monkeypatch.setattr(command, "_asked", asked)
    assert command.run(options(photo, tmp_path / "out")) == 3
    silent = replace(options(PICTURES / "coupled.jpg", tmp_path / "other"), ask=False)
    assert command.run(silent) == 0


def test_nobody_is_asked_who_has_given_the_reading_or_is_no_terminal(
    photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def ask() -> float:
        raise AssertionError("asked")

    monkeypatch.setattr(terminal, "ask_tape", ask)
    command.run(options(photo, tmp_path / "out"))
    command.run(options(photo, tmp_path / "out", tape_mm=433.0))
    assert "433" in capsys.readouterr().out
    assert "433 mm" in pages_text((tmp_path / "out" / WRITTEN[1]).read_bytes())[0]


def test_a_plan_is_written_before_it_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(*_: object) -> None:
        assert names(tmp_path / "out") == ["plan.json", "plan.pdf", "plan.svg"]
        raise BrokenPipeError

    monkeypatch.setattr("photomeasure.rig.text.print_plan", closed)
    with pytest.raises(BrokenPipeError):
        plan_command.plan(SAMPLES / "ferncombe-yard-truck-2.toml", None, tmp_path / "out")
    assert (tmp_path / "out" / "plan.pdf").read_bytes().startswith(b"%PDF-")
