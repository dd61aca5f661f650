"""How a dealer hears that something came: the list says what, stays as new as the store, and asks at next to no cost."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from photomeasure.web.database import Changes, connected
from photomeasure.web.enquiries import dealer
from photomeasure.web.enquiries.enquiry import Enquiry
from photomeasure.web.enquiries.listed import rows_of
from photomeasure.web.enquiries.shelf import Shelf
from tests.web.enquiries.door import made, opened, text_of
from tests.web.sending import TOKEN, photo, url


def test_the_list_says_what_came_until_it_is_looked_at(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        place, link = made(client)
        client.post(link + "photographs", files=[("photo", photo("chat.jpg")[1])])
        client.post(link + "message", data={"text": "One more comes."})
        client.post(link + "message", data={"text": "Tomorrow."})
        assert "1 photograph, 2 messages" in text_of(client.get(url("cases/")))
        client.get(place)
        assert "message" not in text_of(client.get(url("cases/")))
        client.post(link + "message", data={"text": "Here I am."})
        assert "photographs coming 1 message" in text_of(client.get(url("cases/")))


def test_where_nothing_has_changed_the_list_is_not_built(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[int] = []

    def counted(*what: Any) -> Any:
        built.append(1)
        return rows_of(*what)

    monkeypatch.setattr(dealer, "rows_of", counted)
    with opened(tmp_path / "kept") as client:
        _, link = made(client)
        first = client.get(url("cases/"))
        tag = first.headers["etag"]
        assert f'data-tag="{tag.strip(chr(34))}"' in first.text.replace("&#34;", "")
        same = client.get(url("cases/"), headers={"if-none-match": tag})
        assert same.status_code == 304 and same.content == b"" and len(built) == 1
        client.get(link)  # opened
        changed = client.get(url("cases/"), headers={"if-none-match": tag})
        assert changed.status_code == 200 and "opened, nothing sent" in text_of(changed)
        other = client.get(url("cases/"), headers={"if-none-match": changed.headers["etag"], "accept-language": "da"})
        assert other.status_code == 200  # in another language it is another list
        assert f'"{TOKEN}' not in changed.headers["etag"]
    with opened(tmp_path / "kept") as client:
        assert client.get(url("cases/"), headers={"if-none-match": changed.headers["etag"]}).status_code == 200


def test_changes_are_counted_whoever_makes_them(shelf: Shelf, enquiry: Enquiry) -> None:
    changes = Changes(shelf.database)
    before = changes.number()
    assert changes.number() == before
    with connected(shelf.database) as database:
        database.execute("SELECT count(*) FROM enquiries").fetchone()
    assert changes.number() == before
    shelf.stamp(enquiry.key, "seen")
    assert changes.number() != before
    changes.close()
