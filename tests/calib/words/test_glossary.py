"""A term of the trade is told by one word in every sentence of a language: `calib/words/glossary.md` has it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from calib.words.language import Language
from tests.words import OTHERS, catalogue_of

GLOSSARY = Path(__file__).parent.parent.parent.parent / "calib" / "words" / "glossary.md"
_COLUMN: dict[Language, int] = {"da": 1, "de": 2}


@cache
def terms(language: Language) -> dict[str, tuple[str, ...]]:
    """English term and the stems of which one has to stand; longer terms first, so that a "ball load" is no "ball"."""
    rows = [
        line.strip("|").split("|") for line in GLOSSARY.read_text(encoding="utf-8").splitlines() if line.startswith("|")
    ]
    found = {row[0].strip(): tuple(part.strip() for part in row[_COLUMN[language]].split(" / ")) for row in rows[2:]}
    return dict(sorted(found.items(), key=lambda item: -len(item[0])))


def exceptions() -> set[tuple[str, str]]:
    """Term and beginning of the sentences that say it without the word."""
    lines = GLOSSARY.read_text(encoding="utf-8").split("## Sentences")[1].splitlines()
    found = (re.fullmatch(r"- ([^:]+): (.+)", line) for line in lines)
    return {(line[1], line[2]) for line in found if line is not None}


def told_otherwise(english: str, told: str, language: Language) -> Iterator[str]:
    """Terms of a sentence for which none of their stems stands in its translation."""
    left = re.sub(r"{[^}]*}|--[a-z-]+|[a-z]+_[a-z_]+", " ", english.lower())
    for term, stems in terms(language).items():
        if term not in left:
            continue
        left, times = re.subn(rf"(?<![\w.]){re.escape(term)}(?:'s)?(?![\w.-]*\w)", " ", left)
        if times and not any(stem in told.lower() for stem in stems):
            yield term


@pytest.mark.parametrize("language", OTHERS)
def test_every_term_is_told_by_its_word(language: Language) -> None:
    known, wrong = exceptions(), []
    for message in catalogue_of(language):
        if not message.id:
            continue
        english, told = (
            (message.id, message.string)
            if isinstance(message.id, str)
            else (message.id[1], " ".join(message.string or ()))
        )
        for term in told_otherwise(english, str(told), language):
            if not any(term == of and english.startswith(beginning) for of, beginning in known):
                wrong.append(f"{term}: {english} -> {told}")
    assert wrong == []


def test_the_search_itself() -> None:
    assert list(told_otherwise("The ball load of the ball", "Die Stützlast der Kugel", "de")) == []
    assert list(told_otherwise("The ball load", "Die Last der Kugel", "de")) == ["ball load"]
    assert list(told_otherwise("{band} and --tape", "x", "da")) == []
