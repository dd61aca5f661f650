"""What is measured outlives the program, whole or not at all, and a folder that is something else is left alone."""

from __future__ import annotations

import re
import shutil
import signal
import sqlite3
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.web import store as store_module
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.store import Store, read_whole
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, TOKEN, here, photo, record, send
from tests.web.test_serve import started


@contextmanager
def page(folder: Path, most: int = 20) -> Iterator[TestClient]:
    """A page that keeps its cases there, from start to stop."""
    with TestClient(page_app(TOKEN, [HOST], cases=Cases(most, Store(folder))), base_url=BASE) as client:
        yield client


def test_a_case_is_there_after_a_new_start(tmp_path: Path) -> None:
    with page(tmp_path / "kept") as client:
        shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED, rig="Ferncombe 7")
        client.post(here(shown) + "tape", data={"tape": "402", "tape_class": "I"})
        place, before = here(shown), record(client, shown)
        text = client.get(place).text
        picture = client.get(place + "picture-1.jpg")
        send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, mark="first")  # never measured
    assert len(list((tmp_path / "kept" / "photographs").iterdir())) == 1
    with page(tmp_path / "kept") as client:
        again = client.get(place)
        assert again.text == text and record(client, again) == before and before["tape"]["reading_mm"] == 402.0
        assert client.get(place + "picture-1.jpg").content == picture.content
        assert client.get(place + "report.pdf").content[:4] == b"%PDF"
        assert client.get(place + "mark").status_code == 200 and client.get(place + "preview-1.jpg").status_code == 200
        assert 'value="402"' in client.get(place + "answers").text
        said = {**AS_PHOTOGRAPHED, "coupling": "ball-50"}
        same = client.post(place + "measure", data={**said, "rig": "Ferncombe 7"})
        assert here(same) == place and record(client, same) == before  # measured once
        other = client.post(place + "measure", data={**said, "bar_x": "149.5"})
        assert here(other) != place and record(client, client.get(place)) == before
    with page(tmp_path / "kept") as client:
        assert record(client, client.get(here(other)))["asked"]["bar_x_mm"] == 149.5
        assert client.get(here(other) + "mark").status_code == 200  # previews of an earlier start are made anew


@pytest.mark.parametrize("way", ["load", "export"])
def test_a_result_that_is_replaced_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """Its pictures are kept after its figure, in a folder of their own: the one that was being read is gone then."""
    folder = tmp_path / "kept"
    with page(folder) as client:
        key = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED)).rstrip("/").rpartition("/")[2]
    kept = Store(folder)
    case = kept.load(key)
    assert case is not None and case.measured is not None
    (old,) = (folder / "results").iterdir()
    replaced: list[Path] = []

    def just_replaced(real: Any) -> Any:
        def read(path: Path, *arguments: Any) -> Any:
            if path.parent in (old, folder / "results") and not replaced:
                replaced.append(path)
                kept.save(case)
            return real(path, *arguments)

        return read

    monkeypatch.setattr(Path, "read_bytes", just_replaced(Path.read_bytes))
    monkeypatch.setattr(Path, "iterdir", just_replaced(Path.iterdir))
    if way == "load":
        again = kept.load(key)
        assert again is not None and again.measured is not None and again.measured.record == case.measured.record
    else:
        files = read_whole(lambda: [sorted(one.folder.iterdir()) for one in kept.results_of(case.folder.name)])
        assert [path.name for path in files[0]] == ["picture-1.jpg", "record.json"]
    assert replaced and not old.exists()


def test_files_that_are_gone_for_another_reason_are_told() -> None:
    with pytest.raises(FileNotFoundError):
        read_whole(lambda: Path("no such file").read_bytes())


def test_more_than_memory_holds_are_kept(tmp_path: Path) -> None:
    with page(tmp_path / "kept", most=2) as client:
        places = [here(send(client, ("photos", (f"{i}.txt", b"%d" % i, "text/plain")))) for i in range(5)]
        assert [client.get(place).status_code for place in places] == [200] * 5


