"""The figure is shown before the pictures are drawn, which come when they are asked for, also after a new start."""

from __future__ import annotations

import json
import sqlite3
import threading
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from photomeasure.shown.picture.pictures import pictures
from photomeasure.web import measuring
from tests.web.enquiries.door import opened
from tests.web.sending import AS_PHOTOGRAPHED, here, photo, record, send


def about_in(store: Path) -> dict[str, Any]:
    with closing(sqlite3.connect(store / "store.sqlite")) as database:
        told: dict[str, Any] = json.loads(database.execute("SELECT about FROM cases").fetchone()[0])
    return told


def test_the_figure_does_not_wait_for_its_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    free = threading.Event()

    def late(*what: Any) -> Any:
        assert free.wait(60)
        return pictures(*what)

    monkeypatch.setattr(measuring, "pictures", late)
    with opened(tmp_path / "kept") as client:
        shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
        place = here(shown)
        assert "401.9 mm" in shown.text and "picture-1.jpg" in shown.text
        assert about_in(tmp_path / "kept")["pictures"] == []  # the figure is kept already
        assert client.get(place + "record.json").status_code == 200
        threading.Timer(0.3, free.set).start()
        assert client.get(place + "picture-1.jpg").content[:2] == b"\xff\xd8"
        # a tape's reading changes the strips of pictures that are drawn
        client.post(place + "tape", data={"tape": "402", "tape_class": "I"})
        taped = client.get(place + "picture-1.jpg").content
        before = record(client, shown)
    assert about_in(tmp_path / "kept")["pictures"] == ["within-height.jpg"]
    # as if the program had been killed between figure and picture
    for picture in (tmp_path / "kept" / "results").glob("*/picture-1.jpg"):
        picture.unlink()
    with closing(sqlite3.connect(tmp_path / "kept" / "store.sqlite")) as database, database:
        database.execute("UPDATE cases SET about = ?", (json.dumps({**about_in(tmp_path / "kept"), "pictures": []}),))
    with opened(tmp_path / "kept") as client:
        assert "picture-1.jpg" in client.get(place).text and client.get(place + "record.json").json() == before
        again = client.get(place + "picture-1.jpg").content
        assert again[:2] == b"\xff\xd8" and abs(len(again) - len(taped)) < 0.05 * len(taped)
    assert about_in(tmp_path / "kept")["pictures"] == ["within-height.jpg"]


def test_a_picture_that_cannot_be_drawn_takes_nothing_of_the_figure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*what: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr(measuring, "pictures", broken)
    with opened(tmp_path / "kept") as client:
        shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
        assert "401.9 mm" in shown.text
        assert client.get(here(shown) + "picture-1.jpg").status_code == 404
        assert "picture-1.jpg" not in client.get(here(shown)).text
        assert client.get(here(shown) + "report.pdf").content[:4] == b"%PDF"
    assert "ZeroDivisionError" in capsys.readouterr().err
