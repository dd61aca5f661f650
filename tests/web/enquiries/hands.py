"""What a customer's and a dealer's hands do in a browser, and the program that both talk to."""

from __future__ import annotations

import re
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.web.sending import SAMPLES
from tests.web.test_serve import started

GONE = re.compile(
    r"ERR_(INTERNET_DISCONNECTED|CONNECTION_REFUSED|EMPTY_RESPONSE|CONNECTION_RESET|CONNECTION_CLOSED|FAILED|INCOMPLETE_CHUNKED_ENCODING)"
)


@dataclass
class Program:
    """The program as a process that can be killed and started again at the same address."""

    place: Path
    port: int = 0
    process: subprocess.Popen[str] | None = None
    address: str = ""

    def start(self) -> None:
        self.process, printed = started(self.place, "--store", str(self.place / "kept"), "--port", str(self.port))
        found = re.search(r"http://127\.0\.0\.1:(\d+)/[a-z2-9-]{14}/", printed)
        assert found is not None, printed
        self.address, self.port = found[0], int(found[1])

    def kill(self, how: signal.Signals = signal.SIGKILL) -> None:
        assert self.process is not None
        self.process.send_signal(how)
        self.process.communicate(timeout=30)


@contextmanager
def window(browser: Any, **how: Any) -> Iterator[Any]:
    """A browser of its own; fails where a page complained of anything but a network that was gone."""
    context = browser.new_context(**how)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert [said for said in complaints if not GONE.search(said)] == []


def on(page: Any, what: str) -> None:
    """Pressed, and the next page is there."""
    with page.expect_navigation(wait_until="load"):
        page.click(what)


def new_case(desk: Any, program: Program, rig: str, *, shown: bool = False) -> str:
    """Made at the desk; returns the link."""
    desk.goto(program.address + "cases/")
    on(desk, "text=New case")
    desk.fill("#rig", rig)
    desk.fill("#customer", "Ada")
    desk.fill("#by", "Bo")
    if shown:
        desk.click("text=The customer sees the height")
    on(desk, "button.primary")
    return str(desk.locator(".sent-link a").get_attribute("href"))


def fits(page: Any) -> None:
    """Nothing to scroll sideways, and what is pressed is large enough and has a name."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
    from tests.web.browser import check_pressed  # asks for Playwright, which this module does not

    assert check_pressed(page) >= 1


def answers(hand: Any, link: str) -> None:
    hand.goto(link)
    fits(hand)
    on(hand, "text=I have the sheet: begin")
    for button in ("No, the ball is bare", "No, empty or nearly", "Yes, hard and flat"):
        fits(hand)
        on(hand, f"text={button}")
    hand.fill("#bar_x", "150")
    hand.fill("#bar_y", "150")
    fits(hand)
    on(hand, "text=Go on")
    hand.wait_for_selector("#photograph")


def take(hand: Any, name: str) -> str:
    """A photograph; returns what is said of it."""
    hand.set_input_files("#camera", SAMPLES / name)
    hand.wait_for_selector(".seen", timeout=120_000)
    hand.wait_for_load_state("load")
    fits(hand)
    return str(hand.locator(".seen").inner_text())
