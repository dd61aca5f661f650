"""Nothing that axe-core finds keeps anybody out of a page: every page, light and dark, strong, on a phone and at a desk."""

from __future__ import annotations

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
from tests.web.serving import serving

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.axe import broken_rules  # noqa: E402
from tests.web.browser import CHROMIUM, SMALL  # noqa: E402

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")

DESK = {"viewport": {"width": 1440, "height": 900}}


@contextmanager
def page_at(folder: Path, **options: Any) -> Iterator[str]:
    app = page_app(TOKEN, [HOST], cases=Cases(store=Store(folder)), **options)
    with serving(uvicorn.Config(app, log_level="critical", lifespan="on")) as port:
        yield f"http://{HOST}:{port}"


def rig(client: httpx2.Client, name: str, **answers: str) -> str:
    sent = {"photos": (name, (SAMPLES / name).read_bytes(), "image/jpeg")}
    answer = client.post(url("measure"), data={**AS_PHOTOGRAPHED, "coupling": "ball-50", **answers}, files=sent)
    assert answer.status_code == 200 and "/rig/" in answer.url.path
    return str(answer.url.path)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, dict[str, str]]]:
    """A page with a dealer's and a customer's side, and every kind of address on it."""
    with (
        page_at(tmp_path_factory.mktemp("axe") / "kept") as at,
        httpx2.Client(base_url=at, follow_redirects=True) as client,
    ):
        measured, refused = rig(client, "within.jpg", tape="402"), rig(client, "chat.jpg", coupled="yes")
        client.post(url("remembered/print"), data={"number": "468779", "bar_x": "149.6", "bar_y": "150.1"})
        case, link = made(client)  # type: ignore[arg-type]
        case = case[case.index(f"/{TOKEN}") :]
        yield at, {
            "start": url(), "result": measured, "refused": refused, "mark": measured + "mark", "answers": measured + "answers",
            "guide": url("guide/measuring"), "nothing": url("nothing"), "stranger": "/elsewhere", "list": url("cases/"),
            "new": url("cases/new"), "settings": url("cases/settings"), "remembered": url("remembered/"), "case": case, "customer": link,
            "question": link + "next", "photographs": link + "photographs",
        }  # fmt: skip


@pytest.mark.parametrize(
    ("device", "scheme", "contrast"),
    [
        pytest.param(SMALL, "light", "no-preference", marks=pytest.mark.slow),  # two of the pages: below
        pytest.param(SMALL, "dark", "no-preference", marks=pytest.mark.slow),
        # colours that are chosen otherwise are compared by test_look.py; the page is the same
        pytest.param(DESK, "dark", "more", marks=pytest.mark.slow),
        pytest.param(DESK, "light", "more", marks=pytest.mark.slow),
    ],
    ids=["phone-light", "phone-dark", "desk-dark-strong", "desk-light-strong"],
)
def test_every_page(
    site: tuple[str, dict[str, str]], browser: Any, device: dict[str, Any], scheme: str, contrast: str
) -> None:
    at, pages = site
    bad: dict[str, list[str]] = {}
    context = browser.new_context(**device, color_scheme=scheme, contrast=contrast)
    page = context.new_page()
    for name, path in pages.items():
        shown = page.goto(at + path)
        assert shown is not None and shown.status == (404 if name in ("nothing", "stranger") else 200), name
        assert name != "refused" or "Cannot measure" in page.content()
        found = broken_rules(page)
        wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        if wide[0] > wide[1]:
            found.append(f"{wide[0]} wide in a window of {wide[1]}")
        if found:
            bad[name] = found
    context.close()
    assert bad == {}


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.slow)])
def test_the_way_in_and_a_page_behind_it(browser: Any, tmp_path: Path, scheme: str) -> None:
    with page_at(tmp_path / "kept", password=PASSWORD) as at:
        context = browser.new_context(**SMALL, color_scheme=scheme)
        page = context.new_page()
        page.goto(at)
        assert broken_rules(page) == []
        page.fill("#password", "not the password at all")
        page.keyboard.press("Enter")
        page.wait_for_selector("[role=alert]")
        assert broken_rules(page) == [] and word_in(page.content(), "form")
        page.fill("#password", WORDS)
        page.keyboard.press("Enter")
        page.wait_for_selector("text=Sign out")
        assert broken_rules(page) == []
        context.close()


def test_a_rule_that_is_broken_is_found(browser: Any) -> None:
    """The check can fail: a picture without words, and letters that can hardly be seen."""
    page = browser.new_page()
    page.set_content(
        "<!doctype html><html lang=en><title>x</title><main><h1>x</h1><img src='data:,'><p style='color:#ddd'>pale</p>"
    )
    found = " ".join(broken_rules(page))
    page.close()
    assert "image-alt" in found and "color-contrast" in found
