"""The ring in a real browser: it is as large as the ball, the figure follows the finger, and what stays is the program's own."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.web.sending import SAMPLES

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, small  # noqa: E402

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")


def to_mark(page: Any, *photos: Path) -> None:
    page.set_input_files("#photos", photos)
    for field, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
        page.locator(f"label:has([name={field}][value='{value}'])").click()
    page.fill("#bar_x", "150")
    page.fill("#bar_y", "150")
    page.locator("button[name=mark]").click()
    page.wait_for_selector(".picker")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(150)


def told(page: Any) -> str:
    until(page, lambda: "mm" in page.locator(".live-said").inner_text())
    return str(page.locator(".live-said").inner_text())


def until(page: Any, done: Callable[[], bool]) -> None:
    """Wait; a page's own policy forbids what Playwright would evaluate for it."""
    for _ in range(200):
        if done():
            return
        page.wait_for_timeout(50)
    raise AssertionError("it did not come")


def test_the_figure_follows_the_finger_and_the_programs_own_stays(page: Any) -> None:
    to_mark(page, SAMPLES / "within.jpg")
    box = page.locator(".stage canvas").first.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*middle)
    before = told(page)
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *point: float) -> None:
        places = [{"x": point[0], "y": point[1]}] if point else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})

    heights = []
    touch("touchStart", *middle)
    for step in range(1, 16):
        touch("touchMove", middle[0], middle[1] - 3 * step)
        page.wait_for_timeout(40)  # moves are handed to a page frame by frame
        heights.append(float(page.locator(".live").get_attribute("data-millimetres") or "nan"))
    assert "going" in page.locator(".live").get_attribute("class")
    went = [b - a for a, b in pairwise(heights[3:])]  # beyond the slop of a finger
    assert all(step > 0.5 for step in went), heights  # upwards with the finger, at every move
    last = heights[-1]
    touch("touchEnd")
    until(page, lambda: "going" not in page.locator(".live").get_attribute("class"))
    until(page, lambda: page.locator(".live-said").inner_text() != before)
    after = told(page)
    digit = 0.1 if "." in after.split()[0] else 1.0
    assert float(after.split()[0]) == pytest.approx(last, abs=0.51 * digit)  # half a printed digit
    page.locator("button.primary").tap()
    page.wait_for_selector(".figure")
    assert page.locator(".figure .height").inner_text().split()[0] == after.split()[0]


@pytest.mark.slow  # its size on the screen; what it says: above
def test_the_ring_is_as_large_as_the_ball(page: Any) -> None:
    """By the outline that the program itself fits in the same photograph: 25 mm at the sheet's scale there."""
    to_mark(page, SAMPLES / "within.jpg")
    page.locator(".stage canvas").first.focus()
    page.keyboard.press("Enter")
    told(page)
    ring = page.evaluate(
        """async () => { const form = document.querySelector('form.marking');
        const mark = ['#x1', '#y1'].map(at => Number(document.querySelector(at).value));
        const answer = await fetch(form.dataset.live, {method: 'POST', headers: {'content-type': 'application/json'},
          body: JSON.stringify([[...mark, 1]])});
        const { table } = await answer.json();
        const points = geometry.outline(table.cameras[0], table.plane, table.ball, mark);
        const across = points.map(([x, y]) => Math.hypot(x - mark[0], y - mark[1]));
        const world = geometry.meets(table.cameras[0], table.plane, mark);
        const beside = geometry.seen(table.cameras[0], [world[0] + 25, world[1], world[2]]);
        return [Math.min(...across), Math.max(...across), Math.hypot(beside[0] - mark[0], beside[1] - mark[1])]; }"""
    )
    least, most, of_25_mm = ring
    assert least == pytest.approx(of_25_mm, rel=0.02) and most == pytest.approx(of_25_mm, rel=0.02)
    assert most / least < 1.02  # near the middle of a picture a ball is nearly a circle


@pytest.mark.slow  # the ring itself is dragged and sized above
def test_nothing_scrolls_behind_the_finger_and_photographs_are_reached(page: Any, tmp_path: Path) -> None:
    to_mark(page, *small(tmp_path, "set-1.jpg", "set-2.jpg", "set-3.jpg"))
    high = page.evaluate(
        "[document.documentElement.scrollHeight, innerHeight, document.documentElement.scrollWidth, innerWidth]"
    )
    assert high[0] <= high[1] and high[2] <= high[3]
    stage = page.locator(".stage").first.bounding_box()
    assert stage["height"] > 0.4 * high[1] and page.locator(".actions button").bounding_box()["y"] < high[1] - 40
    page.locator("[data-show='2']").tap()
    assert [page.locator(f".picker[data-number='{i}']").is_visible() for i in (1, 2, 3)] == [False, True, False]


@pytest.mark.slow  # a desk's width; a phone's above
def test_side_by_side_where_there_is_room(browser: Any, address: str, tmp_path: Path) -> None:
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    page.goto(address)
    to_mark(page, *small(tmp_path, "set-1.jpg", "set-2.jpg", "set-3.jpg"))
    boxes = [page.locator(".stage").nth(i).bounding_box() for i in range(3)]
    assert boxes[0]["y"] == boxes[1]["y"] == boxes[2]["y"] and boxes[0]["x"] < boxes[1]["x"] < boxes[2]["x"]
    assert all(box["width"] > 400 and box["height"] > 400 for box in boxes)
    context.close()
