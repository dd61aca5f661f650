"""A page to send things to, in this process; and a page in a browser (Playwright is asked for only where it is used)."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket
from starlette.testclient import TestClient

from photomeasure.web import log
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from tests.web.sending import BASE, HOST, TOKEN

if TYPE_CHECKING:
    from tests.seen.test_ticked import Rig


class _Compiled(BytecodeCache):
    """Templates as code, by what stands in them."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], Any] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.code


@pytest.fixture(scope="session", autouse=True)
def _templates_once() -> Iterator[None]:
    """Each test has a page of its own, as if it had just been started; its templates are compiled once in a process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("photomeasure.web.render.Environment", partial(Environment, bytecode_cache=_Compiled()))
        yield


@pytest.fixture
def cases() -> Cases:
    return Cases()


@pytest.fixture
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(page_app(TOKEN, [HOST], cases=cases), base_url=BASE) as opened:
        yield opened


@pytest.fixture
def written(tmp_path: Path) -> Iterator[Path]:
    """The log, as it is written to a file."""
    log.log_to(str(tmp_path / "page.log"))
    yield tmp_path / "page.log"
    logging.getLogger("photomeasure.page").handlers.clear()
    logging.getLogger("photomeasure.page").setLevel(logging.NOTSET)


@pytest.fixture(scope="session")
def unticked(tmp_path_factory: pytest.TempPathFactory) -> Rig:
    """A rendered rig on whose sheet nothing is ticked."""
    from tests.seen.test_ticked import Rig

    return Rig(tmp_path_factory.mktemp("unticked"), {})


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    from tests.web.browser import served

    with served() as at:
        yield at


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    from tests.web.browser import CHROMIUM, browsing

    if CHROMIUM is None:
        pytest.skip("no chromium on this machine: apt-get install chromium")
    with browsing() as opened:
        yield opened


@pytest.fixture(scope="module")
def pocket(browser: Any, address: str) -> Iterator[Any]:
    from tests.web.browser import pocketed

    with pocketed(browser, address) as opened:
        yield opened


@pytest.fixture
def page(pocket: Any, address: str) -> Iterator[Any]:
    from tests.web.browser import phone

    with phone(pocket, address) as opened:
        yield opened
