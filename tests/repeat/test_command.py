"""`photomeasure verify` from the outside: the same, differs, missing, changed, another version, no record."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from calib.profile.profile import Lens
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.cli import app
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import Record
from photomeasure.rules.decision import parse_decision
from photomeasure.rules.load import load_rule
from tests.calib.profile.test_profile import profile
from tests.running import runs
from tests.sample_requests import SAMPLES, sample_request

run = runs("verify")


@pytest.fixture(scope="module")
def within() -> Record:
    return recorded(sample_request(), tape=TapeSaid(reading_mm=402.0))[1]


def written(record: Record, path: Path, **changes: Any) -> Path:
    """The record's file, with top-level keys changed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    content = json.loads(record.to_json()) | changes
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def test_the_same(within: Record, tmp_path: Path) -> None:
    code, output = run(written(within, tmp_path / "r.json"), "--json", tmp_path / "v.json")
    assert code == 0 and "THE SAME" in output and "all identical" in output
    (entry,) = json.loads((tmp_path / "v.json").read_text())["records"]
    assert entry["outcome"] == "same" and entry["identical"] and entry["figures"] > 50 and not entry["differing"]


def test_a_figure_that_was_changed_is_named(within: Record, tmp_path: Path) -> None:
    assert within.height_mm is not None
    code, output = run(written(within, tmp_path / "r.json", height_mm=within.height_mm + 0.3))
    assert code == 3 and "DIFFERS" in output and "height_mm" in output and "0.3 less" in output


def test_a_verdict_that_was_changed_is_named(within: Record, tmp_path: Path) -> None:
    code, output = run(written(within, tmp_path / "r.json", verdict="above"))
    assert code == 3 and "verdict: recorded 'above', now 'within'" in output


def test_what_was_asked_and_changed_afterwards_shows(within: Record, tmp_path: Path) -> None:
    """Bars of 149 in place of 150 mm: by 402 / 150 mm lower, to first order."""
    assert within.asked is not None
    asked = within.asked.model_dump(mode="json") | {"bar_x_mm": 149.0, "bar_y_mm": 149.0}
    code, _ = run(written(within, tmp_path / "r.json", asked=asked), "--json", tmp_path / "v.json")
    entry = json.loads((tmp_path / "v.json").read_text())["records"][0]
    change = next(d["change"] for d in entry["differing"] if d["key"] == "height_mm")
    assert code == 3 and change == pytest.approx(-402.0 / 150.0, abs=0.3)


def test_missing_and_changed_photographs(within: Record, tmp_path: Path) -> None:
    record = written(
        within, tmp_path / "r.json", photos=[p.model_dump() | {"file": "away/w.jpg"} for p in within.photos]
    )
    code, output = run(record)
    assert code == 3 and "missing" in output and "away/w.jpg" in output
    other = tmp_path / "w.jpg"
    other.write_bytes((SAMPLES / "within.jpg").read_bytes() + b"\0")
    code, output = run(record)
    assert code == 3 and "changed" in output and "SHA-256" in output
    shutil.copyfile(SAMPLES / "within.jpg", tmp_path / "w.jpg")
    assert run(record)[0] == 0


def test_photographs_in_a_folder_under_another_name(within: Record, tmp_path: Path) -> None:
    record = written(
        within, tmp_path / "r.json", photos=[p.model_dump() | {"file": "away/w.jpg"} for p in within.photos]
    )
    (tmp_path / "moved").mkdir()
    shutil.copyfile(SAMPLES / "within.jpg", tmp_path / "moved" / "renamed.jpg")
    assert run(record, "--photos", tmp_path / "moved")[0] == 0


