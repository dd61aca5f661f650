"""Sentences for people: made once as an English template with named values, told in a language when they are shown.

A `Said` is its English text, so that records, tables and comparisons hold what they always held; template and values
travel with it until somebody sees it. Rooms that compute make `said(...)`; doors that show say `say(...)` or `shown(...)`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from pathlib import PurePath
from string import Formatter
from typing import Any, SupportsIndex

from calib.words.language import Language, chosen, decimal_sign, singular_and_plural

_SPEC = re.compile(r"[+]?0?\d{0,2}(\.\d{1,2})?[dfgs]?")
_FIGURE = re.compile(r"(?<=\d)\.(?=\d)")
_AND_SO_ON = ", "


class Digits(str):
    """A figure that was rounded by its own rules, as text with a decimal point: "412.6"; told with the language's sign."""

    __slots__ = ()


class Said(str):
    """An English sentence that still knows its template and its values. many: the template for any number but one, by `count`."""

    __slots__ = ("many", "template", "values")
    template: str
    many: str | None
    values: Mapping[str, Any]

    def __new__(cls, template: str, values: Mapping[str, Any], many: str | None = None) -> Said:
        told = template if many is None or values["count"] == 1 else many
        made = super().__new__(cls, _filled(told, values, "en"))
        made.template, made.many, made.values = template, many, values
        return made

    def __getnewargs__(self) -> tuple[str, Mapping[str, Any], str | None]:  # type: ignore[override]
        return self.template, self.values, self.many

    def __reduce_ex__(self, protocol: SupportsIndex) -> tuple[Any, ...]:
        return Said, self.__getnewargs__()

    def with_values(self, **values: Any) -> Said:
        """The same sentence with other values in some of its places."""
        return Said(
            self.template, {**self.values, **{name: _plain(value) for name, value in values.items()}}, self.many
        )

    def told(self, language: Language) -> str:
        """The sentence in a language; English where its catalogue lacks it."""
        if language == "en":
            return str.__str__(self)
        count = None if self.many is None else self.values["count"]
        template = singular_and_plural(language, self.template, self.many, count)
        return _filled(template, self.values, language)


def said(template: str, /, **values: Any) -> str:
    """A sentence of fixed words with `{name}` or `{name:.1f}` where values stand; a value may be a sentence itself, or a
    list of such. The template has to be written out where this is called: it is found there for the catalogues."""
    return Said(template, {name: _plain(value) for name, value in values.items()})


def said_many(one: str, many: str, /, *, count: int, **values: Any) -> str:
    """As `said`, with a form for one and a form for any other number."""
    return Said(one, {"count": int(count), **{name: _plain(value) for name, value in values.items()}}, many)


def joined(parts: Iterable[str], by: str = ", ") -> str:
    """Sentences or parts of one beside one another, with a sign between them that is the same in every language."""
    values = {f"part_{number}": _plain(part) for number, part in enumerate(parts)}
    return Said(by.join(f"{{{name}}}" for name in values), values)


def with_and(parts: Sequence[str]) -> str:
    """ "a and b and c"."""
    return parts[0] if len(parts) == 1 else said("{parts} and {last}", parts=with_and(parts[:-1]), last=parts[-1])


def with_or(parts: Sequence[str]) -> str:
    """ "a or b or c"."""
    return parts[0] if len(parts) == 1 else said("{parts} or {last}", parts=with_or(parts[:-1]), last=parts[-1])


def shown(text: str) -> str:
    """What a person sees: a sentence in the chosen language; any other text (a name, what was typed) as it is."""
    if isinstance(text, Said):
        return text.told(chosen())
    return figures(text) if isinstance(text, Digits) else text


def say(template: str, /, **values: Any) -> str:
    """A sentence that is shown at once."""
    return shown(said(template, **values))


def say_many(one: str, many: str, /, *, count: int, **values: Any) -> str:
    """A sentence with a number of things that is shown at once."""
    return shown(said_many(one, many, count=count, **values))


def figures(text: str) -> str:
    """Figures in a text of nothing else ("412.6", "350-460") with the chosen language's decimal sign."""
    return _FIGURE.sub(decimal_sign(chosen()), text)


def number(value: float, spec: str) -> str:
    """A number as `format` writes it, with the chosen language's decimal sign."""
    return figures(format(value, spec))


def date(when: datetime, *, short: bool = False) -> str:
    """A day in words: "25 November 2026", or in short "25 Nov 2026"."""
    language = chosen()
    if language == "en":
        return f"{when.day} {when:%b %Y}" if short else f"{when.day} {when:%B %Y}"
    from babel.dates import format_date

    return str(format_date(when, "d. MMM y" if short else "d. MMMM y", locale=language))


def in_one_line(text: str) -> str:
    """A file's name, whatever stands in it."""
    return text.replace("\n", "\\x0a")


def _plain(value: Any) -> Any:
    """A value as it can be kept: numpy's numbers as Python's, lists of sentences as tuples, anything else as text."""
    if isinstance(value, bool | int | float | str):
        return value.item() if hasattr(value, "item") else value
    if isinstance(value, list | tuple):
        return tuple(_plain(part) for part in value)
    if isinstance(value, PurePath):  # a line of its own by the name of a file would be told as one of this program's
        return in_one_line(str(value))
    return _plain(value.item()) if hasattr(value, "item") else str(value)


def _filled(template: str, values: Mapping[str, Any], language: Language) -> str:
    parts = []
    for literal, field, spec, _ in _parsed(template):
        parts.append(literal)
        if field is not None:
            parts.append(_in_place(values[field], spec or "", language))
    return "".join(parts)


@lru_cache(maxsize=4096)
def _parsed(template: str) -> tuple[tuple[str, str | None, str | None, str | None], ...]:
    return tuple(Formatter().parse(template))


def _in_place(value: Any, spec: str, language: Language) -> str:
    if isinstance(value, Said):
        return value.told(language)
    if isinstance(value, tuple):
        return _AND_SO_ON.join(_in_place(part, spec, language) for part in value)
    if _SPEC.fullmatch(spec) is None:
        raise ValueError(f"no form of a number: {spec}")
    text = format(value, spec)
    isa_figure = isinstance(value, Digits) or not isinstance(value, str)
    return _FIGURE.sub(decimal_sign(language), text) if isa_figure else text
