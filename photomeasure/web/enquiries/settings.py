"""What the dealer sets once: the name that customers see, how long photographs are kept, how long a link is open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import said

KEEP_DAYS, LINK_DAYS = 90, 21
_LONGEST = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """name: of the business, as customers read it. keep_days: photographs; 0: until they are deleted by hand."""

    name: str = ""
    keep_days: int = KEEP_DAYS
    link_days: int = LINK_DAYS


def settings_from(typed: Mapping[str, object]) -> tuple[Settings, dict[str, InputError]]:
    """Settings out of a form, and what is wrong by field."""
    wrong: dict[str, InputError] = {}

    def days(field: str, name: str, low: int, high: int, usual: int) -> int:
        text = typed.get(field)
        digits = text.strip() if isinstance(text, str) else ""
        if digits.isdecimal() and len(digits) < 6 and low <= int(digits) <= high:
            return int(digits)
        wrong[field] = InputError(
            said("{name} {typed} cannot be taken.", name=name, typed=repr(digits)),
            expected=said("a whole number from {low} to {high}", low=low, high=high),
            remedy=said("such as {usual}", usual=usual),
        )
        return usual

    name = typed.get("name")
    return (
        Settings(
            name=" ".join(name.split())[:_LONGEST] if isinstance(name, str) else "",
            keep_days=days("keep_days", said("Days for photographs:"), 0, 3650, KEEP_DAYS),
            link_days=days("link_days", said("Days for a link:"), 1, 365, LINK_DAYS),
        ),
        wrong,
    )
