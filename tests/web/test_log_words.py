"""The log's words are those of the page's own addresses, no more and no fewer; and a phone can put the page among its programs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from starlette.routing import BaseRoute, Mount, Route
from starlette.testclient import TestClient

from photomeasure.web import log
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.store import Store
from tests.web.enquiries.door import made, opened
from tests.web.entry.test_sign_in import PASSWORD
from tests.web.sending import HOST, TOKEN, url

TAKEN_AWAY = {"record.json", "report.pdf"}  # by one address that asks for any of several


def paths(routes: Iterable[BaseRoute]) -> Iterator[str]:
    for route in routes:
        if isinstance(route, Mount):
            yield route.path
            yield from (f"{route.path}{path}" for path in paths(route.routes or ()))
        elif isinstance(route, Route):
            yield route.path


def test_every_word_of_an_address_is_known_to_the_log_and_no_other(tmp_path: Path) -> None:
    cases = Cases(store=Store(tmp_path / "kept"))
    app = page_app(TOKEN, [HOST], cases=cases, password=PASSWORD)
    words = {word for path in paths(app.routes) for word in path.split("/") if word and "{" not in word}
    cases.close()
    assert words - {TOKEN} | TAKEN_AWAY == log._WORDS
    secrets = [word for word in words if re.search(r"\d", word)]
    assert secrets == [TOKEN]


def test_the_dealers_page_can_be_installed_and_a_customers_cannot(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        page = client.get(url())
        found = re.search(r'rel="manifest" href="([^"]+)"', page.text)
        assert found is not None
        told = client.get(found[1])
        assert told.headers["content-type"] == "application/manifest+json"
        manifest = told.json()
        assert manifest["start_url"] == url() and client.get(manifest["start_url"]).status_code == 200
        assert client.get(manifest["icons"][0]["src"]).headers["content-type"].startswith("image/svg+xml")
        _, link = made(client)
        assert "manifest" not in client.get(link).text  # it would tell the dealer's address


def test_without_a_store_the_address_is_another_next_time_and_nothing_is_installed() -> None:
    with TestClient(page_app(TOKEN, [HOST]), base_url=f"http://{HOST}") as client:
        assert 'rel="manifest"' not in client.get(url()).text