def test_several_folders_of_photographs(within: Record, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each that is named is looked into, not the last alone; the folder of work holds no photograph."""
    (tmp_path / "full").mkdir()
    (tmp_path / "empty").mkdir()
    shutil.copy(SAMPLES / "within.jpg", tmp_path / "full" / "renamed.jpg")
    (tmp_path / "records").mkdir()
    monkeypatch.chdir(tmp_path / "records")
    record = written(within, tmp_path / "records" / "r.json")
    assert run(record)[0] == 3
    for folders in (("full", "empty"), ("empty", "full")):
        named = [word for folder in folders for word in ("--photos", tmp_path / folder)]
        assert run(record, *named)[0] == 0, folders
    with pytest.raises(InputError, match="nowhere is no folder"):
        run(record, "--photos", tmp_path / "full", "--photos", tmp_path / "nowhere")


def test_rule_file_and_camera_may_be_gone(tmp_path: Path) -> None:
    """Both are in the record in full; the decision rule and the Monte Carlo's seed as well."""
    rule = tmp_path / "own.toml"
    rule.write_text(
        'schema = "photomeasure/rule/1"\nname = "own"\ntitle = "Ferncombe yard (invented)"\njurisdiction = "invented"\n'
        'couplings = ["ball-50"]\nsource = "invented"\nedition = "1"\nconfidence = "common-practice"\n'
        "[[bands]]\nlow_mm = 300.0\nhigh_mm = 401.0\n"
    )
    request = sample_request(
        rule=load_rule(rule), profile=profile(camera=Lens()), decision=parse_decision("max-false-acceptance=0.01")
    )
    record = recorded(request, seed=5)[1]
    rule.unlink()
    assert record.camera is not None and record.camera.kind == "profile" and record.monte_carlo is not None
    code, output = run(written(record, tmp_path / "r.json"))
    assert code == 0 and "all identical" in output


def test_a_remembered_camera_may_be_gone(tmp_path: Path) -> None:
    folder = tmp_path / "cameras"
    lens = Lens(make="Ferncombe", model="Yardphone 3", focal_35mm=26.0)
    profile(camera=lens).save(folder / "yardphone.json")
    record = recorded(sample_request(profile_folder=folder))[1]
    assert record.camera is not None and "yardphone.json" in record.camera.source
    (folder / "yardphone.json").unlink()
    code, output = run(written(record, tmp_path / "r.json"))
    assert code == 0 and "all identical" in output


def test_several_photographs(tmp_path: Path) -> None:
    code, output = run(written(recorded(sample_request("set"))[1], tmp_path / "r.json"))
    assert code == 0 and "3 photographs" in output


def test_a_refusal_is_verified_too(tmp_path: Path) -> None:
    refused = recorded(sample_request("refuse", centres_px=()))[1]
    assert refused.refusal is not None
    assert run(written(refused, tmp_path / "r.json"))[0] == 0


def test_a_refusal_of_a_file_cut_short_holds_its_digest(tmp_path: Path) -> None:
    cut = tmp_path / "cut.jpg"
    cut.write_bytes((SAMPLES / "within.jpg").read_bytes()[:200_000])
    record = recorded(sample_request(photos=(cut,)))[1]
    assert record.refusal is not None and record.refusal.code == "truncated"
    path = written(record, tmp_path / "r.json")
    assert run(path)[0] == 0
    cut.write_bytes(cut.read_bytes() + b"\0")
    assert run(path)[0] == 3


def test_another_version_is_said(within: Record, tmp_path: Path) -> None:
    code, output = run(written(within, tmp_path / "r.json", version="0.0.7", software={"numpy": "1.0"}))
    assert code == 0 and "version 0.0.7" in output and "numpy 1.0" in output
    code, output = run(written(within, tmp_path / "other.json", schema="photomeasure/record/99"))
    assert code == 3 and "CANNOT BE REPEATED" in output and "another version" in output


def test_a_record_without_what_was_asked_cannot_be_repeated(within: Record, tmp_path: Path) -> None:
    code, output = run(written(within, tmp_path / "r.json", asked=None))
    assert code == 3 and "CANNOT BE REPEATED" in output


@pytest.mark.parametrize("content", ['{"schema": "photomeasure/bay/1"}', "[1]", "no JSON", ""])
def test_a_file_alone_that_is_no_record_is_named(content: str, tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.write_text(content, encoding="utf-8")
    code, output = run(path, "--json", tmp_path / "out.json")
    assert code == 3 and f"{path}: NO RECORD" in output.replace("\n", "") and "Expected:" in output
    assert len(json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))["no_records"]) == 1


def test_a_record_with_a_broken_field_names_it(within: Record, tmp_path: Path) -> None:
    code, output = run(written(within, tmp_path / "r.json", height_mm="tall"))
    assert code == 3 and "height_mm" in output
    with pytest.raises(InputError, match="no folder"):
        run(written(within, tmp_path / "r.json"), "--photos", tmp_path / "nowhere")


def test_several_records_are_summed_up(within: Record, tmp_path: Path) -> None:
    one, two = written(within, tmp_path / "1.json"), written(within, tmp_path / "2.json", p_above=0.5)
    code, output = run(one, two)
    assert code == 3 and "Records that are the same: 1 of 2." in output


def test_a_file_that_is_no_record_does_not_stop_the_others(within: Record, tmp_path: Path) -> None:
    other, one = tmp_path / "0.json", written(within, tmp_path / "1.json")
    other.write_text("no JSON", encoding="utf-8")
    code, output = run(other, one, "--json", tmp_path / "out.json")
    assert code == 3
    assert f"{other}: NO RECORD" in output.replace("\n", "") and "Expected:" in output
    assert "Records that are the same: 1 of 1. 1 of the files is no record." in output
    document = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert [entry["outcome"] for entry in document["records"]] == ["same"]
    assert [entry["file"] for entry in document["no_records"]] == [str(other)]


def test_a_photograph_that_differs_is_counted_from_one(within: Record, tmp_path: Path) -> None:
    photos = [photo.model_dump(mode="json") | {"camera": "Ferncombe Yardphone 9"} for photo in within.photos]
    code, output = run(written(within, tmp_path / "r.json", photos=photos))
    assert code == 3 and "1 differs:" in output and "photograph 1, camera: recorded 'Ferncombe" in output


def test_several_files_of_which_none_is_a_record_and_none_that_is_there(tmp_path: Path) -> None:
    paths = [tmp_path / "1.json", tmp_path / "2.json"]
    for path in paths:
        path.write_text("[1]", encoding="utf-8")
    code, output = run(*paths, tmp_path / "3.json")
    assert code == 3 and "No record. 3 of the files are no records." in output
    assert "3.json: No such file or directory." in output and "Errno" not in output
    with pytest.raises(InputError, match=r"There is no file .*3\.json"):
        run(tmp_path / "3.json")


def test_a_file_where_a_folder_should_be_is_told_first(within: Record, tmp_path: Path) -> None:
    one = written(within, tmp_path / "1.json")
    result = CliRunner().invoke(app, ["verify", str(one), "--json", str(one / "out.json")])
    assert isinstance(result.exception, InputError) and "is a file, not a folder" in result.exception.what
    assert not result.output


def test_nothing_in_it_hangs_on_the_number_of_threads(within: Record) -> None:
    """The same numbers, to the last bit, from one thread of OpenCV."""
    import cv2

    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        again = recorded(sample_request())[1]
    finally:
        cv2.setNumThreads(before)
    assert again.height_mm == within.height_mm and again.interval_mm == within.interval_mm
