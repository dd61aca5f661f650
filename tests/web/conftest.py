"""A page to send things to, in this process."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from tests.web.sending import BASE, HOST, TOKEN


@pytest.fixture
def cases() -> Cases:
    return Cases()


@pytest.fixture
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(page_app(TOKEN, [HOST], cases=cases), base_url=BASE) as opened:
        yield opened
