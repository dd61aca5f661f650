"""The kit in other languages: every word of the first page and the sheets has its translation, and nothing else changes."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from babel.messages.pofile import read_po
from reportlab.pdfgen.canvas import Canvas

from calib.kit.kit import kit
from calib.kit.languages import LANGUAGES, Language
from calib.kit.page_furniture import draw_sheet_furniture
from calib.kit.page_heads import draw_heads
from calib.kit.page_instructions import draw_instructions
from calib.kit.sheets import write_target
from calib.words.language import LOCALE

OTHERS = [language for language in LANGUAGES if language != "en"]
# figures, signs, and what the kit is called
_SAME = re.compile(
    r"^mm$|^[\d., x%.:/-]*( mm)?$|photomeasure-kit|\d+x$|^[ABTN]?[0-9]*$|^A[34]$|^[TB][0-9]   |^bar [XY]:|^(bar|mål|Maß) [XY]:"
)


def catalogue(language: Language) -> dict[str, str]:
    with (LOCALE / language / "kit.po").open("rb") as stream:
        return {str(message.id): str(message.string) for message in read_po(stream) if message.id}


def drawn_words() -> set[str]:
    """Everything that is written on any page, as the modules say it."""
    seen: set[str] = set()

    def listen(words: str) -> str:
        seen.add(words)
        return words

    the_kit, canvas = kit("a4"), Canvas(io.BytesIO())
    draw_instructions(canvas, the_kit, None, listen)
    for sheet in the_kit.sheets:
        draw_sheet_furniture(canvas, the_kit, sheet, 7, listen)
    draw_heads(canvas, the_kit, listen)
    draw_instructions(canvas, kit("letter"), None, listen)
    return {words for words in seen if not _SAME.search(words)}


@pytest.mark.parametrize("language", OTHERS)
def test_every_word_has_its_translation_and_none_is_left_over(language: Language) -> None:
    assert drawn_words() == set(catalogue(language))
    assert all(catalogue(language).values())


@pytest.mark.parametrize("language", OTHERS)
def test_only_words_change(language: Language, tmp_path: Path) -> None:
    for name in ("en", language):
        write_target(tmp_path / name, "a4", 7, language=name)
    facts = [json.loads((tmp_path / name / "target.json").read_text()) for name in ("en", language)]
    assert facts[0] == facts[1]
    words = pdfium.PdfDocument(tmp_path / language / "target.pdf")[0].get_textpage().get_text_range()
    assert catalogue(language)["How high is the coupling?"] in words
    assert "How high" not in words


@pytest.mark.parametrize("language", OTHERS)
def test_cautions_are_in_every_language(language: Language) -> None:
    """Engine, brakes, chocks, nobody between, no certificate, tape: one word of each."""
    said = " ".join(catalogue(language).values()).lower()
    wanted = {
        "da": ("motor slukket", "bremser", "kilet", "ingen mellem", "ingen attest", "målebånd", "lokale regler"),
        "de": ("motor aus", "bremsen", "verkeilt", "niemand zwischen", "kein nachweis", "maßband", "örtliche regeln"),
    }
    assert all(words in said for words in wanted[language])
