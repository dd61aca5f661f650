"""What is kept no longer is gone: from the folder, and from the database's own bytes."""

from __future__ import annotations

import io
import time
from pathlib import Path

from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.enquiries.arriving import begin, whole
from photomeasure.web.enquiries.enquiry import About, Enquiry
from photomeasure.web.enquiries.photographs import photographs_of
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.store import Store
from photomeasure.web.when import DAY_S
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, TOKEN, here, photo, send


def everything(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_a_deleted_case_leaves_no_byte_of_it(store: Store, tmp_path: Path) -> None:
    shelf = store.shelf
    gone = shelf.make(About(rig="Unrepeatable-rig-4711", customer="Unrepeatable-customer-4711"))
    other = shelf.make(About(rig="Ferncombe 7", customer="Ada"))
    shelf.new_link(gone.key, 21)
    whole(shelf, gone, "Unrepeatable-name-4711.jpg", io.BytesIO(b"Unrepeatable-pixels-4711"), 24)
    begin(shelf, gone, "Unrepeatable-mark-4711", "Unrepeatable-name-4712.jpg", 100)
    kept = whole(shelf, other, "x.jpg", io.BytesIO(b"kept"), 4)
    assert everything(tmp_path).count(b"Unrepeatable") >= 4
    store.keeping.delete(gone.folder)
    assert b"Unrepeatable" not in everything(tmp_path) and shelf.get(gone.key) is None
    assert shelf.link_of(gone.key) is None and photographs_of(shelf, other) == (kept,)


def test_photographs_go_after_the_dealers_days_and_figures_stay(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept")
    cases = Cases(20, store)
    with TestClient(page_app(TOKEN, [HOST], cases=cases), base_url=BASE) as client:
        shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED, rig="Ferncombe 7")
        place = here(shown)
        client.get(place + "preview-1.jpg")
        assert client.get(place + "picture-1.jpg").status_code == 200  # drawn and kept
        before = client.get(place + "record.json").json()
        now = time.time()
        assert store.keeping.forget_photographs(90, now + 89 * DAY_S) == []
        assert store.keeping.forget_photographs(0, now + 999 * DAY_S) == []
        folders = store.keeping.forget_photographs(90, now + 91 * DAY_S)
        assert len(folders) == 1 and not list((tmp_path / "kept").rglob("*.jpg"))
        assert not any(list(folder.iterdir()) for folder in store.photographs.iterdir())
        cases.forget(folders[0])
        page = client.get(place)
        assert page.status_code == 200 and client.get(place + "record.json").json() == before
        assert client.get(place + "picture-1.jpg").status_code == 404 and client.get(place + "mark").status_code == 200
        assert client.get(place + "report.pdf").content[:4] == b"%PDF"
        gone = client.post(place + "measure", data={**AS_PHOTOGRAPHED, "coupling": "ball-50", "bar_x": "149"})
        assert gone.status_code == 410 and "no longer kept" in gone.text
        assert store.keeping.forget_photographs(90, now + 91 * DAY_S) == []


def test_what_broke_off_is_swept_and_what_may_go_on_is_not(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept")
    shelf = store.shelf
    enquiry = shelf.make(About(rig="Ferncombe 7", customer="Ada"))
    begin(shelf, enquiry, "a", "x.jpg", 100)
    done = whole(shelf, enquiry, "x.jpg", io.BytesIO(b"whole"), 5)
    folder = shelf.folder(enquiry)
    (folder / "photo-of-no-row").write_bytes(b"killed before its row")
    (folder / "preview-1").mkdir()
    (folder / f"{done.file}.jpg").write_bytes(b"small")
    (store.photographs / "of no case").mkdir()
    store.close()
    store = Store(tmp_path / "kept")
    assert len(list(folder.iterdir())) == 3 and (folder / done.file).read_bytes() == b"whole"
    assert [found.name for found in store.photographs.iterdir()] == [enquiry.folder]
    store.keeping.give_up(time.time() + 1 * DAY_S)
    assert len(list(folder.iterdir())) == 3
    store.keeping.give_up(time.time() + 3 * DAY_S)
    assert sorted(found.name for found in folder.iterdir()) == sorted([done.file, f"{done.file}.jpg"])
    store.close()


def test_an_enquirys_photographs_go_too(shelf: Shelf, enquiry: Enquiry, store: Store) -> None:
    whole(shelf, enquiry, "x.jpg", io.BytesIO(b"x"), 1)
    assert store.keeping.forget_photographs(90, time.time() + 91 * DAY_S) == [enquiry.folder]
    assert photographs_of(shelf, enquiry) == () and list(shelf.folder(enquiry).iterdir()) == []
    assert shelf.get(enquiry.key) is not None


def test_what_was_measured_here_is_in_the_list_and_deleted_from_its_page(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept")
    with TestClient(page_app(TOKEN, [HOST], cases=Cases(20, store)), base_url=BASE) as client:
        place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, rig="Unrepeatable 4711", by="Bo"))
        listed = client.get(f"/{TOKEN}/cases/").text
        assert place in listed and "measured here" in listed and "Unrepeatable 4711" in listed
        assert "Delete for good" in client.get(place).text and client.get(place + "case").status_code == 404
        assert "1 photograph," in client.get(place + "delete").text
        client.post(place + "delete", data={"pressed": "yes"})
        assert client.get(place).status_code == 404
        assert b"Unrepeatable" not in everything(tmp_path / "kept")
