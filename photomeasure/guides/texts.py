"""The guides' texts by name, in the order in which they are read."""

from __future__ import annotations

from importlib.resources import files

from calib.outcome.errors import InputError
from calib.words.language import chosen
from calib.words.said import Said, said, say, shown

GUIDES = ("measuring", "rules", "many-rigs", "customers", "planning", "level", "cameras", "records")


def guide_text(name: str) -> str:
    """A guide in Markdown. Raises InputError for one that there is not."""
    if name not in GUIDES:
        raise InputError(
            said("There is no guide {name}.", name=repr(name)),
            expected=", ".join(GUIDES),
            remedy=said("photomeasure guide lists them"),
        )
    return in_language(name) or _untranslated(_english(name))


def in_language(name: str) -> str | None:
    """A guide in the chosen language; None where it has not been translated."""
    text = files("photomeasure.guides").joinpath(chosen(), f"{name}.md")
    return text.read_text(encoding="utf-8") if text.is_file() else None


def title_and_about(name: str) -> tuple[str, str]:
    """A guide's heading and its first sentence."""
    translated = in_language(name)
    title, about = head(_english(name) if translated is None else translated)
    return shown(Said(title, {})), shown(Said(about, {}))


def head(text: str) -> tuple[str, str]:
    """Heading and first sentence of a text."""
    lines = [line for line in text.splitlines() if line.strip()]
    return lines[0].removeprefix("# "), lines[1].replace("**", "")


def _english(name: str) -> str:
    return files("photomeasure.guides").joinpath(f"{name}.md").read_text(encoding="utf-8")


def _untranslated(text: str) -> str:
    """An English text, and in another language a line before its second paragraph that says so."""
    if chosen() == "en":
        return text
    heading, about, rest = text.split("\n\n", 2)
    note = say("This guide is there in English only.")
    return f"{heading}\n\n*{note}*\n\n{about}\n\n{rest}"
