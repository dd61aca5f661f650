"""The help of commands and options in the chosen language: found by its English text, as it stands where it is declared."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any

from calib.words.language import chosen, singular_and_plural
from calib.words.said import say

_ENGLISH = "_said_in_english"  # of what was looked up once, so that another language can be told after it
_NEVER_SHOWN = {"rich.markdown": "Markdown", "rich.traceback": "Traceback"}
_TOLD = ("help", "short_help", "rich_help_panel", "epilog")


def in_words(command: Any, context: Any) -> None:
    """Put a command, its options and the commands within it into the chosen language, right before its help is shown."""
    with _without_what_help_never_shows():
        from typer import rich_utils

    for part in (command, *command.get_params(context), *getattr(command, "commands", {}).values()):
        english = part.__dict__.setdefault(_ENGLISH, {name: getattr(part, name, None) for name in _TOLD})
        for name, text in english.items():
            if isinstance(text, str) and text:
                setattr(part, name, _told(text))
    rich_utils.ARGUMENTS_PANEL_TITLE, rich_utils.OPTIONS_PANEL_TITLE = say("Arguments"), say("Options")
    rich_utils.COMMANDS_PANEL_TITLE = say("Commands")
    rich_utils.DEFAULT_STRING, rich_utils.REQUIRED_LONG_STRING = "[" + say("default:") + " {}]", say("[required]")


def _told(english: str) -> str:
    """A text by itself; of examples their heading, as what is typed is the same in every language."""
    for heading, told in (("Example:", say("Example:")), ("Examples:", say("Examples:"))):
        if english.startswith(f"{heading}\n"):
            return english.replace(heading, told, 1)
    return english if chosen() == "en" else singular_and_plural(chosen(), english, None, None)


@contextmanager
def _without_what_help_never_shows() -> Iterator[None]:
    """The library's help loads, to show none of it, Markdown with its parser and tracebacks with every language's highlighting: a
    quarter of the time that help takes. Where they are loaded for it they come when they are used, and as ever for all others.
    """
    late = {name: _late(name, what) for name, what in _NEVER_SHOWN.items() if name not in sys.modules}
    sys.modules.update(late)
    try:
        yield
    finally:
        for name, stand_in in late.items():
            if sys.modules.get(name) is stand_in:
                del sys.modules[name]


def _late(name: str, what: str) -> ModuleType:
    """A module with one class in it, which is loaded when it is called."""
    module = ModuleType(name)

    class Late:
        def __new__(cls, *args: Any, **how: Any) -> Any:
            return getattr(import_module(name), what)(*args, **how)

        @classmethod
        def from_exception(cls, *args: Any, **how: Any) -> Any:
            return getattr(import_module(name), what).from_exception(*args, **how)

    setattr(module, what, Late)
    return module