@pytest.mark.parametrize("broken_at", range(4))
def test_broken_off_anywhere_the_old_result_or_the_new_one_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken_at: int
) -> None:
    """The record, the picture, the row, what comes after: the program ends there."""
    calls = 0

    def broken(real: Any) -> Any:
        def step(*arguments: Any, **more: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls - 1 == broken_at:
                raise KeyboardInterrupt
            return real(*arguments, **more)

        return step

    folder = tmp_path / "kept"
    with page(folder) as client:
        place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED))
        before = client.get(place + "record.json").json()
    kept = Store(folder)
    case = kept.load(place.rstrip("/").rpartition("/")[2])
    assert case is not None and case.measured is not None and len(case.measured.pictures) == 1
    case.taped = {"tape": "400"}
    with monkeypatch.context() as breaking:
        breaking.setattr(store_module, "write_atomic", broken(store_module.write_atomic))  # type: ignore[attr-defined]
        breaking.setattr(store_module, "_about", broken(store_module._about))
        breaking.setattr(shutil, "rmtree", broken(shutil.rmtree))
        with pytest.raises(KeyboardInterrupt):
            kept.save(case)
    kept.close()
    with page(folder) as client:
        assert client.get(place + "record.json").json() == before
        assert ('value="400"' in client.get(place + "answers").text) == (broken_at == 3)
        assert len(list((folder / "results").iterdir())) == 1


def test_a_full_disk_is_said_and_leaves_the_result_at_its_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(path: Path, data: bytes | str) -> None:
        raise OSError(28, "No space left on device")

    with page(tmp_path / "kept") as client:
        first = send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, mark="first")
        monkeypatch.setattr(store_module, "write_atomic", full)
        answer = client.post(here(first) + "measure", data={"coupling": "ball-50", **AS_PHOTOGRAPHED})
        assert answer.status_code == 507 and "could not be kept" in answer.text and str(tmp_path) not in answer.text
        assert "No space left" in capsys.readouterr().err
        assert client.get(here(first) + "record.json").status_code == 200
        assert list((tmp_path / "kept" / "results").iterdir()) == []


def test_a_folder_that_is_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "album" / "photographs").mkdir(parents=True)
    (tmp_path / "album" / "photographs" / "mine.jpg").write_bytes(b"mine")
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "other").mkdir()
    with sqlite3.connect(tmp_path / "other" / "store.sqlite") as database:
        database.execute("CREATE TABLE stamps (name TEXT)")
    (tmp_path / "damaged").mkdir()
    (tmp_path / "damaged" / "store.sqlite").write_bytes(b"no database" * 100)
    for name in ("album", "file", "other", "damaged"):
        with pytest.raises(InputError, match="cannot be the store"):
            Store(tmp_path / name)
    assert (tmp_path / "album" / "photographs" / "mine.jpg").read_bytes() == b"mine"
    held = Store(tmp_path / "held")
    with pytest.raises(InputError, match="another program holds it"):
        Store(tmp_path / "held")
    held.close()
    Store(tmp_path / "held").close()


def test_killed_and_started_again_the_address_is_the_same(tmp_path: Path) -> None:
    addresses = []
    for stop in (signal.SIGKILL, signal.SIGTERM):
        process, printed = started(tmp_path, "--store", str(tmp_path / "kept"))
        try:
            found = re.search(r"http://[\d.]+:\d+(/[a-z2-9-]{14}/)", printed)
            assert found is not None and "is kept in" in printed and "removes" not in printed
            addresses.append(found[1])
            with urllib.request.urlopen(found[0], timeout=20) as answer:
                assert answer.status == 200
        finally:
            process.send_signal(stop)
            process.communicate(timeout=20)
    assert len(set(addresses)) == 1
    assert (tmp_path / "kept" / "token").stat().st_mode & 0o777 == 0o600


def test_what_the_store_has_makes_room_before_what_only_memory_has(tmp_path: Path) -> None:
    """A photograph that waits for its mark is nowhere else; a result that was kept can be had again."""
    with page(tmp_path / "kept", most=2) as client:
        kept = [here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, rig=rig)) for rig in ("one", "two")]
        waiting = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED, mark="first")
        for place in kept:
            assert client.get(place).status_code == 200
        assert client.get(here(waiting) + "preview-1.jpg").status_code == 200


def test_what_is_deleted_while_it_is_measured_is_not_kept(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept")
    with TestClient(page_app(TOKEN, [HOST], cases=(cases := Cases(20, store))), base_url=BASE) as client:
        case = cases.get(here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED)).rstrip("/").rpartition("/")[2])
        assert case is not None and store.holds(case.folder)
        store.keeping.delete(case.folder.name)
        store.save(case)  # a measurement that ends only now
        assert not store.holds(case.folder) and list((tmp_path / "kept" / "results").iterdir()) == []
