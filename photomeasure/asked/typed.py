"""A number as people type it, read in one way at every door: command line, list of rigs, page, question on a terminal.

A decimal comma will do, so will the unit behind it, and inches where a length is meant: 149.5, 149,5, 150mm, 15 cm,
16 1/4 in, 16-1/4", 5 7/8 inches.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.limits import Limit

MM_PER_INCH = 25.4  # exact, by agreement of 1959
_LENGTHS: Mapping[str, float] = {
    "": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0,
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH, "\N{DOUBLE PRIME}": MM_PER_INCH,
    "\N{RIGHT DOUBLE QUOTATION MARK}": MM_PER_INCH,
}  # fmt: skip
_OTHERS: Mapping[str, Mapping[str, float]] = {
    "mm": _LENGTHS,
    "kg": {"": 1.0, "kg": 1.0, "kilo": 1.0, "kilos": 1.0, "lb": 0.45359237, "lbs": 0.45359237},
    "pixels": {"": 1.0, "px": 1.0, "pixel": 1.0, "pixels": 1.0},
    "mm per metre": {"": 1.0, "mm": 1.0, "mm/m": 1.0, "mm per m": 1.0, "mm per metre": 1.0},
}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(.*)", re.DOTALL)
_FRACTION = re.compile(r"(?:(\d+)[ -]+)?(\d+)/(\d+)\s*(.*)", re.DOTALL)
_SYMBOLS = {"\N{VULGAR FRACTION ONE QUARTER}": " 1/4", "\N{VULGAR FRACTION ONE HALF}": " 1/2",
            "\N{VULGAR FRACTION THREE QUARTERS}": " 3/4"}  # fmt: skip
_LONGEST = 40  # characters that anybody would type for a number


def number_typed(text: str, name: str, limit: Limit) -> float:
    """The number that was typed, in the limit's unit. name: of the field, as the person knows it.

    Raises InputError for what is no number in a unit that fits, and for one outside the limit.
    """
    value = _read(text.strip().lower(), _OTHERS.get(limit.unit, {"": 1.0, limit.unit: 1.0}))
    if value is None:
        what = (
            said("{name}: {typed} is no number of a length.", name=name, typed=_shown(text))
            if limit.unit == "mm"
            else said("{name}: {typed} is no number.", name=name, typed=_shown(text))
        )
        raise InputError(what, expected=_expected(limit), remedy=limit.remedy)
    limit.check(name, value)
    return value


def _read(typed: str, units: Mapping[str, float]) -> float | None:
    """The number times its unit; None where it is none."""
    if len(typed) > _LONGEST:
        return None
    for symbol, plain in _SYMBOLS.items():
        typed = typed.replace(symbol, plain)
    fraction = _FRACTION.fullmatch(typed.strip())
    if fraction is not None:
        whole, top, bottom, unit = fraction.groups()
        factor = units.get(unit.strip())
        return None if factor is None or int(bottom) == 0 else (int(whole or 0) + int(top) / int(bottom)) * factor
    plain_number = _NUMBER.fullmatch(typed)
    if plain_number is None:
        return None
    number, unit = plain_number.groups()
    factor = units.get(unit.strip())
    value = math.inf if factor is None else float(number.replace(",", ".")) * factor
    return value if math.isfinite(value) else None


def _expected(limit: Limit) -> str:
    """The limit, with ways of writing a length; no inches where nobody reads inches."""
    if limit.unit != "mm":
        return said("{low:g} to {high:g} {unit}", low=limit.low, high=limit.high, unit=limit.unit)
    middle = round((limit.low + limit.high) / 2)
    return said(
        "{low:g} to {high:g} mm, such as {mm}, {mm},5, {mm} mm, {cm:g} cm or {inches:.2f} in",
        low=limit.low,
        high=limit.high,
        mm=middle,
        cm=middle / 10,
        inches=middle / MM_PER_INCH,
    )


def _shown(text: str) -> str:
    return repr(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}...")


def pixels_typed(text: str, option: str) -> tuple[float, float]:
    """A place in a picture as it is typed, such as 2045.5,1312; option: as the person knows it. Raises InputError."""
    parts = text.split(",")
    try:
        x, y = (float(part) for part in parts)
        if not (math.isfinite(x) and math.isfinite(y)):
            raise ValueError(text)
    except ValueError:
        raise InputError(
            said("{option} {text} is no pair of pixel coordinates.", option=option, text=repr(text)),
            expected=said("two numbers and a comma, such as {option} 2045.5,1312", option=option),
            remedy=said("read the coordinates off the upright picture, (0, 0) at its top-left pixel"),
        ) from None
    return x, y
