"""What was there before is not lost: outputs that are inputs, other people's files, links, pipes and devices are refused."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from calib.outcome.files import check_output, kind_of, mark, write_atomic, write_output
from photomeasure.cli import app

SAMPLES = Path(__file__).parents[3] / "sample_images"
RECORD = '{\n "schema": "photomeasure/record/1", "made": ""}'


def told(*arguments: object) -> str:
    """The InputError of a command."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert isinstance(result.exception, InputError), result.output
    return str(result.exception)


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    return Path(shutil.copy(SAMPLES / "within.jpg", tmp_path / "p1.jpg"))


def test_measure_does_not_write_over_its_photograph(photo: Path) -> None:
    before = photo.read_bytes()
    assert "read as an input" in told("measure", photo, "--json", photo)
    hard = photo.with_name("other.jpg")
    os.link(photo, hard)
    assert "read as an input" in told("measure", photo, "--json", hard)
    assert photo.read_bytes() == before


def test_a_photograph_that_a_wildcard_made_the_output_is_kept(photo: Path) -> None:
    other = Path(shutil.copy(photo, photo.with_name("p2.jpg")))  # measure --json *.jpg: the first is no input
    assert "is no record of this program" in told("measure", "--json", photo, other)
    assert photo.read_bytes() == other.read_bytes()


def test_measure_out_keeps_what_is_not_its_own(photo: Path) -> None:
    mine = photo.with_name("p1-height.jpg")
    mine.write_bytes(b"\xff\xd8 somebody's picture")
    assert "is no picture of this program" in told("measure", photo, "--out", photo.parent)
    assert sorted(path.name for path in photo.parent.iterdir()) == ["p1-height.jpg", "p1.jpg"]  # nothing half-done
    assert mine.read_bytes() == b"\xff\xd8 somebody's picture"


def test_measure_again_into_the_same_folder(photo: Path) -> None:
    for _ in range(2):
        result = CliRunner().invoke(app, ["measure", str(photo), "--out", str(photo.parent / "out")])
        assert result.exit_code == 0, result.output
    kinds = {path.name: kind_of(path.read_bytes()) for path in (photo.parent / "out").iterdir()}
    assert kinds == {"p1.json": "record", "p1-height.jpg": "picture", "p1-report.pdf": "report"}


def test_verify_does_not_write_over_a_record(tmp_path: Path) -> None:
    records = [tmp_path / name for name in ("a.json", "b.json")]
    for record in records:
        record.write_text(RECORD)
    assert "read as an input" in told("verify", records[0], "--json", records[0])
    assert "is no verify of this program" in told("verify", "--json", *records)
    assert all(record.read_text() == RECORD for record in records)


def test_plan_does_not_write_over_its_setup(tmp_path: Path) -> None:
    setup = tmp_path / "s.toml"
    setup.write_text("[vehicle]\n")
    assert "read as an input" in told("plan", setup, "--json", setup)
    assert setup.read_text() == "[vehicle]\n"


def test_audit_does_not_write_over_a_record(tmp_path: Path) -> None:
    record = tmp_path / "a.json"
    record.write_text(RECORD)
    assert "is no audit" in told("audit", tmp_path, "--json", record)
    assert record.read_text() == RECORD


def test_calibrate_and_bay_do_not_write_over_photographs(photo: Path) -> None:
    before = photo.read_bytes()
    for option in ("--residuals", "--yaml"):
        assert "read as an input" in told("calibrate", photo, "--out", photo.with_name("c.json"), option, photo)
    assert "read as an input" in told("calibrate", photo, "--out", photo)
    survey = photo.with_name("survey.toml")
    survey.write_text('dictionary = "DICT_4X4_50"\n')
    assert "read as an input" in told("bay", photo, "--survey", survey, "--out", survey)
    assert "read as an input" in told("bay", photo, "--survey", survey, "--out", photo)
    assert photo.read_bytes() == before


def test_batch_does_not_write_over_its_list_nor_anybodys_files(photo: Path) -> None:
    listed = photo.with_name("table.csv")
    listed.write_text("rig,photo\na,p1.jpg\n")
    assert "read as an input" in told("batch", listed, "--out", photo.parent)
    other = photo.with_name("list.csv")
    listed.rename(other)
    notes = photo.with_name("a.json")
    notes.write_text('{"mine": true}')
    assert "is no record of this program" in told("batch", other, "--out", photo.parent)
    assert notes.read_text() == '{"mine": true}'
    assert not listed.exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_links_pipes_devices_and_folders_stay_what_they_are(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    (tmp_path / "link").symlink_to("file")
    (tmp_path / "dangling").symlink_to("nowhere")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for name, what in (("link", "a link"), ("dangling", "a link"), ("pipe", "no regular file"), ("folder", "a folder")):
        for write in (write_output, write_atomic):
            with pytest.raises(InputError, match=what):
                write(tmp_path / name, RECORD)
    for device in ("/dev/stdout", "/dev/null"):
        with pytest.raises(InputError, match=r"a link|a device"):
            write_output(Path(device), RECORD)
    assert (tmp_path / "link").is_symlink() and (tmp_path / "pipe").is_fifo()
    assert (tmp_path / "file").read_text() == ""


def test_an_empty_file_and_one_of_the_same_kind_may_be_written_over(tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.touch()
    write_output(path, RECORD)
    write_output(path, RECORD + "\n")
    assert path.read_text() == RECORD + "\n"
    with pytest.raises(InputError, match="is no plan"):
        write_output(path, '{"schema": "photomeasure/plan/1"}')


def test_a_mark_inside_is_not_a_mark(tmp_path: Path) -> None:
    """A file of somebody's that quotes one of ours (a note with a record in it) is not ours."""
    assert kind_of(b'{"mine": {"schema": "photomeasure/record/1"}}') is None
    assert kind_of(f"<!-- {mark('drawing')} -->".encode()) == "drawing"
    path = tmp_path / "n.json"
    path.write_text('{"mine": {"schema": "photomeasure/record/1"}}')
    with pytest.raises(InputError):
        check_output(path, "record")


def test_a_name_as_long_as_a_name_can_be(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 255)
    write_atomic(path, "x")
    assert path.read_text() == "x" and list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(("name", "kind"), [("case.csv", "report"), ("case.PDF", "table"), ("case.xlsx", "table")])
def test_a_name_that_ends_like_another_kind_is_told(name: str, kind: str, tmp_path: Path) -> None:
    """A report written to --out case.csv was a PDF that no spreadsheet opens."""
    with pytest.raises(InputError, match="ends like a"):
        check_output(tmp_path / name, kind)
    check_output(tmp_path / "case.csv", "table")
    check_output(tmp_path / "case.2026", "report")
