"""The front door's pages against axe-core's rules, light and dark, on a phone and at a desk."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM
from tests.web.enquiries.test_door_browser import SMALL, Program, answers, new_case, on, take

pytest.importorskip("axe_playwright_python", reason="axe-playwright-python is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")
from tests.web.enquiries.test_door_browser import browser, program  # noqa: E402, F401  # fixtures


def rules() -> str:
    spec = find_spec("axe_playwright_python")
    assert spec is not None and spec.origin is not None
    return (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")


def clean(page: Any) -> None:
    page.wait_for_load_state("networkidle")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        page.evaluate(rules() + ";0")
        found = page.evaluate(
            "axe.run(document).then(r => r.violations.map(v => [v.id, v.nodes[0].html, v.nodes[0].failureSummary]))"
        )
        assert found == [], (page.url, scheme)


def test_no_rule_is_broken(program: Program, browser: Any) -> None:  # noqa: F811
    # axe-core comes from outside and would be kept out
    desk = browser.new_context(viewport={"width": 1280, "height": 800}, bypass_csp=True).new_page()
    hand = browser.new_context(bypass_csp=True, **SMALL).new_page()
    for page in ("cases/", "cases/new", "cases/settings"):
        desk.goto(program.address + page)
        clean(desk)
    link = new_case(desk, program, "Ferncombe 7")
    clean(desk)
    for page in ("", "question/coupled", "question/bars", "photographs"):
        hand.goto(link + page)
        clean(hand)
    answers(hand, link)
    take(hand, "within.jpg")
    clean(hand)
    hand.goto(link + "photographs")
    clean(hand)
    on(hand, "text=That is all: send to Bo")
    clean(hand)
    desk.goto(program.address + "cases/")
    clean(desk)
    on(desk, "text=Ferncombe 7")
    desk.wait_for_selector(".badge", timeout=60_000)
    clean(desk)
    for page in ("plan", "delete"):
        desk.goto(desk.url.partition("#")[0].rstrip("/").removesuffix("/plan") + "/" + page)
        clean(desk)
    desk.context.close()
    hand.context.close()
