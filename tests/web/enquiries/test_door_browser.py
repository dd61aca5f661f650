"""The round in two real browsers, a phone and a desk; with the network gone, the program killed, links that have ended."""

from __future__ import annotations

import hashlib
import io
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.web.sending import SAMPLES

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, SMALL  # noqa: E402
from tests.web.enquiries.hands import Program, answers, fits, new_case, on, take, window  # noqa: E402

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")


@pytest.fixture
def desk(browser: Any) -> Iterator[Any]:
    with window(browser, viewport={"width": 1280, "height": 800}) as page:
        yield page


@pytest.fixture
def hand(browser: Any) -> Iterator[Any]:
    """The customer's phone."""
    with window(browser, **SMALL) as page:
        yield page


@pytest.mark.slow  # what tells it, by the pages alone: test_telling.py
def test_the_open_list_tells_by_title_and_sign(program: Program, desk: Any, browser: Any) -> None:
    with window(browser) as hand:
        link = new_case(desk, program, "Ferncombe news")
        hand.goto(link)
        desk.goto(program.address + "cases/")
        assert desk.title().startswith("Cases -")
        assert desk.locator("link[rel=icon]").get_attribute("href").endswith("/icon.svg")
        hand.goto(link + "photographs")
        hand.evaluate(
            """(at) => fetch(at, {method: "POST", body: new URLSearchParams({text: "Is it far?"})}).then(a => a.ok)""",
            link + "message",
        )
        desk.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        desk.wait_for_selector("text=1 message", timeout=20_000)
        assert desk.title().startswith("Cases (1 new)")
        assert desk.locator("link[rel=icon]").get_attribute("href").endswith("/icon-new.svg")
        assert desk.evaluate("fetch(document.querySelector('link[rel=icon]').href).then(a => a.ok)")
        on(desk, "text=Ferncombe news")  # looked at, so that what is new to the next test is its own


@pytest.mark.slow  # its half of a customer who sends: below; all of it by the pages alone: test_round.py, test_plain_forms.py
def test_the_whole_round(program: Program, desk: Any, hand: Any) -> None:
    link = new_case(desk, program, "Ferncombe 7", shown=True)
    drawn = Image.open(io.BytesIO(desk.locator(".square svg").screenshot())).convert("L")
    assert cv2.QRCodeDetector().detectAndDecode(np.asarray(drawn))[0] == link
    answers(hand, link)
    assert hand.locator("#camera").get_attribute("capture") == "environment"
    assert take(hand, "within.jpg") == "Good: sheet and ball found."
    assert hand.locator(".shown").evaluate("e => e.naturalWidth") > 400
    on(hand, "text=Next photograph")
    hand.wait_for_selector("#photograph")
    assert "further left" in hand.locator("#photograph .lead").inner_text()
    assert "Get all of it into the picture" in take(hand, "refuse.jpg")
    on(hand, "text=Take it again")
    hand.wait_for_selector(".sofar")
    assert hand.locator(".sofar li").count() == 1
    fits(hand)
    on(hand, "text=That is all: send to Bo")
    hand.wait_for_selector("text=Thank you. Bo will answer.")
    hand.wait_for_selector(".figure", timeout=60_000)
    assert hand.locator(".figure").inner_text() == "401.9 mm"
    # the dealer answers and asks once more
    desk.goto(program.address + "cases/")
    assert desk.locator("tr.is-new").count() == 1
    on(desk, "text=Ferncombe 7")
    desk.wait_for_load_state("networkidle")
    assert desk.locator(".badge").inner_text() == "Within the band, if ..." and desk.locator(".shots li").count() == 2
    desk.select_option("#sentence", label="Please take the cap off the ball, and photograph it again.")
    on(desk, "button:has-text('Ask')")
    assert "Asked: Please take the cap off" in desk.locator(".compared").inner_text()
    # and the customer again, by the same link
    hand.goto(link)
    assert hand.locator("h1").inner_text() == "Bo asks for one more photograph"
    fits(hand)
    on(hand, "text=Go on")
    on(hand, "text=No, all stands as it was")
    hand.wait_for_selector("#photograph")
    assert "Good: sheet and ball found. Better still: hold the phone" in take(hand, "set-3.jpg")
    on(hand, "text=Keep it and go on")
    on(hand, "text=That is all: send to Bo")
    hand.wait_for_selector("text=Thank you. Bo will answer.")
    desk.goto(program.address + "cases/?new=1")
    assert desk.locator("tr.is-new").count() == 1
    another = new_case(desk, program, "Ferncombe 9")
    desk.goto(program.address + "cases/?text=Ferncombe+9")
    assert "not opened yet" in desk.locator("td[data-said=State]").inner_text()
    hand.goto(another)
    desk.evaluate(
        "document.dispatchEvent(new Event('visibilitychange'))"
    )  # looked at again: the list is as new as the store
    desk.wait_for_selector("td:has-text('opened, nothing sent')", timeout=20_000)
    for page in ("cases/", "cases/new", "cases/settings"):
        desk.set_viewport_size({"width": 360, "height": 740})
        desk.goto(program.address + page)
        fits(desk)
    desk.goto(program.address + "cases/")
    on(desk, "text=Ferncombe 7")
    fits(desk)


def uploads(program: Program, rig: str) -> list[str]:
    """Digests of the files that are photographs of a rig."""
    with sqlite3.connect(program.place / "kept" / "store.sqlite") as database:
        rows = database.execute(
            "SELECT e.folder, p.file FROM photographs p JOIN enquiries e ON e.key = p.enquiry WHERE e.about LIKE ?",
            (f"%{rig}%",),
        ).fetchall()
    return [
        hashlib.sha256((program.place / "kept/photographs" / row[0] / row[1]).read_bytes()).hexdigest() for row in rows
    ]


