"""What the page keeps went away under it: nothing is lost without a word, the reason is where the page says, and nobody else is blamed."""

from __future__ import annotations

import asyncio
import errno
import json
import os
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.web import bench
from photomeasure.web.enquiries import door
from photomeasure.web.enquiries.calibrating import Calibrating
from photomeasure.web.enquiries.work import Work
from photomeasure.web.measuring import figured
from photomeasure.web.problems import of_the_disk
from photomeasure.web.store import Store
from tests.web.enquiries.door import in_pieces, made, press, sample, text_of
from tests.web.sending import AS_PHOTOGRAPHED, here, photo, send, url
from tests.web.test_store import page


def _failing(number: int) -> Callable[..., Any]:
    def fails(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    return fails


def test_a_result_whose_photographs_went_away_is_not_said_to_be_kept(tmp_path: Path) -> None:
    with page(tmp_path / "kept") as client:
        place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED))
        client.get(place + "picture-1.jpg")
        shutil.rmtree(tmp_path / "kept" / "photographs")
        assert client.post(place + "tape", data={"tape": "391"}).status_code == 507
        assert len(list((tmp_path / "kept" / "results").iterdir())) == 1


def test_what_could_not_be_opened_is_not_held(tmp_path: Path) -> None:
    """The good file was put back, and "another program holds it" was said."""
    Store(tmp_path / "kept").close()
    rows = (tmp_path / "kept" / "store.sqlite").read_bytes()
    (tmp_path / "kept" / "store.sqlite").write_bytes(b"no database" * 100)
    with pytest.raises(
        InputError, match="cannot be the store"
    ) as first:  # as long as it is known, so is what it opened
        Store(tmp_path / "kept")
    (tmp_path / "kept" / "store.sqlite").write_bytes(rows)
    Store(tmp_path / "kept").close()
    assert "not a database" in first.value.what


@pytest.mark.parametrize(("code", "status"), [
    (sqlite3.SQLITE_READONLY_DBMOVED, 503), (sqlite3.SQLITE_IOERR_READ, 503), (sqlite3.SQLITE_IOERR_WRITE, 503),
    (sqlite3.SQLITE_READONLY_DIRECTORY, 503), (sqlite3.SQLITE_CANTOPEN_ISDIR, 503), (sqlite3.SQLITE_FULL, 507),
    (sqlite3.SQLITE_CONSTRAINT_UNIQUE, None),
])  # fmt: skip
def test_what_sqlite_says_in_finer_codes_is_understood(code: int, status: int | None) -> None:
    error = sqlite3.OperationalError("x")
    error.sqlite_errorcode = code
    told = of_the_disk(error)
    assert status == (None if told is None else told.status)


def _print_at_a_read_only_store(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as breaking:
        breaking.setattr(os, "fsync", _failing(errno.EROFS))
        answer = client.post(url("remembered/print"), data={"number": "7", "bar_x": "149.8"})
    assert answer.status_code == 503 and "or in its log" in answer.text and "choose another output" not in answer.text


def test_a_print_for_a_store_that_is_read_only_is_no_slip_of_the_dealers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with page(tmp_path / "kept") as client:
        _print_at_a_read_only_store(client, monkeypatch)
        told = capsys.readouterr().err
        assert "Read-only file system" in told and "fault of the program" not in told


def test_the_log_has_the_reason(tmp_path: Path, written: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with page(tmp_path / "kept") as client:
        _print_at_a_read_only_store(client, monkeypatch)
        made(client)
        (tmp_path / "kept" / "store.sqlite").rename(tmp_path / "elsewhere")
        assert client.get(url("cases/")).status_code == 503
    faults = [line for line in map(json.loads, written.read_text().splitlines()) if line["event"] == "fault"]
    assert [line["kind"] for line in faults] == ["OSError EROFS", "OperationalError SQLITE_CANTOPEN"]
    assert "calib/outcome/files.py:" in faults[0]["at"]


def test_the_disk_under_a_customers_photographs_is_no_mistake_of_the_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with page(tmp_path / "kept") as client:
        place, link = made(client)
        monkeypatch.setattr(Work, "_seen", _failing(errno.EROFS))
        monkeypatch.setattr(bench, "figured", _failing(errno.ENOSPC))
        in_pieces(client, link, sample("chat.jpg"))
        press(client, link + "send")
        for _ in range(100):
            if "is full" in (said := text_of(client.get(place))):
                break
            time.sleep(0.1)
        assert "is full" in said and "makes room there" in said and "mistake of its own" not in said
    told = capsys.readouterr().err
    assert "Read-only file system" in told and "No space left" in told and "fault of the program" not in told


def test_nor_is_it_where_pictures_are_drawn(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(bench, "figured", lambda *some: (figured(*some)[0], _failing(errno.EIO)))
    client.get(here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED)) + "picture-1.jpg")
    told = capsys.readouterr().err
    assert "nput/output error" in told and "fault of the program" not in told


def test_nor_is_it_once_an_hour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(door, "HOUR_S", 0.05)
    again = threading.Semaphore(0)

    def fails(_: door.FrontDoor) -> None:
        again.release()
        _failing(errno.EIO)()

    monkeypatch.setattr(door.FrontDoor, "_forgotten", fails)
    with page(tmp_path / "kept"):
        assert again.acquire(timeout=20) and again.acquire(timeout=20)  # told before it begins once more
    told = capsys.readouterr().err
    assert "what the page keeps" in told and "fault of the program" not in told


def test_nor_is_it_where_a_phone_is_calibrated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(tmp_path / "kept")
    monkeypatch.setattr(Calibrating, "_made", _failing(errno.ENOSPC))
    calibrating = Calibrating(store.remembered, bench.Bench(), store.photographs)

    async def once() -> None:
        await calibrating._calibrate({tmp_path / "boards" / "board-01": "a.jpg"}, None)  # type: ignore[arg-type]

    asyncio.run(once())
    store.close()
    assert calibrating.ended is not None and "is full" in calibrating.ended.why[0]
