"""Letters can be read: contrast of at least 4.5 to 1 (WCAG 2.1, 1.4.3; formula of its "relative luminance")."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from tests.web.sending import url

# letters on ground, as the style sheets pair them
PAIRS = [
    ("--ink", "#fff"), ("--ink", "--shade"), ("#fff", "--ink"), ("#fff", "--band"), ("#035a8e", "#fff"), ("#434a53", "#fff"),
    ("#434a53", "--shade"), ("#4f565f", "#fff"), ("#676e77", "#fff"), ("#6d4a00", "#fff"), ("--ink", "#fdeee9"), ("--ink", "#eaf5ef"),
    ("#045585", "--shade"),
]  # fmt: skip


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


def test_letters_stand_out(client: TestClient) -> None:
    look, page = client.get(url("look.css")).text, client.get(url("static/page.css")).text
    named = dict(re.findall(r"(--[\w-]+):(#\w+)", look))
    for letters, ground in PAIRS:
        assert letters in page or letters == "--ink"
        assert contrast(named.get(letters, letters), named.get(ground, ground)) >= 4.5, (letters, ground)
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
