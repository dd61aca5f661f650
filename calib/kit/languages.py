"""The kit's words in other languages, from its part of the catalogue; English is what the modules say.

Only whole strings as they are drawn are looked up; what a catalogue lacks stays English.
"""

from __future__ import annotations

from collections.abc import Callable

from calib.words.language import LANGUAGES, Language, catalogue

__all__ = ["LANGUAGES", "Language", "said_in"]


def said_in(language: Language) -> Callable[[str], str]:
    """What the pen writes for words that are drawn."""
    if language == "en":
        return lambda words: words
    known = catalogue(language, "kit")
    return lambda words: known.gettext(words) if words else words
