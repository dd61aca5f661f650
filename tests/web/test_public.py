"""Behind a proxy: the public name and its origin are the page's own, and no other is."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.web.address import PublicAddress, announcement_behind_a_proxy, public_address
from photomeasure.web.app import page_app
from tests.web.sending import BASE, HOST, TOKEN, photo, send, url

PUBLIC = "https://heights.example"


def test_forms_of_the_public_page_are_let_through_and_no_others() -> None:
    with TestClient(page_app(TOKEN, [HOST, "heights.example"], origins=[PUBLIC]), base_url=BASE) as client:

        def sent(host: str, origin: str) -> int:
            return send(client, photo("chat.jpg"), headers={"host": host, "origin": origin}, mark="first").status_code

        assert client.get(url(), headers={"host": "heights.example"}).status_code == 200
        assert client.get(url(), headers={"host": "other.example"}).status_code == 400
        assert sent("heights.example", PUBLIC) == 200 and sent(HOST, BASE) == 200
        for other in (f"{PUBLIC}:8443", "https://heights.example.evil", "https://evil.example", "null"):
            assert sent("heights.example", other) == 403
        assert sent("other.example", PUBLIC) == 400


@pytest.mark.parametrize(
    ("url", "origin", "host"),
    [
        ("https://Heights.example", "https://heights.example", "heights.example"),
        ("https://heights.example:443/", "https://heights.example", "heights.example"),
        ("http://heights.example:8080", "http://heights.example:8080", "heights.example"),
        ("https://[2001:db8::1]:8443/", "https://[2001:db8::1]:8443", "[2001:db8::1]"),
    ],
)
def test_what_a_browser_sends_as_origin(url: str, origin: str, host: str) -> None:
    """RFC 6454, 6.2: no default port, the name in small letters."""
    assert public_address(url) == PublicAddress(origin=origin, host=host)


@pytest.mark.parametrize(
    "url", ["", "heights.example", "ftp://heights.example", "https://", "https://a.example/page", "https://a.example:x",
            "https://user@a.example", "https://a.example?x", "https://h\u00f6he.example"],
)  # fmt: skip
def test_what_is_no_address_for_a_page(url: str) -> None:
    with pytest.raises(InputError) as caught:
        public_address(url)
    assert "--public-url" in caught.value.what and "https://heights.example" in caught.value.expected


def test_the_public_address_is_said_first() -> None:
    said = announcement_behind_a_proxy([f"{PUBLIC}/{TOKEN}/", f"{BASE}:8000/{TOKEN}/"])
    assert said.index(PUBLIC) < said.index(BASE) and "proxy" in said and "Ctrl-C" in said
