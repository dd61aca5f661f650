"""Prints and phones as a dealer's hands use them on a small phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, SMALL
from tests.web.enquiries.hands import Program, fits, on, window

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")


@pytest.mark.slow  # the same by the pages alone: test_known.py
def test_a_print_is_remembered_and_forgotten_and_a_calibration_waited_for(
    program: Program, browser: Any, tmp_path: Path
) -> None:
    with window(browser, **SMALL) as hand:
        hand.goto(program.address + "cases/")
        on(hand, "text=Prints and phones")
        fits(hand)
        for field, typed in (("#number", "468779"), ("#bar_x", "149,6"), ("#bar_y", "250.1")):
            hand.fill(field, typed)
        on(hand, "text=Remember the print")
        assert "Bar X 149.6 mm, bar Y 250.1 mm" in hand.locator(".known").inner_text()
        fits(hand)
        if hand.locator("#boards").is_hidden():
            hand.click("summary:has-text('Calibrate a phone')")
        assert hand.locator("#sheet_x").is_visible() and hand.locator("#columns").is_hidden()
        hand.locator("[value=chessboard]").tap()
        assert hand.locator("#sheet_x").is_hidden() and hand.locator("#columns").is_visible()
        fits(hand)
        for field, typed in (("#columns", "9"), ("#rows", "6"), ("#square", "25")):
            hand.fill(field, typed)
        files = [tmp_path / f"{number}.jpg" for number in range(3)]
        for number, file in enumerate(files):
            file.write_bytes(b"no photograph" * (number + 1))
        hand.set_input_files("#boards", files)
        on(hand, "button:has-text('Calibrate')")
        hand.wait_for_selector("text=was not calibrated", timeout=60_000)  # the page comes again by itself
        fits(hand)
        on(hand, "[aria-label='Forget print 468779']")
        assert hand.locator(".known").count() == 0
