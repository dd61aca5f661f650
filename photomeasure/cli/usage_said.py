"""What the parser of options says of a command that was typed wrongly, told again as a sentence of the catalogues."""

from __future__ import annotations

import re
from collections.abc import Callable

from calib.words.said import said, shown

_Told = Callable[[re.Match[str]], str]
_FORMS: tuple[tuple[str, _Told], ...] = (
    (
        r"No such command '(.*)'\. Did you mean (.*)\?",
        lambda found: said("No such command '{name}'. Did you mean {meant}?", name=found[1], meant=found[2]),
    ),
    (r"No such command '(.*)'\.", lambda found: said("No such command '{name}'.", name=found[1])),
    (
        r"No such option: (\S+) \((?:Possible options|Did you mean):? (.*)\)",
        lambda found: said("No such option: {name} (Possible options: {meant})", name=found[1], meant=found[2]),
    ),
    (r"No such option:? (\S+)", lambda found: said("No such option: {name}", name=found[1])),
    (r"Missing argument '(.*)'\.", lambda found: said("Missing argument '{name}'.", name=found[1])),
    (r"Missing option '(.*)'\.", lambda found: said("Missing option '{name}'.", name=found[1])),
    (
        r"Invalid value for '(.*)': (.*) is not one of (.*)\.",
        lambda found: said(
            "Invalid value for '{name}': {typed} is not one of {known}.", name=found[1], typed=found[2], known=found[3]
        ),
    ),
    (
        r"Invalid value for '(.*)': Input should be a valid integer, unable to parse string as an integer",
        lambda found: said("Invalid value for '{name}': it is no whole number", name=found[1]),
    ),
    (
        r"Option '(.*)' requires an argument\.",
        lambda found: said("Option '{name}' requires an argument.", name=found[1]),
    ),
    (
        r"Got unexpected extra argument(?:s|\(s\))? \((.*)\)",
        lambda found: said("Got unexpected extra arguments ({typed})", typed=found[1]),
    ),
)


def usage_said(message: str) -> str:
    """The message in the chosen language; as the parser has it where it is none of those that are known."""
    for form, told in _FORMS:
        found = re.fullmatch(form, message.strip())
        if found is not None:
            return shown(told(found))
    return message
