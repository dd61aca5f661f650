"""Nothing that axe-core finds keeps anybody out of a page: every page, light and dark, strong, on a phone and at a desk.

axe-core (Deque Systems, MPL 2.0) by the package `axe-playwright-python`; rules of WCAG 2.0 to 2.2, levels A and AA, and best
practices.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2
import pytest
import uvicorn

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.store import Store
from tests.web.enquiries.door import made
from tests.web.entry.test_sign_in import PASSWORD, WORDS, word_in
from tests.web.sending import AS_PHOTOGRAPHED, HOST, SAMPLES, TOKEN, url

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
from tests.web.browser import CHROMIUM, PHONE, browsing  # noqa: E402

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")

DESK = {"viewport": {"width": 1440, "height": 900}}
SMALL = {**PHONE, "viewport": {"width": 360, "height": 740}}


@contextmanager
def page_at(folder: Path, **options: Any) -> Iterator[str]:
    app = page_app(TOKEN, [HOST], cases=Cases(store=Store(folder)), **options)
    with socket.create_server((HOST, 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(app, log_level="critical", lifespan="on"))
        thread = threading.Thread(target=lambda: server.run(sockets=[listening]))
        thread.start()
        try:
            yield f"http://{HOST}:{listening.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(30)


def rig(client: httpx2.Client, name: str, **answers: str) -> str:
    sent = {"photos": (name, (SAMPLES / name).read_bytes(), "image/jpeg")}
    answer = client.post(url("measure"), data={**AS_PHOTOGRAPHED, "coupling": "ball-50", **answers}, files=sent)
    return str(answer.url.path)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, dict[str, str]]]:
    """A page with a dealer's and a customer's side, and every kind of address on it."""
    with (
        page_at(tmp_path_factory.mktemp("axe") / "kept") as at,
        httpx2.Client(base_url=at, follow_redirects=True) as client,
    ):
        measured, refused = rig(client, "within.jpg", tape="402"), rig(client, "coupled.jpg", coupled="yes")
        case, link = made(client)  # type: ignore[arg-type]
        case = case[case.index(f"/{TOKEN}") :]
        yield at, {
            "start": url(), "result": measured, "refused": refused, "mark": measured + "mark", "answers": measured + "answers",
            "guide": url("guide/measuring"), "nothing": url("nothing"), "stranger": "/elsewhere", "list": url("cases/"),
            "new": url("cases/new"), "settings": url("cases/settings"), "case": case, "customer": link,
            "question": link + "next", "photographs": link + "photographs",
        }  # fmt: skip


def complaints(page: Any) -> list[str]:
    found = axe.Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
        for one in found
        for node in one["nodes"]
    ]


@pytest.mark.parametrize(
    ("device", "scheme", "contrast"),
    [
        (SMALL, "light", "no-preference"),
        (SMALL, "dark", "no-preference"),
        (DESK, "dark", "more"),
        (DESK, "light", "more"),
    ],
    ids=["phone-light", "phone-dark", "desk-dark-strong", "desk-light-strong"],
)
def test_every_page(site: tuple[str, dict[str, str]], device: dict[str, Any], scheme: str, contrast: str) -> None:
    at, pages = site
    bad: dict[str, list[str]] = {}
    with browsing() as browser:
        context = browser.new_context(**device, color_scheme=scheme, contrast=contrast)  # type: ignore[arg-type]
        page = context.new_page()
        for name, path in pages.items():
            page.goto(at + path)
            page.wait_for_load_state("networkidle")
            found = complaints(page)
            wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
            if wide[0] > wide[1]:
                found.append(f"{wide[0]} wide in a window of {wide[1]}")
            if found:
                bad[name] = found
        context.close()
    assert bad == {}


def test_the_way_in_and_a_page_behind_it(tmp_path: Path) -> None:
    with page_at(tmp_path / "kept", password=PASSWORD) as at, browsing() as browser:
        for scheme in ("light", "dark"):
            context = browser.new_context(**SMALL, color_scheme=scheme)  # type: ignore[arg-type]
            page = context.new_page()
            page.goto(at)
            assert complaints(page) == []
            page.fill("#password", "not the password at all")
            page.keyboard.press("Enter")
            page.wait_for_selector("[role=alert]")
            assert complaints(page) == [] and word_in(page.content(), "form")
            page.fill("#password", WORDS)
            page.keyboard.press("Enter")
            page.wait_for_selector("text=Sign out")
            assert complaints(page) == []
            context.close()
