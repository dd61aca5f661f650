"""The kit's words in other languages, from gettext catalogues (`locale/*.po`); English is what the modules say.

Only whole strings as they are drawn are looked up; what a catalogue lacks stays English.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Literal, get_args

Language = Literal["en", "da", "de"]
LANGUAGES: tuple[Language, ...] = get_args(Language)


@cache
def catalogue(language: Language) -> Mapping[str, str]:
    """English to this language; empty for English."""
    if language == "en":
        return {}
    text = (Path(__file__).parent / "locale" / f"{language}.po").read_text(encoding="utf-8")
    found: dict[str, str] = {}
    key, field = "", ""
    for line in text.splitlines():
        name, _, rest = line.partition(" ")
        if name in ("msgid", "msgstr"):
            field = name
        elif line.startswith('"'):
            rest = line
        else:
            continue
        words = str(ast.literal_eval(rest))
        if field == "msgid":
            key = words if name == "msgid" else key + words
        elif words:
            found[key] = found.get(key, "") + words
    return {english: words for english, words in found.items() if english}


def said_in(language: Language) -> Callable[[str], str]:
    """What the pen writes for words that are drawn."""
    known = catalogue(language)
    return lambda words: known.get(words, words)
