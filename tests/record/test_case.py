"""What is said of a case is kept as it was typed, and nothing is kept that was not: no folders, no user names, no GPS."""

from __future__ import annotations

import csv
import getpass
import io
import json
import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ExifTags, Image

from calib.outcome.errors import InputError
from photomeasure.asked.case import LONGEST, Particulars, case_text
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.record.schema import read_record
from tests.cli.test_look import run
from tests.sample_requests import SAMPLES

BARS = ("--bar-x", "150", "--bar-y", "150")
LATITUDE = (52.0, 12.0, 34.56)


@given(st.text(max_size=2 * LONGEST))
def test_any_text_is_kept_as_one_line_or_refused(typed: str) -> None:
    try:
        kept = case_text(typed, "--rig")
    except InputError:
        return
    assert kept is None or (kept == typed.strip() and kept.isprintable() and 0 < len(kept) <= LONGEST)


def test_a_line_break_or_an_escape_is_told() -> None:
    for text in ("a\nb", "\x1b[2J", "a\x00b"):
        with pytest.raises(InputError, match="--note"):
            case_text(text, "--note")


def test_a_case_typed_on_the_command_line_is_in_the_record_and_verify_repeats_it(tmp_path: Path) -> None:
    case = ("--rig", "FC 22 ABC", "--case", "26-117", "--by", "M. Hale", "--place", "Ferncombe", "--note", "wet ground")
    code, _, _ = run("measure", SAMPLES / "coupled.jpg", *BARS, *case, "--json", tmp_path / "rig.json")
    assert code == 0
    record = read_record(tmp_path / "rig.json")
    assert record.rig == "FC 22 ABC" and record.asked is not None
    kept = record.asked.case
    assert (kept.rig, kept.case, kept.by, kept.place, kept.note) == case[1::2]
    assert run("verify", tmp_path / "rig.json", "--photos", SAMPLES)[0] == 0


def test_nothing_of_the_machine_and_no_gps_in_anything_that_is_written(tmp_path: Path) -> None:
    """A photograph with a place in it, in a folder that names a person: neither is found in any file that is made."""
    private = tmp_path / "home of mary-jane"
    private.mkdir()
    photo = private / "IMG 1.jpg"
    image = Image.open(SAMPLES / "coupled.jpg")
    exif = image.getexif()
    exif[ExifTags.Base.Artist] = "mary-jane"
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: LATITUDE, 3: "W", 4: (0.0, 45.0, 6.78)})
    image.save(photo, exif=exif, quality=95)
    assert Image.open(photo).getexif().get_ifd(ExifTags.IFD.GPSInfo)[2] == LATITUDE
    assert run("measure", photo, *BARS, "--out", tmp_path / "out")[0] == 0
    written = sorted((tmp_path / "out").iterdir())
    assert {path.suffix for path in written} == {".jpg", ".json", ".pdf"}
    for path in written:
        data = path.read_bytes()
        for private_word in (b"mary-jane", str(tmp_path).encode(), b"GPS"):
            assert private_word not in data, (path.name, private_word)
        if path.suffix == ".jpg":
            assert not Image.open(path).getexif().get_ifd(ExifTags.IFD.GPSInfo)
    text = (tmp_path / "out" / "IMG 1.json").read_text(encoding="utf-8")
    assert json.loads(text)["photos"][0]["file"] == "IMG 1.jpg"
    assert getpass.getuser() not in {word for value in _texts(json.loads(text)) for word in value.split("/")}


def _texts(value: object) -> list[str]:
    if isinstance(value, dict):
        return [text for inner in value.values() for text in _texts(inner)]
    if isinstance(value, list):
        return [text for inner in value for text in _texts(inner)]
    return [value] if isinstance(value, str) else []


def test_further_columns_of_a_list_reach_record_and_table(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "coupled.jpg", tmp_path / "a.jpg")
    rows = "rig,photo,bar_x_mm,bar_y_mm,case,place,Registration,owner\nTruck 2,a.jpg,150,150,26-117,Ferncombe,FC 22 ABC,Smith\n"
    (tmp_path / "rigs.csv").write_text(rows, encoding="utf-8")
    code, out, _ = run("batch", tmp_path / "rigs.csv", "--out", tmp_path / "out", "--jobs", "1", "--by", "M. Hale")
    assert code == 0 and "Carried through to record and table, used for no figure: Registration, owner." in out
    record = read_record(tmp_path / "out" / "Truck 2.json")
    assert record.asked is not None and record.rig == "Truck 2"
    assert record.asked.case.more == {"Registration": "FC 22 ABC", "owner": "Smith"}
    assert (record.asked.case.case, record.asked.case.by) == ("26-117", "M. Hale")
    (row,) = csv.DictReader(io.StringIO((tmp_path / "out" / "table.csv").read_text(encoding="utf-8")))
    expected = {"Registration": "FC 22 ABC", "owner": "Smith", "case": "26-117", "by": "M. Hale", "rule": "au-ball-50",
                "band_low_mm": "350", "band_high_mm": "460", "centre": "tag"}  # fmt: skip
    assert row | expected == row
    assert float(row["interval_low_mm"]) < float(row["height_mm"]) < float(row["interval_high_mm"])


@pytest.mark.parametrize(
    "column", ["bar_x", "bar-x-mm", "tape", "Centre X", "ball", "laden?", "level", "height_mm", "verdict", "camra"]
)
def test_a_column_that_could_be_meant_for_a_known_one_is_not_carried_past_it(tmp_path: Path, column: str) -> None:
    (tmp_path / "rigs.csv").write_text(f"rig,photo,{column}\nA,a.jpg,1\n", encoding="utf-8")
    with pytest.raises(InputError, match="column"):
        read_rig_list(tmp_path / "rigs.csv")


@pytest.mark.parametrize("column", ["registration", "Owner's name", "VIN", "mileage km", "Kennzeichen"])
def test_a_column_of_the_lists_own_is_carried_through(tmp_path: Path, column: str) -> None:
    (tmp_path / "rigs.csv").write_text(f"rig,photo,{column}\nA,a.jpg,x 1\n", encoding="utf-8")
    (rig,) = read_rig_list(tmp_path / "rigs.csv").rigs
    assert rig.said.more == ((column, "x 1"),)


def test_an_empty_case_says_nothing() -> None:
    assert not Particulars().said and Particulars(note="x").said
