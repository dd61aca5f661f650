"""Which language is spoken, and its catalogue (`locale/*/*.po`).

English is what the modules say and needs neither; the other languages load theirs when the first sentence is shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from calib.words.po import Catalogue, read

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


def of_environment(environment: Mapping[str, str]) -> Language:
    """The language that a terminal's environment asks for ("da_DK.UTF-8"), looked up as gettext does; English for any other."""
    locale = next(filter(None, (environment.get(name, "") for name in ("LC_ALL", "LC_MESSAGES", "LANG"))), "C")
    asked = [*environment.get("LANGUAGE", "").split(":"), locale] if locale not in ("C", "POSIX", "C.UTF-8") else []
    first = next((name for name in asked if name), "")
    return next(
        (language for language in LANGUAGES if language == first[:2].lower() and not first[2:3].isalpha()), "en"
    )


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
def catalogue(language: Language, domain: str) -> Catalogue:
    """One file of a language: "kit" (what is printed on its pages) or "photomeasure" (all that the program says)."""
    return read(LOCALE / language / f"{domain}.po")
