"""No text that people see is English only: none in templates, scripts, wrong-usage errors and the command line's lines."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent.parent
WEB = ROOT / "photomeasure" / "web"
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
SCRIPTS = sorted((WEB / "static").glob("*.js"))
_JINJA = re.compile(r"{{.*?}}|{%.*?%}|{#.*?#}", re.DOTALL)
_FILLED = "\x1f"  # where something was filled in
_CLASSES = re.compile(r"{% block (layout|body) %}.*?{% endblock %}")  # of a page, as its style sheet names them
_LITERAL = re.compile(r'"((?:[^"\\]|\\.)*)"')
_SAID = re.compile(r'\bsay(?:_many)?\(\s*"(?:[^"\\]|\\.)*"(?:\s*,\s*"(?:[^"\\]|\\.)*")?')
_SHOWN = frozenset({"alt", "aria-label", "placeholder", "title", "data-busy", "data-said", "label"})
# the program's name, signs and units, and what is only compared with
_SAME_IN_ALL = frozenset({"photomeasure", "mm", "u, mm", "kg", "px"})
_COMPARED = frozenset({"About the rule", "ABCDEF", "live-title mini"})


class _Texts(HTMLParser):
    """Texts that are read or read out."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in _SHOWN]

    def handle_data(self, data: str) -> None:
        self.found.append(data)


def left_in_template(text: str) -> list[str]:
    """What a page shows that is in no catalogue: texts between tags and in attributes, and literals that are put in."""
    page = _Texts()
    page.feed(_JINJA.sub(_FILLED, _CLASSES.sub("", text)))
    plain = [part.strip(" .,:;-\n") for said in page.found for part in said.split(_FILLED)]
    put_in = [literal for block in _JINJA.findall(text) if not block.startswith("{#") for literal in _literals(block)]
    return [said for said in plain if re.search("[A-Za-z]{2}", said) and said not in _SAME_IN_ALL] + put_in


def _literals(code: str) -> list[str]:
    """Literals outside `say(...)` that are words to people, not names of fields, files or classes."""
    rest = _SAID.sub("", code)
    return [text for text in _LITERAL.findall(rest) if _are_words(text) and text not in _COMPARED]


def _are_words(text: str) -> bool:
    return re.match(r"[A-Z][a-z]", text) is not None or re.search(r"[A-Za-z]{2,} [A-Za-z]{2,}", text) is not None


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_shows_nothing_outside_the_catalogues(path: Path) -> None:
    assert left_in_template(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_shows_nothing_outside_the_catalogues(path: Path) -> None:
    lines = [re.sub(r"(^|\s)//.*", "", line) for line in path.read_text(encoding="utf-8").splitlines()]
    found = [text for text in _literals("\n".join(lines)) if text != "use strict" and "sans-serif" not in text]
    assert [text for text in found if not re.match(r"[.#\[]|Arrow|Enter|Shift", text)] == []


@pytest.mark.parametrize(
    ("page", "left"),
    [
        ('<p>{{ say("Hello") }}</p>', []),
        ("<p>Hello</p>", ["Hello"]),
        ('<img alt="A ball" src="{{ base }}/x.jpg">', ["A ball"]),
        ('<p>{{ "New case" if new else say("Cases") }}</p>', ["New case"]),
        ('<p class="{{ "primary" if new }}">{{ number }} mm</p>', []),
        ('{{ fields.text("rig", "The rig", answers) }}', ["The rig"]),
    ],
)
def test_the_search_itself(page: str, left: list[str]) -> None:
    assert left_in_template(page) == left


@pytest.mark.parametrize("package", ["calib", "photomeasure"])
def test_no_error_is_english_only(package: str) -> None:
    """Arguments of errors are sentences of the catalogues, or values alone."""
    found = {
        str(path.relative_to(ROOT)): left
        for path in sorted((ROOT / package).rglob("*.py"))
        if (left := list(left_in_errors(path.read_text(encoding="utf-8"))))
    }
    assert found == {}


def left_in_errors(source: str) -> Iterator[int]:
    """Lines of what an InputError or PageError is told that is a plain text."""
    for call in ast.walk(ast.parse(source)):
        if (
            isinstance(call, ast.Call)
            and isinstance(call.func, ast.Name)
            and call.func.id in ("InputError", "PageError")
        ):
            for told in (*call.args, *(word.value for word in call.keywords if word.arg != "retry_s")):
                parts = told.values if isinstance(told, ast.JoinedStr) else [told]
                if any(
                    isinstance(part, ast.Constant)
                    and re.search("[A-Za-z]{2}", str(part.value))
                    and isinstance(part.value, str)
                    for part in parts
                ):
                    yield told.lineno


def test_the_search_for_errors_itself() -> None:
    told = 'InputError(said("a b"), expected=f"ab {x}", remedy="cd")\nPageError(404, said("x"), expected=x, remedy=said("y"))'
    assert len(list(left_in_errors(told))) == 2
