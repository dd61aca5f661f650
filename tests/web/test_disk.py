"""The disk under the page: full, read only, or taken away. Said as that, nothing half-written left, nothing lost at the next start."""

from __future__ import annotations

import errno
import shutil
from pathlib import Path
from typing import Any

import pytest
from PIL import UnidentifiedImageError
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.web import cases as cases_module
from photomeasure.web import previews
from photomeasure.web.cases import Cases
from photomeasure.web.enquiries import arriving
from photomeasure.web.problems import of_the_disk
from photomeasure.web.store import Store
from tests.web.enquiries.door import made
from tests.web.sending import AS_PHOTOGRAPHED, here, photo, send, url
from tests.web.test_store import page


def _full(path: Path, *_: object) -> None:
    """Half of it fits."""
    path.write_bytes(b"half")
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_is_no_fault_of_the_program_and_holds_no_halves(
    client: TestClient, cases: Cases, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before, "The program made a mistake of its own", and the half of each upload took the rest of the disk for good."""
    monkeypatch.setattr(cases_module, "_stored", lambda folder, number, *_: _full(folder / f"upload-{number}"))
    answer = send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED)
    assert answer.status_code == 507 and "is full" in answer.text and "makes room there" in answer.text
    assert list(cases.root.iterdir()) == []
    told = capsys.readouterr().err
    assert "No space left" in told and "fault of the program" not in told
    monkeypatch.undo()
    assert send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED).status_code == 200


def test_no_half_of_a_preview_stays(client: TestClient, cases: Cases, monkeypatch: pytest.MonkeyPatch) -> None:
    place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED))
    monkeypatch.setattr(previews, "_write", _full)
    assert client.get(place + "preview-1.jpg").status_code == 507
    assert not list(cases.root.glob("*/preview-*"))
    monkeypatch.undo()
    assert client.get(place + "preview-1.jpg").status_code == 200


def test_a_customers_plain_form_leaves_no_half(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with page(tmp_path / "kept") as client:
        _, link = made(client)
        monkeypatch.setattr(shutil, "copyfileobj", lambda _, target, __: _full(Path(target.name)))
        answer = client.post(f"{link}photographs", files={"photo": photo("chat.jpg")[1]})
        assert answer.status_code == 507 and "no room for this photograph" in answer.text
        assert not list((tmp_path / "kept" / "photographs").glob("*/*"))
        monkeypatch.undo()
        monkeypatch.setattr(arriving, "FREE_BYTES", 0)
        assert client.post(f"{link}photographs", files={"photo": photo("chat.jpg")[1]}).status_code == 200


def test_what_was_measured_and_not_kept_is_led_to(tmp_path: Path) -> None:
    """It is "at its address", which a browser whose form was answered by an error does not know."""
    with page(tmp_path / "kept") as client:
        place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED))
        shutil.rmtree(tmp_path / "kept" / "results")
        (tmp_path / "kept" / "results").write_text("no folder")
        answer = client.post(place + "measure", data={**AS_PHOTOGRAPHED, "coupling": "ball-50", "bar_x": "149.5"})
        assert answer.status_code == 507
        at = answer.text.split('href="' + url("rig/"))[1].split('"')[0]
        assert "391" in client.get(url("rig/") + at).text
        (tmp_path / "kept" / "results").unlink()
        (tmp_path / "kept" / "results").mkdir()


def test_a_tape_for_a_store_that_was_moved_away_is_not_said_to_be_kept(tmp_path: Path) -> None:
    with page(tmp_path / "kept") as client:
        place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED))
        client.get(place + "picture-1.jpg")
        (tmp_path / "kept").rename(tmp_path / "elsewhere")
        assert client.post(place + "tape", data={"tape": "391"}).status_code == 507
        (tmp_path / "elsewhere").rename(tmp_path / "kept")
        assert client.post(place + "tape", data={"tape": "391"}).status_code == 200
    with page(tmp_path / "kept") as client:
        assert 'value="391"' in client.get(place + "answers").text


@pytest.mark.parametrize("how", ["removed", "emptied"])
def test_a_store_whose_rows_were_lost_keeps_its_photographs(how: str, tmp_path: Path) -> None:
    """SQLite makes a file anew that is not there; with that, everything was nobody's, and gone at the next start."""
    kept = tmp_path / "kept"
    with page(kept) as client:
        case, link = made(client)
        send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED)
        rows = (kept / "store.sqlite").read_bytes()
        (kept / "store.sqlite").unlink() if how == "removed" else (kept / "store.sqlite").write_bytes(b"")
        for address in (case, link, url("cases/")):
            answer = client.get(address)
            assert answer.status_code == 503 and "cannot be read or written" in answer.text
        assert client.get("/health").json()["status"] == "unwell"
    with pytest.raises(InputError, match="other things" if how == "removed" else "put a copy of it back"):
        Store(kept)
    assert len(list(kept.glob("photographs/*/upload-1"))) == len(list(kept.glob("results/*/record.json"))) == 1
    (kept / "store.sqlite").write_bytes(rows)
    with page(kept) as client:
        assert client.get(link).status_code == 200 and client.get(case).status_code == 200


@pytest.mark.parametrize("name", ["a?b", "a#b", "a%20b", "a&mode=ro"])
def test_a_store_in_a_folder_of_any_name(name: str, tmp_path: Path) -> None:
    with page(tmp_path / name) as client:
        assert client.get(made(client)[1]).status_code == 200
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("error", [
    ValueError("x"), ConnectionResetError(104, "reset"), KeyError("x"), OSError(errno.EMFILE, "Too many open files"),
    BlockingIOError(errno.EAGAIN, "again"), UnidentifiedImageError("x"), OSError("image file is truncated"),
])  # fmt: skip
def test_the_disk_is_not_blamed_for_anything_else(error: Any) -> None:
    assert of_the_disk(error) is None
