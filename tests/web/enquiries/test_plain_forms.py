"""Where no script runs a customer goes the whole round by links and forms alone; in a browser, slow, in test_door_browser.py."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

from httpx2 import Response
from starlette.testclient import TestClient

from tests.web.enquiries.door import made, opened, sample


@dataclass
class Pressed:
    """A link or a button: where it leads, and what it sends of its form."""

    to: str
    posts: bool = False
    in_parts: bool = False
    sends: dict[str, str] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)


class Page(HTMLParser):
    """What a person can press on a page, by its words; what stands for those without script, too."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.things: dict[str, Pressed] = {}
        self._form: Pressed | None = None
        self._on: Pressed | None = None
        self._words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Pressed(
                to=given["action"],
                posts=given["method"] == "post",
                in_parts=given.get("enctype") == "multipart/form-data",
            )
        elif tag == "input" and self._form is not None and "name" in given:
            if given.get("type") == "file":
                self._form.files.append(given["name"])
            else:
                self._form.sends[given["name"]] = given.get("value", "")
        elif tag == "a" and "href" in given:
            self._on, self._words = Pressed(to=given["href"]), ""
        elif tag == "button" and self._form is not None and given.get("type") == "submit":
            mine = {given["name"]: given["value"]} if "name" in given else {}
            form = self._form
            self._on, self._words = (
                Pressed(
                    to=form.to,
                    posts=form.posts,
                    in_parts=form.in_parts,
                    sends={**form.sends, **mine},
                    files=form.files,
                ),
                "",
            )

    def handle_data(self, data: str) -> None:
        self._words += data

    def handle_endtag(self, tag: str) -> None:
        if tag in ("a", "button") and self._on is not None:
            self.things[" ".join(self._words.split())] = self._on
            self._on = None
        elif tag == "form":
            self._form = None


def on(client: TestClient, page: Response, words: str, photograph: bytes = b"") -> Response:
    """Pressed; the next page."""
    found = [thing for said, thing in Page(page.text).things.items() if words in said]
    assert len(found) == 1, (words, page.text)
    thing = found[0]
    if not thing.posts:
        return client.get(thing.to)
    if not photograph:
        return client.post(
            thing.to, data=thing.sends, headers={"content-type": "application/x-www-form-urlencoded"}
        )  # a form without a field, too
    assert thing.in_parts
    return client.post(thing.to, data=thing.sends, files=[(thing.files[0], ("IMG.jpg", photograph, "image/jpeg"))])


def test_the_whole_round(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        _, link = made(client)
        page = on(client, client.get(link), "I have the sheet: begin")
        for button in ("No, the ball is bare", "No, empty or nearly", "Yes, hard and flat", "I have no ruler"):
            page = on(client, page, button)
        page = on(client, page, "Send this photograph", sample("within.jpg"))
        until = time.monotonic() + 60.0
        while 'class="seen' not in page.text and time.monotonic() < until:
            assert 'http-equiv="refresh"' in page.text  # it comes again by itself
            time.sleep(0.1)
            page = on(client, page, "Look again")
        page = on(client, page, "send to Bo")
        assert page.status_code == 200 and "Thank you. Bo will answer." in page.text
