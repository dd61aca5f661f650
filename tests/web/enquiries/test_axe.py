"""The front door's pages against axe-core's rules, light and dark, on a phone and at a desk, as a round goes on."""

from __future__ import annotations

from typing import Any

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.axe import broken_rules
from tests.web.browser import CHROMIUM, SMALL
from tests.web.enquiries.hands import Program, answers, new_case, on, take

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")


def broken(page: Any) -> dict[str, list[str]]:
    """The rules that the page breaks, by colours."""
    found = {}
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found[scheme] = broken_rules(page)
    return found


NONE: dict[str, list[str]] = {"light": [], "dark": []}


@pytest.mark.slow  # every page is looked at once by tests/web/test_axe.py
def test_no_rule_is_broken(program: Program, browser: Any) -> None:
    # axe-core comes from outside and would be kept out
    desk = browser.new_context(viewport={"width": 1280, "height": 800}, bypass_csp=True).new_page()
    hand = browser.new_context(bypass_csp=True, **SMALL).new_page()
    for page in ("cases/", "cases/new", "cases/settings"):
        desk.goto(program.address + page)
        assert broken(desk) == NONE, page
    link = new_case(desk, program, "Ferncombe 7")
    assert broken(desk) == NONE
    for page in ("", "question/coupled", "question/bars", "photographs"):
        hand.goto(link + page)
        assert broken(hand) == NONE, page
    answers(hand, link)
    take(hand, "within.jpg")
    assert broken(hand) == NONE
    hand.goto(link + "photographs")
    assert broken(hand) == NONE
    on(hand, "text=That is all: send to Bo")
    assert broken(hand) == NONE
    desk.goto(program.address + "cases/")
    assert broken(desk) == NONE
    on(desk, "text=Ferncombe 7")
    desk.wait_for_selector(".badge", timeout=60_000)
    assert broken(desk) == NONE
    for page in ("plan", "delete"):
        desk.goto(desk.url.partition("#")[0].rstrip("/").removesuffix("/plan") + "/" + page)
        assert broken(desk) == NONE, page
    desk.context.close()
    hand.context.close()
