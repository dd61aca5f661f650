"""A real page in a real browser: the server in a thread of its own, Debian's chromium, a phone's screen."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import uvicorn
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from photomeasure.web.app import page_app
from tests.web.sending import HOST, SAMPLES, TOKEN
from tests.web.serving import serving

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PHONE = {
    "viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2,
}  # fmt: skip
LEAST_TARGET = 44.0  # CSS pixels: WCAG 2.1, 2.5.5 (from memory)
SMALL = {**PHONE, "viewport": {"width": 360, "height": 740}}
_FLAGS = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--no-first-run"]


@contextmanager
def served() -> Iterator[str]:
    """The page's address."""
    with serving(uvicorn.Config(page_app(TOKEN, [HOST]), log_level="critical", lifespan="on")) as port:
        yield f"http://{HOST}:{port}/{TOKEN}/"


@contextmanager
def browsing() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=_FLAGS)
        yield browser
        browser.close()


def small(place: Path, *names: str) -> list[Path]:
    """Sample photographs under their names at a quarter of their size, where it proves nothing how large they are."""
    for name in names:
        with Image.open(SAMPLES / name) as picture:
            picture.resize((picture.width // 4, picture.height // 4)).save(place / name, exif=picture.getexif())
    return [place / name for name in names]


@contextmanager
def pocketed(browser: Browser, address: str) -> Iterator[BrowserContext]:
    """A phone whose browser stays open: starting it anew for every test costs twice as much as opening the page."""
    context: BrowserContext = browser.new_context(**PHONE)  # type: ignore[arg-type]
    context.new_page().goto(address)
    yield context
    context.close()


@contextmanager
def phone(pocket: BrowserContext, address: str) -> Iterator[Page]:
    """A page on a phone; fails where the browser complained of anything or asked anything of another address.

    Nothing is left of what the page kept in the browser: it keeps cookies alone.
    """
    pocket.clear_cookies()
    page = pocket.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda asked: complaints.extend([] if asked.url.startswith((address, "blob:")) else [asked.url]))
    page.goto(address)
    yield page
    page.close()
    assert complaints == [], complaints


def red_disc(page: Page) -> tuple[float, float, float]:
    """Where a red disc is seen on the first canvas: centre x, y and radius, CSS pixels of the window.

    (0, 0) is the window's upper left corner as an edge, as it is for taps.
    """
    box = page.locator(".stage canvas").first.bounding_box()
    assert box is not None
    picture = Image.open(io.BytesIO(page.screenshot(clip=box, scale="device"))).convert("RGB")
    seen: NDArray[np.float64] = np.asarray(picture, dtype=np.float64)
    red = np.clip((seen[..., 0] - seen[..., 1:].max(axis=2)) / 150.0, 0.0, 1.0)
    red[red < 0.1] = 0.0
    y, x = np.mgrid[: red.shape[0], : red.shape[1]] + 0.5
    area = red.sum()
    scale = picture.width / box["width"]
    return (
        box["x"] + float((red * x).sum() / area) / scale,
        box["y"] + float((red * y).sum() / area) / scale,
        float(np.sqrt(area / np.pi)) / scale,
    )


def check_pressed(page: Page) -> int:
    """How many things can be pressed; each of them is large enough, its letters too, and has a name."""
    found = page.evaluate(
        """() => [...document.querySelectorAll(`button, select, summary, a.button, label.button, .segments label, .tick,
        input:not([type=radio], [type=file], [type=hidden], [type=checkbox])`)].filter(e => e.checkVisibility()).map(e => {
          const box = e.getBoundingClientRect();
          const name = e.getAttribute('aria-label') || e.textContent.trim() || e.labels?.[0]?.textContent || '';
          return [e.outerHTML.slice(0, 80), box.width, box.height, parseFloat(getComputedStyle(e).fontSize), name];
        })"""
    )
    for what, wide, high, letters, name in found:
        assert wide >= LEAST_TARGET and high >= LEAST_TARGET and letters >= 16 and name, (what, wide, high)
    return len(found)
