"""Photographs are told by their digests, wherever they lie and whatever they are called."""

from __future__ import annotations

from pathlib import Path

import pytest

from photomeasure.record.measure_and_record import file_digest
from photomeasure.record.schema import PhotoPart
from photomeasure.repeat.search import PhotoFolder, seek

# FIPS 180-2, appendix B.1: SHA-256 of "abc"
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def put(path: Path, text: str = "abc") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="ascii")
    return path


def test_the_digest_is_the_published_one(tmp_path: Path) -> None:
    assert file_digest(put(tmp_path / "a.jpg")) == ABC
    assert file_digest(tmp_path / "nowhere.jpg") is None


@pytest.mark.parametrize("place", ["stated/a.jpg", "records/stated/a.jpg", "records/a.jpg"])
def test_at_the_stated_path_or_beside_the_record(place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    put(tmp_path / place)
    found = seek(PhotoPart(file="stated/a.jpg", sha256=ABC), Path("records/r.json"), None)
    assert found.state == "found" and found.path is not None and found.path.samefile(tmp_path / place)


def test_of_several_files_of_one_name_the_true_one(tmp_path: Path) -> None:
    put(tmp_path / "yard truck 2" / "1.jpg", "another")
    true = put(tmp_path / "yard truck 4" / "1.jpg")
    found = seek(PhotoPart(file="1.jpg", sha256=ABC), tmp_path / "r.json", PhotoFolder(tmp_path))
    assert found.state == "found" and found.path == true


def test_a_renamed_file_is_found_in_the_folder(tmp_path: Path) -> None:
    renamed = put(tmp_path / "photos" / "renamed.jpg")
    found = seek(PhotoPart(file="1.jpg", sha256=ABC), tmp_path / "r.json", PhotoFolder(tmp_path / "photos"))
    assert found.state == "found" and found.path == renamed


def test_a_changed_file_is_told_from_a_missing_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    record = tmp_path / "records" / "r.json"
    put(tmp_path / "records" / "1.jpg", "changed")
    changed = seek(PhotoPart(file="1.jpg", sha256=ABC), record, None)
    assert changed.state == "changed" and changed.now_sha256 == file_digest(tmp_path / "records" / "1.jpg")
    missing = seek(PhotoPart(file="2.jpg", sha256=ABC), record, PhotoFolder(tmp_path))
    assert missing.state == "missing" and missing.path is None


def test_a_record_that_names_no_folder_finds_its_photograph_nearby_by_its_digest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`measure photos/day 1/a.jpg --out results/a` keeps the name alone; another photograph of that name is none of its."""
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    put(tmp_path / "results" / "other" / "a.jpg", "another")
    record = tmp_path / "results" / "a" / "a.json"
    assert seek(PhotoPart(file="a.jpg", sha256=ABC), record, None).state == "missing"
    monkeypatch.chdir(tmp_path)
    true = put(tmp_path / "photos" / "day 1" / "a.jpg")
    found = seek(PhotoPart(file="a.jpg", sha256=ABC), record, None)
    assert found.state == "found" and found.path is not None and found.path.samefile(true)
