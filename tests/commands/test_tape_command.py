"""A tape added to a record later, without its photographs; and records of the schema's first edition."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from photomeasure.asked.tape_said import TapeSaid
from photomeasure.cli import app
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import Record, read_record
from photomeasure.record.with_tape import with_tape, without_tape
from photomeasure.repeat.compare import compare
from photomeasure.shown.picture.labelled import belongs, label_of
from photomeasure.shown.picture.pictures import pictures
from photomeasure.shown.report.measurement import measurement_pdf
from tests.sample_requests import sample_request
from tests.shown.report.samples import pages_text


@pytest.fixture(scope="module")
def measured() -> Record:
    return recorded(sample_request())[1]


@pytest.fixture
def record_file(measured: Record, tmp_path: Path) -> Path:
    path = tmp_path / "rig.json"
    path.write_text(measured.to_json(), encoding="utf-8")
    return path


def tape(*arguments: object) -> tuple[int, str]:
    found = CliRunner().invoke(app, ["tape", *map(str, arguments)])
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception
    return found.exit_code, found.output


def kept(path: Path) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(path.read_text())
    return read


def test_a_reading_is_judged_compared_and_kept_without_the_photographs(record_file: Path, measured: Record) -> None:
    code, output = tape(record_file, "--reads", 402)
    read, height = kept(record_file), measured.height_mm
    assert code == 0 and "agree" in output
    assert read["tape"]["reading_mm"] == 402.0 and read["tape"]["from"] == "middle"
    assert read["tape"]["verdict"] == "within" and read["tape"]["agrees"] is True and height is not None
    together = read["tape"]["together"]
    assert min(402.0, height) < together["height_mm"] < max(402.0, height)
    assert 1 / together["u_mm"] ** 2 == pytest.approx(1 / (measured.u_mm or 0) ** 2 + 1 / read["tape"]["u_mm"] ** 2)


def test_a_reading_to_the_top_of_the_ball_is_brought_down_to_its_middle(record_file: Path) -> None:
    tape(record_file, "--reads", 427, "--tape-to", "top", "--tape-flat", 16)
    said = kept(record_file)["tape"]
    cut = 25.0 - math.sqrt(25.0**2 - 8.0**2)
    assert said["reading_mm"] == 427.0 and said["height_mm"] == pytest.approx(427.0 - 25.0 + 0.125 + cut)


def test_a_reading_that_contradicts_withdraws_the_advice_and_another_brings_it_back(
    record_file: Path, measured: Record
) -> None:
    code, output = tape(record_file, "--reads", 480)
    read = kept(record_file)
    assert code == 0 and "PHOTOGRAPH AND TAPE DISAGREE" in output.splitlines()[0]
    assert read["verdict"] == "within" and read["tape"]["verdict"] == "above" and read["tape"]["agrees"] is False
    assert read["indicative"] and read["adjustment"] is None and "read the tape again" in read["advice"][0]
    assert not any("Lower" in line or "Raise" in line or "room for" in line for line in read["advice"])
    tape(record_file, "--reads", 402)
    again = without_tape(read_record(record_file))  # the digests of itself are those of the file with its tape
    assert again.model_copy(update={"digests": None}) == measured


@pytest.mark.parametrize(
    ("reading", "said"), [(427.0, "top of the ball"), (402.0 / 1.03, "printed smaller")], ids=["top", "print"]
)
def test_a_usual_mistake_of_just_this_size_is_named(measured: Record, reading: float, said: str) -> None:
    record = with_tape(measured, TapeSaid(reading_mm=reading))
    assert any(said in line for line in record.advice)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--reads", "4"), "--reads"),
        (("--reads", "402", "--tape-to", "bumper"), "--tape-to"),
        (("--reads", "402", "--tape-flat", "16"), "--tape-flat"),
        (("--reads", "402", "--tape-class", "IV"), "--tape-class"),
    ],
)
def test_wrong_readings_change_nothing(record_file: Path, arguments: tuple[str, ...], said: str) -> None:
    before = record_file.read_bytes()
    found = CliRunner().invoke(app, ["tape", str(record_file), *arguments])
    assert said in f"{found.exception}{found.output}" and found.exit_code != 0 and record_file.read_bytes() == before


def test_the_top_of_a_ball_that_is_covered_cannot_have_been_taped(measured: Record) -> None:
    coupled = measured.model_copy(update={"state": measured.state.model_copy(update={"coupled": True})})
    with pytest.raises(Exception, match="covered"):
        with_tape(coupled, TapeSaid(reading_mm=427.0, to="top"))


def first_edition(record: Record) -> str:
    """As the schema's first edition wrote it."""
    written = json.loads(record.to_json())
    written["made"] = written.pop("computed")
    del written["photographed"], written["said"]
    for photo in written["photos"]:
        del photo["taken"]
    part = written["tape"]
    if part is not None:
        part["en"] = part.pop("En")
        for name in ("from", "flat_mm", "height_mm", "verdict", "p_inside", "together", "withdrawn"):
            del part[name]
    return json.dumps(written)


def test_a_record_of_the_first_edition_can_be_read_taped_and_repeated(measured: Record, tmp_path: Path) -> None:
    taped = with_tape(measured, TapeSaid(reading_mm=402.0))
    path = tmp_path / "earlier.json"
    path.write_text(first_edition(taped), encoding="utf-8")
    earlier = read_record(path)
    assert earlier.computed == measured.computed and earlier.tape is not None and taped.tape is not None
    assert (earlier.tape.En, earlier.tape.centre_mm, earlier.tape.from_) == (taped.tape.En, 402.0, "middle")
    assert not compare(earlier, taped).differing
    changed = taped.model_copy(update={"photographed": "2026-01-01T00:00:00"})
    assert [one.key for one in compare(taped, changed).differing] == ["photographed"]
    assert tape(path, "--reads", 430)[0] == 0 and kept(path)["tape"]["agrees"] is False


def test_pictures_and_report_beside_the_record_say_the_same(tmp_path: Path) -> None:
    """Nothing green stays beside a record that a tape contradicts; the drawing between the strips is as it was."""
    outcome, record = recorded(sample_request())
    (tmp_path / "within.json").write_text(record.to_json(), encoding="utf-8")
    drawn = pictures(record, outcome)
    for name, data in drawn:
        (tmp_path / name).write_bytes(data)
    (tmp_path / "within-report.pdf").write_bytes(measurement_pdf(record, drawn))
    _, output = tape(tmp_path / "within.json", "--reads", 480)
    assert "within-height.jpg" in output and "within-report.pdf" in output
    after = read_record(tmp_path / "within.json")
    assert "Photograph and tape disagree" in pages_text((tmp_path / "within-report.pdf").read_bytes())[0]
    new = (tmp_path / "within-height.jpg").read_bytes()
    old_drawing, new_drawing = (
        np.asarray(Image.open(io.BytesIO(data)).crop(label_of(data).box).convert("RGB"), dtype=np.float64)  # type: ignore[union-attr]
        for data in (drawn[0][1], new)
    )
    assert old_drawing.shape == new_drawing.shape and abs(old_drawing - new_drawing).mean() < 2.0
    label = label_of(new)
    assert label is not None and belongs(label, after, after.photos[0])
    strip = np.asarray(Image.open(io.BytesIO(new)).convert("RGB"))[:80]
    assert strip.shape[1] == old_drawing.shape[1] and not ((strip[..., 1] > 100) & (strip[..., 0] < 60)).any()