@pytest.mark.parametrize("broken", ["network", pytest.param("program", marks=pytest.mark.slow)])
def test_broken_in_the_middle_it_goes_on_where_it_was(program: Program, desk: Any, hand: Any, broken: str) -> None:
    rig = f"Ferncombe broken {broken}"
    link = new_case(desk, program, rig)
    answers(hand, link)
    hand.evaluate("document.querySelector('#photograph').dataset.piece = 200000")
    offsets: list[int] = []

    def break_it() -> None:
        if broken == "network":
            hand.context.set_offline(True)
        else:
            program.kill()

    def piece(route: Any) -> None:
        offsets.append(int(route.request.url.partition("offset=")[2]))
        if len(offsets) == 5:
            break_it()
        route.continue_()

    hand.route("**/arriving/*", piece)
    hand.set_input_files("#camera", SAMPLES / "within.jpg")
    hand.wait_for_selector("#sending-said:has-text('No network')", timeout=30_000)
    assert uploads(program, rig) == []
    if broken == "network":
        hand.context.set_offline(False)
    else:
        program.start()
    hand.wait_for_selector(".seen", timeout=120_000)
    assert offsets.count(0) == 1 and max(offsets) > 1_500_000 and len(offsets) < 20  # nothing from the beginning again
    assert uploads(program, rig) == [hashlib.sha256((SAMPLES / "within.jpg").read_bytes()).hexdigest()]


@pytest.mark.slow  # killed at any moment without a browser: test_door_killed.py
def test_killed_while_it_measures_it_measures_after_the_next_start(program: Program, desk: Any, hand: Any) -> None:
    link = new_case(desk, program, "Ferncombe killed")
    answers(hand, link)
    assert "Good: sheet and ball found. Better still: hold the phone" in take(hand, "set-3.jpg")
    on(hand, "text=Keep it and go on")
    on(hand, "text=That is all: send to Bo")
    hand.wait_for_selector("text=Thank you")
    program.kill()
    program.start()
    for _ in range(60):
        desk.goto(program.address + "cases/?text=killed")
        if desk.locator(".cases .mini").count():
            break
        desk.wait_for_timeout(500)
    assert "mm" in desk.locator("td[data-said=Height]").inner_text()


def expired(program: Program) -> None:
    with sqlite3.connect(program.place / "kept" / "store.sqlite", timeout=20) as database:
        database.execute(
            "UPDATE links SET until = 1.0 WHERE withdrawn IS NULL AND made = (SELECT max(made) FROM links)"
        )


@pytest.mark.slow  # the same by the pages alone: test_ended.py
@pytest.mark.parametrize(
    ("ends", "said"),
    [
        (lambda desk, program: expired(program), "This link was open until 1 January 1970."),
        *(
            (lambda desk, program, at=at: desk.click(at), "This link was withdrawn.")
            for at in ("text=Withdraw the link", "text=New link")
        ),
    ],
)
def test_a_link_that_has_ended_says_so_and_opens_nothing(
    program: Program, desk: Any, browser: Any, ends: Callable[[Any, Program], None], said: str
) -> None:
    link = new_case(desk, program, "Ferncombe ended")
    context = browser.new_context(**SMALL)
    page = context.new_page()
    assert page.goto(link).status == 200
    ends(desk, program)
    desk.wait_for_load_state("load")
    for place in ("", "next", "photographs", "question/bars", "kit.pdf"):
        assert page.goto(link + place).status == 410, place
    assert page.locator("h1").inner_text() == said and "Ferncombe" not in page.content()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    context.close()


@pytest.mark.slow  # the same forms by the pages alone: test_plain_forms.py
def test_without_script_the_whole_round_goes_by_plain_forms(program: Program, desk: Any, browser: Any) -> None:
    link = new_case(desk, program, "Ferncombe plain")
    with window(browser, java_script_enabled=False, **SMALL) as page:
        page.goto(link)
        on(page, "text=I have the sheet: begin")
        for button in ("No, the ball is bare", "No, empty or nearly", "Yes, hard and flat", "I have no ruler"):
            on(page, f"text={button}")
        page.set_input_files("#camera", SAMPLES / "within.jpg")
        on(page, "noscript button")
        page.wait_for_selector(".seen", timeout=60_000)
        on(page, "text=send to Bo") if page.locator("text=send to Bo").count() else on(page, "text=Keep it")
        if page.locator("h1:has-text('Thank you')").count() == 0:
            on(page, "text=That is all")
        assert page.locator("h1").inner_text() == "Thank you. Bo will answer."


def test_a_file_that_is_gone_while_it_is_sent_is_no_missing_network(
    program: Program, desk: Any, hand: Any, tmp_path: Path
) -> None:
    """A phone gave it for a moment only. Before, "No network. It goes on by itself", for ever."""
    chosen = tmp_path / "IMG_1.jpg"
    chosen.write_bytes((SAMPLES / "within.jpg").read_bytes())
    hand.goto(new_case(desk, program, "Ferncombe gone").rstrip("/") + "/photographs")

    def emptied(route: Any) -> None:
        chosen.write_bytes(b"something else")
        route.continue_()

    hand.route("**/arriving", emptied)
    hand.set_input_files("#camera", chosen)
    hand.wait_for_selector("text=It could not be sent. Choose it again.", timeout=20_000)
    hand.unroute("**/arriving")
    assert take(hand, "within.jpg")
