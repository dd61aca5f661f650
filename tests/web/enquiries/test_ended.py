"""A link that has ended says so, and opens nothing; the same in a browser, slow, in test_door_browser.py."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from photomeasure.web.database import connected
from tests.web.enquiries.door import made, opened, press, text_of


def expired(client: TestClient, place: str, folder: Path) -> None:
    with connected(folder / "store.sqlite") as database:
        database.execute("UPDATE links SET until = 1.0")


def withdrawn(client: TestClient, place: str, folder: Path) -> None:
    press(client, place + "withdraw")


def replaced(client: TestClient, place: str, folder: Path) -> None:
    press(client, place + "link")


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        (expired, "This link was open until 1 January 1970."),
        (withdrawn, "This link was withdrawn."),
        (replaced, "This link was withdrawn."),
    ],
)
def test_it_says_so_and_opens_nothing(ends: Callable[[TestClient, str, Path], None], said: str, tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        place, link = made(client, rig="Ferncombe ended")
        assert client.get(link).status_code == 200
        ends(client, place, tmp_path / "kept")
        for at in ("", "next", "photographs", "question/bars", "kit.pdf"):
            assert client.get(link + at).status_code == 410, at
        page = client.get(link)
        assert said in text_of(page) and "Ferncombe" not in page.text
        assert client.post(link + "question/coupled", data={"value": "no"}).status_code == 410
