"""The page as a fitter meets it: on a phone, with a finger; by Playwright and the system's chromium."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from photomeasure.seen.look import Refused
from photomeasure.web import measuring
from tests.web.sending import SAMPLES

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, check_pressed, red_disc, small  # noqa: E402

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")

SIZE, DISC, RADIUS_PX = (3001, 2251), (1237.25, 803.75), 14.0
ABOVE = (2044.079, 1424.233)  # above.toml


@pytest.fixture(scope="module")
def disc(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A grey photograph with odd sides and a red disc at a known place."""
    x, y = np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1]))
    share = np.clip(RADIUS_PX + 0.5 - np.hypot(x - DISC[0], y - DISC[1]), 0.0, 1.0)[..., None]
    picture = 120.0 * (1 - share) + np.array([255.0, 20.0, 20.0]) * share
    path = tmp_path_factory.mktemp("disc") / "disc.jpg"
    Image.fromarray(picture.round().astype(np.uint8)).save(path, "JPEG", quality=95, subsampling=0)
    return path


def arrived(page: Any, at: str) -> None:
    """The next page is there, with its style sheets."""
    page.wait_for_selector(at)
    page.wait_for_load_state("load")


def answer(page: Any, coupled: str = "no") -> None:
    for field, value in (("coupled", coupled), ("laden", "no"), ("level_ground", "yes")):
        page.locator(f"label:has([name={field}][value='{value}'])").tap()
    page.fill("#bar_x", "150")
    page.fill("#bar_y", "150")


def test_upload_measure_and_read_the_verdict(page: Any) -> None:
    page.set_input_files("#photos", [SAMPLES / "within.jpg"])
    page.wait_for_function("document.querySelector('.thumbs img')?.naturalWidth > 0")
    answer(page)
    button = page.locator("button.primary")
    button.tap()
    arrived(page, ".answer")
    assert page.locator(".badge").inner_text() == "Within the band, if ..."
    assert page.locator(".badge svg polygon").count() == 1  # a sign beside the words
    figure = page.locator(".figure .height")
    assert figure.inner_text().startswith("40") and figure.inner_text().endswith(" mm")
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.figure .height')).fontSize)") >= 48
    box = page.locator(".figure").bounding_box()
    assert box["y"] + box["height"] < 844 and page.locator(".scale").bounding_box()["width"] > 300
    assert page.evaluate("document.documentElement.scrollWidth") <= 390  # nothing to scroll sideways
    page.fill("#reading", "402")
    page.locator("text=Compare and keep").tap()
    page.wait_for_selector("#tape .facts")
    assert "agree" in page.locator("#tape .facts").inner_text()
    page.get_by_text("The whole uncertainty budget").tap()
    assert page.locator(".budget tbody tr").count() >= 5
    with page.expect_download() as taken:
        page.locator("text=Report (PDF)").tap()
    assert taken.value.suggested_filename == "within-report.pdf"


def test_the_button_shows_that_it_works_and_cannot_be_pressed_twice(page: Any) -> None:
    page.set_input_files("#photos", [SAMPLES / "chat.jpg"])
    sent: list[str] = []
    page.on("request", lambda asked: sent.extend([asked.url] if asked.method == "POST" else []))
    busy, said = page.evaluate(
        """async () => {
          const button = document.querySelector('button.primary');
          button.click();
          await new Promise(done => setTimeout(done, 20));
          button.click();
          return [button.getAttribute('aria-busy'), button.textContent];
        }"""
    )
    assert busy == "true" and said == "Measuring\N{HORIZONTAL ELLIPSIS}"
    arrived(page, ".answer")
    assert len(sent) == 1


def test_photographs_are_added_one_by_one_and_no_more_than_three(page: Any, tmp_path: Path) -> None:
    chat, within, above, coupled = small(tmp_path, "chat.jpg", "within.jpg", "above.jpg", "coupled.jpg")
    for photo in (chat, within):
        page.set_input_files("#photos", [photo])
    assert page.locator(".thumbs li").count() == 2
    page.set_input_files("#photos", [above, coupled])
    assert page.locator(".thumbs li").count() == 3 and "At most 3" in page.locator("#photos-said").inner_text()
    page.locator("[aria-label='Remove within.jpg']").tap()
    assert page.evaluate("[...document.querySelector('#photos').files].map(f => f.name)") == ["chat.jpg", "above.jpg"]


