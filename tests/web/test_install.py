"""A phone can keep the page among its own; the worker keeps the program's files and nothing of people."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from tests.web.sending import SAMPLES, url

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, browsing, phone, served  # noqa: E402


def test_what_a_phone_is_told(client: TestClient) -> None:
    manifest = client.get(url("manifest.webmanifest"))
    assert manifest.headers["content-type"].startswith("application/manifest+json")
    said = manifest.json()
    assert said["start_url"] == said["scope"] == url() and said["display"] == "standalone"
    for icon in said["icons"]:
        picture = Image.open(io.BytesIO(client.get(icon["src"]).content))
        assert f"{picture.width}x{picture.height}" == icon["sizes"]
    worker = client.get(url("worker.js"))
    assert (
        worker.headers["content-type"].startswith("text/javascript") and worker.headers["cache-control"] == "no-cache"
    )
    assert f'href="{url("manifest.webmanifest")}"' in client.get(url()).text


@pytest.fixture
def page() -> Iterator[Any]:
    with served() as address, browsing() as browser, phone(browser, address) as opened:
        yield opened


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")
def test_the_worker_keeps_nothing_of_people(page: Any) -> None:
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    assert page.locator("#shoot").is_visible() and page.locator("#camera").get_attribute("capture") == "environment"
    page.set_input_files("#camera", [SAMPLES / "chat.jpg"])
    assert page.locator(".thumbs li").count() == 1
    page.locator("button[name=mark]").tap()
    page.wait_for_selector(".picker")
    page.wait_for_load_state("networkidle")
    kept = page.evaluate(
        "caches.keys().then(async names => (await Promise.all(names.map(async name => (await (await caches.open(name)).keys())"
        ".map(asked => asked.url)))).flat())"
    )
    assert kept and all(re.search(r"/(static/[\w.-]+|look\.css)$", address) for address in kept)
