"""Photographs at an address of a store: the same record as from a file, one rig's row where they cannot be read."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from calib.outcome.errors import InputError
from photomeasure.asked.stated import Stated
from photomeasure.batch.addresses import address
from photomeasure.batch.elsewhere import check_readers, fetched
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.batch.tasks import Task, tasks_of
from photomeasure.batch.work import work
from photomeasure.record.schema import read_record
from photomeasure.seen import image
from tests.sample_requests import SAMPLES

fsspec = pytest.importorskip("fsspec", reason="the extra for clusters is not installed")
memory = pytest.importorskip("fsspec.implementations.memory")


class Store(memory.MemoryFileSystem):  # type: ignore[misc,name-defined]  # no types
    """A store of objects as S3 is one to fsspec, in this process."""

    protocol = "s3"
    store: dict[str, Any] = {}  # noqa: RUF012  # as the library has it
    pseudo_dirs = [""]  # noqa: RUF012

    @classmethod
    def _strip_protocol(cls, path: str) -> str:
        return "/" + path.removeprefix("s3://").strip("/")


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    monkeypatch.setitem(sys.modules["fsspec.registry"]._registry, "s3", Store)
    Store.store.clear()
    Store.clear_instance_cache()
    yield Store()
    Store.clear_instance_cache()


def put(store: Store, key: str, data: bytes) -> None:
    store.pipe_file(f"s3://ferncombe/{key}", data)


def listed(tmp_path: Path, *photos: str) -> list[Task]:
    """Rigs a, b, ... of a photograph each, with bars that were read."""
    rows = [f"{rig},{photo},150,150" for rig, photo in zip("abcdefgh", photos, strict=False)]
    (tmp_path / "rigs.csv").write_text("\n".join(["rig,photo,bar_x_mm,bar_y_mm", *rows]), encoding="utf-8")
    return tasks_of(read_rig_list(tmp_path / "rigs.csv").rigs, Stated(), tmp_path / "out")


def record(path: Path) -> bytes:
    """Without the second in which it was made."""
    return b"\n".join(line for line in path.read_bytes().splitlines() if b'"computed"' not in line)


def test_a_photograph_in_a_store_gives_the_record_that_its_file_gives(store: Store, tmp_path: Path) -> None:
    data = (SAMPLES / "chat.jpg").read_bytes()
    put(store, "yard/chat.jpg", data)
    shutil.copyfile(SAMPLES / "chat.jpg", tmp_path / "chat.jpg")
    there, here = listed(tmp_path, "s3://ferncombe/yard/chat.jpg", "chat.jpg")
    there, here = replace(there, rig="rig"), replace(here, rig="rig")
    first, by_file = work(there), work(here)
    assert first.row.height_mm and record(there.record_file) == record(here.record_file)
    assert first.row.photos == "s3://ferncombe/yard/chat.jpg"  # where it lies; all else is as from a file
    assert replace(first.row, photos="", record="") == replace(by_file.row, photos="", record="")

    again = work(there)
    assert again.kept and again.row == first.row
    put(store, "yard/chat.jpg", data[:2] + b"\xff\xfe\x00\x05new" + data[2:])  # another file under the same key
    anew = work(there)
    assert not anew.kept and anew.aside == "a (earlier 1).json"
    assert (
        read_record(there.record_file).photos[0].sha256 != read_record(tmp_path / "out" / anew.aside).photos[0].sha256
    )


def test_what_cannot_be_read_in_a_store_costs_its_rig(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(store, "yard/words.jpg", b"no picture")
    put(store, "yard/large.jpg", b"\xff\xd8" * 300)
    put(store, "yard/shut.jpg", b"")
    names = ("none.jpg", "words.jpg", "large.jpg", "shut.jpg")
    tasks = listed(tmp_path, *(f"s3://ferncombe/yard/{name}" for name in names), "s3://ferncombe/yard")

    def refuses(self: Store, path: str, **_: Any) -> Any:
        if path.endswith("shut.jpg"):
            raise PermissionError(path)
        return about(self, path)

    about = Store.info
    monkeypatch.setattr(Store, "info", refuses)
    monkeypatch.setattr(image, "MAX_FILE_BYTES", 500)
    none, words, large, shut, folder = (work(task).row for task in tasks)
    assert none.error.startswith("Cannot read s3://ferncombe/yard/none.jpg: there is nothing.")
    assert "it may not be read" in shut.error and "it is a folder" in folder.error
    assert (words.refusal, large.refusal) == ("unreadable", "too-large")
    assert read_record(tmp_path / "out" / "b.json").photos[0].sha256 is not None
    assert read_record(tmp_path / "out" / "c.json").photos[0].sha256 is None  # nobody read it through


def test_a_path_of_another_folder_of_work_is_called_as_the_list_calls_it(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"bytes")
    assert fetched(str(tmp_path / "a.jpg"), Path("a.jpg")) == b"bytes"
    with pytest.raises(InputError, match=r"Cannot open yard/b\.jpg: No such file"):
        fetched(str(tmp_path / "b.jpg"), Path("yard/b.jpg"))


@pytest.mark.parametrize(
    "text",
    [
        "s3://ferncombe/yard/1.jpg",
        "gs://ferncombe/a photo.heic",
        "abfs://container/x/y/z.png",
        "file:///mnt/yard/1.jpg",
    ],
)
def test_addresses_that_may_be_read(text: str) -> None:
    assert address(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "http://10.0.0.5/1.jpg",  # no other scheme,
        "zip://1.jpg::s3://ferncombe/yard.zip",
        "s3://ferncombe/1.jpg::file:///etc/passwd",  # nor two of them
        "s3://key:secret@ferncombe/1.jpg",  # no password, which the table would show
        "s3://ferncombe/yard/../1.jpg",
        "s3://ferncombe//1.jpg",
        "s3://ferncombe/yard/",
        "s3:///1.jpg",
        "file://host/mnt/1.jpg",
        "file:///mnt/\x1b[2J.jpg",
        "s3://ferncombe/" + "x" * 2000,
        "S3://ferncombe/1.jpg",
    ],
)
def test_addresses_that_are_a_wrong_cell(text: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError):
        address(text)
    with pytest.raises(InputError, match="line 2, column photo: it is") as error:
        listed(tmp_path, f'"{text}"')
    assert "s3://, gs://, abfs://, file://" in error.value.expected


def test_a_store_for_which_a_package_is_missing_is_told_before_anything_is_measured(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def missing(scheme: str) -> Any:
        raise ImportError(f"a package for {scheme} is missing")

    monkeypatch.setattr(fsspec, "get_filesystem_class", missing)
    check_readers(["/mnt/yard/1.jpg"])
    with pytest.raises(InputError, match="gs:// cannot be read here: a package for gs is missing") as error:
        check_readers(["gs://ferncombe/1.jpg"])
    assert "fsspec[gs]" in error.value.remedy