@pytest.mark.slow  # by the pages alone: enquiries/test_plain_forms.py, and every other test of forms
def test_without_script_it_is_a_plain_form(browser: Any, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    page.set_input_files("#photos", [SAMPLES / "chat.jpg"])
    page.locator("button[name=mark]").click()
    page.wait_for_selector("noscript img, img.whole")
    page.fill("#x1", "820.26")
    page.fill("#y1", "596.006")
    page.locator("button.primary").click()
    assert page.locator(".figure .height").inner_text().endswith(" mm")
    context.close()


def test_the_rule_below_the_choice_follows_it(page: Any) -> None:
    assert "350 to 460 mm" in page.locator("#rule-said").inner_text()
    page.locator("label:has([value=pin])").tap()
    assert "no band is known to apply" in page.locator("#rule-said").inner_text()
    page.select_option("#rule", "dk")
    assert "Detailforskrifter" in page.locator("#rule-said").inner_text()


def test_everything_that_is_pressed_is_large_enough_and_has_a_name(page: Any) -> None:
    page.set_input_files("#photos", [SAMPLES / "chat.jpg"])
    answer(page, coupled="yes")  # refused, so that there is a picture to mark
    for _ in ("start", "refused"):
        assert check_pressed(page) >= 9
        if page.locator(".answer").count() == 0:
            page.locator("button.primary").tap()
            arrived(page, ".answer")


def clear(page: Any) -> None:
    page.locator("[data-clear]").evaluate("button => button.click()")


def marked(page: Any) -> tuple[float, float]:
    return float(page.input_value("#x1")), float(page.input_value("#y1"))


def to_mark(page: Any, photo: Path) -> None:
    page.set_input_files("#photos", [photo])
    page.locator("button[name=mark]").tap()
    arrived(page, ".picker")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(150)


def seen(page: Any) -> tuple[float, float, float]:
    """Where the disc is seen, without mark and loupe in the way."""
    clear(page)
    page.locator(".stage").first.evaluate("e => e.scrollIntoView({block: 'center'})")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(150)
    return red_disc(page)


def tapped_within_half_a_displayed_pixel(page: Any) -> float:
    """Tap where the disc is seen; returns CSS pixels per pixel of the photograph, by the disc's size on the screen."""
    x, y, radius = seen(page)
    page.touchscreen.tap(x, y)
    scale = radius / RADIUS_PX
    found = marked(page)
    assert abs(found[0] - DISC[0]) <= 0.5 / scale and abs(found[1] - DISC[1]) <= 0.5 / scale, (found, scale)
    # a finger that taps is off by 4 CSS pixels (judgement): as many of the photograph's as the zoom makes of them
    assert float(page.locator("#u1").input_value()) == pytest.approx(float(np.hypot(0.5, 4.0 / scale)), rel=0.15)
    return float(scale)


def test_a_tap_gives_the_photographs_own_coordinates(page: Any, disc: Path) -> None:
    """The disc's place is known; where it is on the screen is seen in a screenshot, and there the finger taps."""
    to_mark(page, disc)
    whole = tapped_within_half_a_displayed_pixel(page)
    assert 0.08 < whole < 0.16  # the whole photograph on a phone's screen
    x, y, _ = seen(page)
    page.mouse.move(x, y)
    page.mouse.wheel(0, -3200)  # zoom around the disc
    larger = tapped_within_half_a_displayed_pixel(page)
    assert larger > 2.0  # so that half a pixel too much would be seen
    box = page.locator(".stage canvas").first.bounding_box()
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        places = [{"x": px, "y": py, "id": i} for i, (px, py) in enumerate(points)]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})

    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] - 60)
    before = seen(page)
    touch("touchStart", middle)
    for step in range(1, 9):
        touch("touchMove", (middle[0] + 7 * step, middle[1] - 5 * step))
    touch("touchEnd")
    page.wait_for_timeout(100)
    after = red_disc(page)
    assert after[0] - before[0] > 30 and before[1] - after[1] > 20  # the picture went with the finger
    tapped_within_half_a_displayed_pixel(page)
    touch("touchStart", (middle[0] - 40, middle[1]), (middle[0] + 40, middle[1]))
    for step in range(1, 9):
        touch("touchMove", (middle[0] - 40 - 6 * step, middle[1]), (middle[0] + 40 + 6 * step, middle[1]))
    touch("touchEnd")
    page.locator("[data-zoom=all]").tap()
    assert abs(tapped_within_half_a_displayed_pixel(page) - whole) < 0.02


