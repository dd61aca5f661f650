"""The guides on the page: each is there, its links lead to another one, nothing outside is asked for."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from photomeasure.guides.texts import GUIDES, title_and_about
from tests.web.sending import url


@pytest.mark.parametrize("name", GUIDES)
def test_a_guide_is_a_page(client: TestClient, name: str) -> None:
    answer = client.get(url(f"guide/{name}"))
    assert answer.status_code == 200
    assert f"<h1>{title_and_about(name)[0]}</h1>" in answer.text
    for target in re.findall(r'href="([^"]+)"', answer.text):
        assert not target.startswith("http"), target
    for other in GUIDES:
        assert other == name or client.get(url(f"guide/{other}")).status_code == 200
    assert "|---" not in answer.text and "```" not in answer.text


def test_a_guide_that_there_is_not_and_the_way_to_them(client: TestClient) -> None:
    assert client.get(url("guide/laws")).status_code == 404
    assert client.get(url("guide/..%2ftexts")).status_code == 404
    assert url(f"guide/{GUIDES[0]}") in client.get(url()).text
