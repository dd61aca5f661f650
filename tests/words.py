"""The catalogues made anew from the sentences in the code: `python -m tests.words`, run by hand after a sentence was added.

New sentences come in without a translation, those that are gone go; what is translated stays. A test finds what is missing.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from calib.words.language import LANGUAGES, LOCALE, Language
from photomeasure.guides.texts import head
from photomeasure.rules.load import TEXTS_OF_RULE, parse_rule

ROOT = Path(__file__).parent.parent
OTHERS: tuple[Language, ...] = tuple(language for language in LANGUAGES if language != "en")
_HEADER = """\
# {language} of everything that photomeasure says. Translated without a native reader: to be read by one.
# Sentences come from the code (python -m tests.words); what stands in braces is filled in and has to stay."""
NAMES = {"da": "Danish", "de": "German"}
_PLACES = re.compile(r"{(\w*)(?::[^}]*)?}")
Id = str | tuple[str, str]


@cache
def in_the_code() -> dict[Id, list[str]]:
    """Every sentence that can be said, with the files that say it; looked for once in a process."""
    found: dict[Id, list[str]] = {}
    for file, message in (*_in_python(), *_in_help(), *_in_rules(), *_in_guides(), *_on_the_page()):
        places = found.setdefault(message, [])
        if file not in places:
            places.append(file)
    return found


def _in_python() -> Iterator[tuple[str, Id]]:
    """First arguments of the calls, in modules that have the function from `calib.words.said`."""
    for package in ("calib", "photomeasure"):
        for path in sorted((ROOT / package).rglob("*.py")):
            own, text = path == ROOT / "calib/words/said.py", path.read_text(encoding="utf-8")
            if not own and "calib.words.said" not in text:
                continue
            tree = ast.parse(text)
            told = {
                alias.name
                for node in ast.walk(tree)
                if isinstance(node, ast.ImportFrom) and node.module == "calib.words.said"
                for alias in node.names
            }
            for node in ast.walk(tree):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and (own or node.func.id in told):
                    texts = [
                        arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)
                    ]
                    message = _message(node.func.id, texts)
                    if message is not None:
                        yield str(path.relative_to(ROOT)), message