@pytest.mark.slow  # a tap at a known place: above
def test_the_mark_is_dragged_under_a_loupe_beside_the_finger_and_nudged(page: Any, disc: Path) -> None:
    to_mark(page, disc)
    page.locator(".stage").first.evaluate("e => e.scrollIntoView({block: 'center'})")
    x, y, radius = red_disc(page)
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *point: float) -> None:
        places = [{"x": point[0], "y": point[1]}] if point else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})

    touch("touchStart", x - 40, y + 20)
    page.wait_for_timeout(500)  # held still, it takes hold of the mark
    touch("touchMove", x, y)
    page.wait_for_timeout(100)
    loupe = page.locator(".loupe").bounding_box()
    beside = loupe["x"] > x + 20 or loupe["x"] + loupe["width"] < x - 20
    above = loupe["y"] + loupe["height"] < y - 20
    assert loupe["width"] > 100 and (beside or above)
    touch("touchEnd")
    scale = radius / RADIUS_PX
    start = marked(page)
    assert abs(start[0] - DISC[0]) <= 1.0 / scale and abs(start[1] - DISC[1]) <= 1.0 / scale
    page.locator("[aria-label='one pixel left']").tap()
    page.locator("[aria-label='one pixel down']").tap()
    assert marked(page) == pytest.approx((start[0] - 1, start[1] + 1), abs=0.011)
    page.locator(".stage canvas").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    assert marked(page) == pytest.approx((start[0], start[1] - 9), abs=0.011)


@pytest.mark.slow  # a tap at a known place: above
def test_a_refusal_shows_what_could_be_the_centre_and_measures_with_the_pick(
    page: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Candidates are put there, so that the test does not hang on how much the search of the ball finds by itself."""
    real = measuring.recorded  # type: ignore[attr-defined]

    def with_candidates(*arguments: Any, **more: Any) -> Any:
        outcome, made = real(*arguments, **more)
        seen = ((np.array([1800.0, 1500.0]), np.array(ABOVE)),)
        return (replace(outcome, candidates_px=seen) if isinstance(outcome, Refused) else outcome), made

    monkeypatch.setattr(measuring, "recorded", with_candidates)
    page.set_input_files("#photos", [SAMPLES / "above.jpg"])
    answer(page, coupled="yes")  # its head hides the ball, and no tag is there
    page.locator("button.primary").tap()
    arrived(page, ".badge")
    assert page.locator(".badge").inner_text() == "Cannot measure"
    page.locator("text=Mark it in the photograph").tap()
    arrived(page, ".picker")
    page.locator(".candidate >> text=B").tap()
    assert marked(page) == pytest.approx(ABOVE, abs=0.011)
    page.locator(".marking button.primary").tap()
    arrived(page, ".figure")
    assert page.locator(".badge").inner_text() == "Above the band, if ..."
    assert page.locator(".lead").inner_text().startswith("No drop or rise can be chosen")
    assert "marked by hand" in page.locator(".facts").last.inner_text()


def test_what_has_the_focus_is_not_behind_the_buttons(page: Any) -> None:
    """WCAG 2.2, 2.4.11, with the keyboard, from the first field to the last."""
    page.locator("[name=coupling]").first.focus()
    for _ in range(40):
        page.keyboard.press("Tab")
        hidden = page.evaluate(
            """() => { const on = document.activeElement, bar = document.querySelector(".actions");
            if (!on || on === document.body || bar.contains(on)) return false;
            const [box, buttons] = [on, bar].map((one) => one.getBoundingClientRect());
            return box.top >= buttons.top && box.bottom <= buttons.bottom; }"""
        )
        assert not hidden
