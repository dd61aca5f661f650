"""Which language is spoken, and its catalogue: `locale/*/*.po`, read by Babel and looked up by Python's own gettext.

English is what the modules say and needs neither; the other languages load theirs when the first sentence is shown.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from gettext import GNUTranslations
from pathlib import Path
from typing import Literal, get_args

Language = Literal["en", "da", "de"]
LANGUAGES: tuple[Language, ...] = get_args(Language)
NAMES: dict[Language, str] = {"en": "English", "da": "Dansk", "de": "Deutsch"}
LOCALE = Path(__file__).parent / "locale"

_chosen: ContextVar[Language] = ContextVar("language", default="en")


def chosen() -> Language:
    """The language of this call."""
    return _chosen.get()


def choose(language: Language) -> None:
    """From here on in this call."""
    _chosen.set(language)


@contextmanager
def speaking(language: Language) -> Iterator[None]:
    """Within this block."""
    before = _chosen.set(language)
    try:
        yield
    finally:
        _chosen.reset(before)


def wanted(header: str, default: Language = "en") -> Language:
    """The first of our languages in a browser's Accept-Language header ("da-DK,da;q=0.9,en;q=0.8"), by its weights."""
    asked = []
    for number, part in enumerate(header[:500].split(",")):
        name, _, weight = part.strip().partition(";")
        try:
            share = float(weight.strip().removeprefix("q=") or 1.0)
        except ValueError:
            share = 0.0
        asked.append((-share, number, name.strip().lower().partition("-")[0]))
    known = {str(language): language for language in LANGUAGES}
    return next((known[name] for share, _, name in sorted(asked) if share < 0.0 and name in known), default)


def singular_and_plural(language: Language, one: str, many: str | None, count: int | None) -> str:
    """The template in a language, in the form for this number; English where the catalogue lacks it."""
    known = catalogue(language, "photomeasure")
    if many is None or count is None:
        return known.gettext(one) if one else one
    return known.ngettext(one, many, count)


@cache
def decimal_sign(language: Language) -> str:
    """The sign between whole and tenths."""
    if language == "en":
        return "."
    from babel import Locale

    return str(Locale.parse(language).number_symbols["latn"]["decimal"])


@cache
def catalogue(language: Language, domain: str) -> GNUTranslations:
    """One file of a language: "kit" (what is printed on its pages) or "photomeasure" (all that the program says)."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = io.BytesIO()
    with (LOCALE / language / f"{domain}.po").open("rb") as stream:
        write_mo(compiled, read_po(stream, locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)
