"""The page's language: chosen at its foot and kept, else the browser's; the record that is taken away stays English."""

from __future__ import annotations

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from calib.words.language import chosen
from photomeasure.shown.words import TITLES
from photomeasure.web.languages import Speaking
from photomeasure.web.problems import PageError
from photomeasure.web.render import Pages


async def _language(request: Request) -> PlainTextResponse:
    return PlainTextResponse(chosen())


@pytest.fixture
def browser() -> TestClient:
    return TestClient(Speaking(Starlette(routes=[Route("/", _language)])))


def test_the_browsers_language_until_one_is_chosen(browser: TestClient) -> None:
    assert browser.get("/", headers={"accept-language": "da-DK,da;q=0.9"}).text == "da"
    assert browser.get("/", headers={"accept-language": "fr"}).text == "en"
    answer = browser.get("/?language=de", headers={"accept-language": "da"})
    assert answer.text == "de"
    assert "accept-language" in answer.headers["vary"]
    assert browser.get("/", headers={"accept-language": "da"}).text == "de"


def test_no_language_of_ours_is_none(browser: TestClient) -> None:
    assert browser.get("/?language=xx").text == "en"
    assert "set-cookie" not in browser.get("/?language=xx").headers
    assert browser.get("/", headers={"cookie": 'language="; a="'}).text == "en"


def test_a_page_says_its_language_and_offers_the_others() -> None:
    from calib.words.language import speaking

    error = PageError(404, "Nothing here.", expected="an address", remedy="go back")
    with speaking("de"):
        said = bytes(Pages("/t").problem(error).body).decode()
    assert '<html lang="de"' in said
    assert '<a href="?language=da" lang="da"' in said
    assert TITLES["within"] == "Within the band"  # made once, told anew in each language
