"""The help of commands and options in the chosen language: found by its English text, as it stands where it is declared."""

from __future__ import annotations

from typing import Any

from calib.words.language import chosen, singular_and_plural
from calib.words.said import say

_ENGLISH = "_said_in_english"  # of what was looked up once, so that another language can be told after it
_TOLD = ("help", "short_help", "rich_help_panel", "epilog")


def in_words(command: Any, context: Any) -> None:
    """Put a command, its options and the commands within it into the chosen language, right before its help is shown."""
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
