"""Letters can be read: contrast of at least 4.5 to 1 (WCAG 2.1, 1.4.3; formula of its "relative luminance")."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from photomeasure.web.scheme import DARK, LIGHT
from tests.web.sending import AS_PHOTOGRAPHED, BASE, here, photo, record, send, url

# letters on ground, as the style sheets pair them: names of the scheme
PAIRS = [
    ("ink", "paper"), ("ink", "shade"), ("quiet", "paper"), ("quiet", "shade"), ("link", "paper"), ("link", "shade"), ("faint", "paper"),
    ("on-press", "press"), ("ink", "wrong-paper"), ("ink", "good-paper"), ("doubt", "paper"), ("band-text", "shade"), ("wrong", "paper"),
    ("good", "paper"), ("on-foot", "foot"),
]  # fmt: skip
LINES = [
    ("line", "paper"),
    ("edge", "shade"),
    ("edge", "paper"),
    ("edge", "in-band"),
    ("wrong", "shade"),
    ("doubt-line", "paper"),
]


def luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    parts = [digits[i] * 2 if len(digits) == 3 else digits[2 * i : 2 * i + 2] for i in range(3)]
    linear = [c / 12.92 if (c := int(part, 16) / 255) <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula() -> None:
    """Black on white is 21 to 1; #777 on white is 4.48 (published examples of the guideline's own texts, from memory)."""
    assert contrast("#000", "#fff") == pytest.approx(21.0)
    assert contrast("#777777", "#fff") == pytest.approx(4.48, abs=0.005)


def _added(look: str, *, dark: bool) -> dict[str, str]:
    """What strong contrast changes, as the sheet says it for one who chose it on the page."""
    chosen = r"data-contrast=more\]\[data-scheme=dark\]" if dark else r"data-contrast=more\](?::not\([^)]*\))?"
    rules = re.findall(r":root\[" + chosen + r"\{([^}]*)\}", look)
    assert rules
    return dict(re.findall(r"--([\w-]+):([^;]+);", rules[0]))


@pytest.mark.parametrize(("dark", "strong"), [(False, False), (True, False), (False, True), (True, True)])
def test_letters_stand_out(client: TestClient, dark: bool, strong: bool) -> None:
    """Letters 4.5 to 1, and 7 to 1 where strong contrast is asked for; lines and what has the focus 3 to 1 (WCAG 2.2, 1.4.11)."""
    colours = dict(DARK if dark else LIGHT)
    if strong:
        colours |= _added(client.get(url("look.css")).text, dark=dark)
    for letters, ground in PAIRS:
        assert contrast(colours[letters], colours[ground]) >= (7.0 if strong else 4.5), (letters, ground)
    for line, ground in LINES:
        least = (
            1.9 if (line, ground) == ("doubt-line", "paper") and not strong else 3.0
        )  # beside words that say the same
        assert contrast(colours[line], colours[ground]) >= least, (line, ground)


def test_every_colour_of_the_sheets_is_one_of_the_scheme(client: TestClient) -> None:
    look = client.get(url("look.css")).text
    named = set(re.findall(r"--([\w-]+):", look))
    for sheet in ("page.css", "door.css", "marking.css"):
        text = client.get(url(f"static/{sheet}")).text
        assert set(re.findall(r"var\(--([\w-]+)", text)) <= named, sheet
    assert "prefers-color-scheme:dark" in look and "prefers-contrast:more" in look


def test_a_wish_is_kept_and_shown_and_nothing_else_is(client: TestClient) -> None:
    assert 'data-scheme="auto" data-contrast="auto" data-unit="mm"' in client.get(url()).text
    back = {"referer": f"{BASE}{url('guide/measuring')}"}
    answer = client.post(
        url("look"), data={"scheme": "dark", "contrast": "more", "unit": "in"}, headers=back, follow_redirects=False
    )
    assert answer.headers["location"] == url("guide/measuring")
    assert 'data-scheme="dark" data-contrast="more" data-unit="in"' in client.get(url()).text
    elsewhere = {"referer": "https://evil.example/page"}
    answer = client.post(
        url("look"), data={"scheme": '"><b>', "unit": "x" * 99}, headers=elsewhere, follow_redirects=False
    )
    assert answer.headers["location"] == url()
    assert 'data-scheme="auto"' in client.get(url()).text
    client.cookies.set("photomeasure-look", "scheme=%22%3E%3Cscript%3E", domain="127.0.0.1")
    assert "<script>" not in client.get(url()).text


def test_inches_on_request(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    height_mm = record(client, shown)["height_mm"]
    client.post(url("look"), data={"unit": "in"})
    again = client.get(here(shown)).text
    assert f"{height_mm / 25.4:.2f} in" in again and f"{height_mm:.1f} mm" in again


def test_badges_can_be_read(client: TestClient) -> None:
    look = client.get(url("look.css")).text
    badges = re.findall(r"\.verdict-([\w-]+)\{background:(#\w+);color:(#\w+)", look)
    assert {word for word, _, _ in badges} == {
        "within",
        "above",
        "below",
        "undecided",
        "no-band",
        "refused",
        "disagree",
    }
    for word, ground, letters in badges:
        assert contrast(ground, letters) >= 4.5, word