def _in_help() -> Iterator[tuple[str, Id]]:
    """The command line's help: of commands what stands under their name, of options and groups what is given as help."""
    for path in (*sorted((ROOT / "photomeasure/cli").rglob("*.py")), ROOT / "photomeasure/asked/fields.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            texts = []
            if isinstance(node, ast.Call):
                texts = [word.value for word in node.keywords if word.arg in ("help", "epilog", "asks")]
            elif isinstance(node, ast.FunctionDef) and any(_is_command(one) for one in node.decorator_list):
                texts = [ast.Constant(ast.get_docstring(node))]
            for text in texts:
                if isinstance(text, ast.Constant) and text.value:
                    yield str(path.relative_to(ROOT)), str(text.value)
    yield "photomeasure/cli/look.py", "Show this message and exit."  # the library's own option


def _in_rules() -> Iterator[tuple[str, Id]]:
    """What the built-in rules say beside their figures."""
    for path in sorted((ROOT / "photomeasure/rules").glob("*.toml")):
        rule = parse_rule(path.read_text(encoding="utf-8"), path.name)
        texts = [*(getattr(rule, name) for name in TEXTS_OF_RULE), *rule.notes, *(band.note for band in rule.bands)]
        texts += [text for row in rule.contradictions for text in (row.source, row.note)]
        yield from ((str(path.relative_to(ROOT)), text) for text in texts if text)


def _in_guides() -> Iterator[tuple[str, Id]]:
    """What guides are called in lists of them, and what they are about."""
    for path in sorted((ROOT / "photomeasure/guides").glob("*.md")):
        yield from ((str(path.relative_to(ROOT)), text) for text in head(path.read_text(encoding="utf-8")))


def _is_command(decorator: ast.expr) -> bool:
    return isinstance(decorator, ast.Call) and isinstance(decorator.func, ast.Name) and decorator.func.id == "command"


def _message(name: str, texts: list[str]) -> Id | None:
    if name in ("said", "say") and texts:
        return texts[0]
    return (texts[0], texts[1]) if name in ("said_many", "say_many") and len(texts) > 1 else None


def _on_the_page() -> Iterator[tuple[str, Id]]:
    """Calls in templates and in the page's scripts."""
    methods = [("**/templates/**.html", "jinja2"), ("**/static/**.js", "javascript")]
    keywords = {"say": None, "say_many": (1, 2)}
    for name, _, message, _, _ in extract_from_dir(ROOT / "photomeasure", methods, keywords=keywords):
        yield f"photomeasure/{name}", (message if isinstance(message, str) else (message[0], message[1]))


def catalogue_of(language: Language) -> Catalog:
    """As its file has it."""
    return read_po(BytesIO((LOCALE / language / "photomeasure.po").read_bytes()), locale=language)


def places(template: str) -> set[str]:
    """Names of what is filled in, and how."""
    return {found.group(0) for found in _PLACES.finditer(template)}


def faults(language: Language) -> Iterator[str]:
    """What is wrong with a catalogue, a line each."""
    known = {message.id: message for message in catalogue_of(language) if message.id}
    said = in_the_code()
    yield from (f"{language}: not in the catalogue: {missing!r}" for missing in said if missing not in known)
    yield from (f"{language}: said nowhere: {left!r}" for left in known if left not in said)
    for key, message in known.items():
        yield from (f"{language}: {key!r} {what}" for what in _wrong(key, message))


def _wrong(key: Any, message: Message) -> Iterator[str]:
    told = [message.string] if isinstance(message.string, str) else list(message.string or ())
    asked = places(key if isinstance(key, str) else key[1])
    if not all(told):
        yield "is not translated"
    for words in filter(None, told):
        filled = places(words)
        if not filled <= asked or (isinstance(key, str) and filled != asked):  # a form for one may leave the number out
            yield f"is told with other places: {words!r}"


def update(language: Language, translated: Iterable[tuple[Id, str | tuple[str, ...]]] = ()) -> int:
    """Write the catalogue anew; returns how many sentences have no translation."""
    path = LOCALE / language / "photomeasure.po"
    before = {message.id: message.string for message in catalogue_of(language)} if path.is_file() else {}
    before.update(translated)
    after = Catalog(locale=language, header_comment=_HEADER.format(language=NAMES[language]), fuzzy=False)
    for key, files in in_the_code().items():
        after.add(key, before.get(key) or "", locations=[(file, None) for file in sorted(files)], flags=())  # type: ignore[misc]
    stream = BytesIO()
    write_po(stream, after, width=0, sort_output=True, no_location=False, include_lineno=False)
    lines = stream.getvalue().decode().splitlines(keepends=True)
    dated = (
        '"POT-Creation-Date',
        '"PO-Revision-Date',
        '"Project-Id',
        '"Report-Msgid',
        '"Last-Translator',
        '"Language-Team',
        '"Generated-By',
    )
    path.write_text("".join(line for line in lines if not line.startswith(dated)), encoding="utf-8")
    return sum(
        not all([m.string] if isinstance(m.string, str) else m.string or ()) for m in catalogue_of(language) if m.id
    )


def translations_in(path: Path) -> dict[Id, str | tuple[str, ...]]:
    """A file of Python with a dictionary of sentences, to take over many at once."""
    found: dict[Id, str | tuple[str, ...]] = ast.literal_eval(path.read_text(encoding="utf-8"))
    return found


if __name__ == "__main__":
    for _language in OTHERS:
        given = translations_in(Path(f"{sys.argv[1]}.{_language}")) if len(sys.argv) > 1 else {}
        print(f"{_language}: {update(_language, given.items())} sentences without a translation")
