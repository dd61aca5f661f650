"""Light by day, dark in the evening, strong in the sun: the page's colours, and how a person wants to see them.

The browser's own wish is followed (`prefers-color-scheme`, `prefers-contrast`) as long as nothing is chosen here. Contrast of
letters is 4.5 to 1 at least, 7 to 1 where more is asked for (WCAG 2.2, 1.4.3 and 1.4.6; a test works them out).
"""

from __future__ import annotations

from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qsl, urlencode

from markupsafe import Markup
from starlette.responses import Response

COOKIE = "photomeasure-look"
_KEPT_S = 365 * 86_400
SCHEMES, CONTRASTS, UNITS = ("auto", "light", "dark"), ("auto", "more"), ("mm", "in")

LIGHT: Mapping[str, str] = {
    "ink": "#1c2126", "shade": "#f1f3f5", "paper": "#ffffff", "quiet": "#434a53", "link": "#035a8e", "line": "#717983",
    "rule": "#c9ced4", "faint": "#676e77", "edge": "#056ba8", "press": "#1c2126", "on-press": "#ffffff", "wrong": "#b3300c",
    "wrong-paper": "#fdeee9", "good": "#17754a", "good-paper": "#eaf5ef", "doubt": "#6d4a00", "doubt-line": "#c98a00",
    "in-band": "#9fd0ea", "band-text": "#045585", "foot": "#1c2126", "on-foot": "#ffffff",
}  # fmt: skip
DARK: Mapping[str, str] = {
    "ink": "#eceff1", "shade": "#12161a", "paper": "#1d2329", "quiet": "#c3cad1", "link": "#8fd0f7", "line": "#8b959f",
    "rule": "#3a434c", "faint": "#a3acb5", "edge": "#6cc0f2", "press": "#eceff1", "on-press": "#12161a", "wrong": "#ff9a7a",
    "wrong-paper": "#3c1f17", "good": "#6fd6a3", "good-paper": "#14301f", "doubt": "#ffd479", "doubt-line": "#e0a52a",
    "in-band": "#1f5d83", "band-text": "#a8dbf9", "foot": "#07090b", "on-foot": "#eceff1",
}  # fmt: skip
_STRONG_LIGHT: Mapping[str, str] = {
    "ink": "#000000", "shade": "#ffffff", "quiet": "#000000", "link": "#00315c", "line": "#000000", "rule": "#000000",
    "faint": "#333333", "edge": "#00315c", "press": "#000000", "wrong": "#7a1c00", "good": "#00452a", "doubt": "#4a3200",
    "doubt-line": "#4a3200", "in-band": "#5fb4e0", "band-text": "#00253f", "foot": "#000000", "band": "#00416b",
}  # fmt: skip
_STRONG_DARK: Mapping[str, str] = {
    "ink": "#ffffff", "shade": "#000000", "paper": "#000000", "quiet": "#ffffff", "link": "#b5e2ff", "line": "#ffffff",
    "rule": "#ffffff", "faint": "#e0e0e0", "edge": "#b5e2ff", "press": "#ffffff", "on-press": "#000000", "wrong": "#ffc4b3",
    "wrong-paper": "#000000", "good": "#a8f0cc", "good-paper": "#000000", "doubt": "#ffe6b0", "doubt-line": "#ffd479",
    "band-text": "#d5eeff", "on-foot": "#ffffff", "foot": "#000000",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What somebody chose: colours, contrast, and the unit in which figures are shown on the page (records stay in mm)."""

    scheme: str = "auto"
    contrast: str = "auto"
    unit: str = "mm"


AS_IT_COMES = Wish()
wish: ContextVar[Wish] = ContextVar("how this browser wants the page", default=AS_IT_COMES)


def wish_from(said: Mapping[str, object]) -> Wish:
    """A wish out of a form or cookie; what is not offered counts as not said."""

    def one(name: str, offered: tuple[str, ...]) -> str:
        value = said.get(name)
        return value if isinstance(value, str) and value in offered else offered[0]

    return Wish(scheme=one("scheme", SCHEMES), contrast=one("contrast", CONTRASTS), unit=one("unit", UNITS))


def wish_in(header: str) -> Wish:
    """The wish that a browser's cookies hold."""
    try:
        kept = SimpleCookie(header[:4000]).get(COOKIE)
    except CookieError:
        kept = None
    return Wish() if kept is None else wish_from(dict(parse_qsl(kept.value[:200])))


def keep(response: Response, chosen: Wish, *, secure: bool) -> None:
    """Have the browser keep a wish for a year. secure: where it came by https."""
    said = urlencode({"scheme": chosen.scheme, "contrast": chosen.contrast, "unit": chosen.unit})
    response.set_cookie(COOKIE, said, max_age=_KEPT_S, path="/", httponly=True, samesite="lax", secure=secure)


def attributes() -> Markup:
    """For the page's root element."""
    chosen = wish.get()
    return Markup(' data-scheme="{}" data-contrast="{}" data-unit="{}"').format(
        chosen.scheme, chosen.contrast, chosen.unit
    )


def scheme_css() -> str:
    """The colours as custom properties, by the browser's wish and by the person's."""
    dark, strong = "(prefers-color-scheme:dark)", "(prefers-contrast:more)"
    not_light, not_dark = ":not([data-scheme=light])", ":not([data-scheme=dark])"
    rows = [
        f":root{{color-scheme:light;--card:var(--paper);--mid:var(--quiet);{_said(LIGHT)}}}",
        f"@media {dark}{{:root{not_light}{{color-scheme:dark;{_said(DARK)}}}}}",
        f":root[data-scheme=dark]{{color-scheme:dark;{_said(DARK)}}}",
    ]
    for asked, chosen in ((f"@media {strong}", ""), ("", "[data-contrast=more]")):
        light = f":root{chosen}{not_dark}{{{_said(_STRONG_LIGHT)}}}"
        by_wish = f":root{chosen}{not_light}{{{_said(_STRONG_DARK)}}}"
        by_choice = f":root{chosen}[data-scheme=dark]{{{_said(_STRONG_DARK)}}}"
        if asked:
            rows += [f"{asked}{{{light}{by_choice}}}", f"{asked} and {dark}{{{by_wish}}}"]
        else:
            rows += [light, f"@media {dark}{{{by_wish}}}", by_choice]
    return "".join(rows)


def _said(colours: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())
