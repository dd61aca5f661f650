"""Defaults from a file `photomeasure.toml`, in the folder of work and in the user's own place.

Keys are options without their dashes: at the top for every command that has the option, in a table such as `[measure]`
for that command. What is typed stands above the folder's file, and that above the user's.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.outcome.files import is_file
from calib.outcome.reading import text_of, toml_of
from calib.words.language import LANGUAGES, Language, of_environment
from calib.words.said import said
from photomeasure.asked.fields import QUESTIONS

NAME = "photomeasure.toml"
LARGEST_BYTES = 100_000
# files whose paths are meant from where the settings file lies; a rule may be a name
_FILES, _NAME_OR_FILE = frozenset({"camera", "bay", "key"}), frozenset({"rule"})
# what one answer must not become the answer to the next rig by itself
_NEVER = frozenset({
    "help", "version", "json_file", "out", "csv", "xlsx", "residuals", "yaml", "survey", "template", "number", "title",
    "reads", "centre", "vehicle", "trailer", *(question.parameter for question in QUESTIONS if question.of_one_rig),
})  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One line of a file that counts: option as typed, command it holds for (None: all that have it)."""

    option: str
    value: Any
    command: str | None
    file: Path


def places() -> tuple[Path, ...]:
    """Where the file is looked for, the stronger one first."""
    from platformdirs import user_config_path

    return Path(NAME), user_config_path("photomeasure", appauthor=False) / NAME


def language_at_start() -> Language:
    """Of what is told before an option is read, the help too: `language` of the settings, else what the terminal asks for.

    What is wrong with a settings file is told by `default_map`.
    """
    for file in places():
        try:
            asked = _read(file).get("language")
        except InputError:
            continue
        if asked in LANGUAGES:
            return LANGUAGES[LANGUAGES.index(asked)]
    return of_environment(os.environ)


def default_map(commands: Mapping[str, Any]) -> dict[str, Any]:
    """Defaults by command and parameter, as the parser takes them. Raises InputError for a key that is no option."""
    chosen: dict[str, Any] = {}
    for command, parameter, value, _ in _resolved(commands):
        chosen.setdefault(command, {}).setdefault(parameter, value)
    return chosen


def in_force(commands: Mapping[str, Any]) -> list[Setting]:
    """What the files say, what is overruled by a stronger file left out."""
    said: dict[tuple[str | None, str], Setting] = {}
    for setting in _lines():
        _check(setting, commands)
        said.setdefault((setting.command, setting.option), setting)
    return list(said.values())


def _resolved(commands: Mapping[str, Any]) -> Iterator[tuple[str, str, Any, Setting]]:
    """Command, parameter and value; a command's own table before what holds for all in the same file."""
    for setting in _lines():
        _check(setting, commands)
        for name, command in commands.items():
            if setting.command not in (None, name):
                continue
            found = _parameter(command, setting.option)
            if found is not None:
                yield name, found[0], _value(setting, found[1], found[0]), setting


def _lines() -> Iterator[Setting]:
    for file in places():
        written = _read(file)
        tables = {name: table for name, table in written.items() if isinstance(table, dict)}
        for command, table in tables.items():
            for option, value in table.items():
                yield Setting(option=_option(option), value=value, command=command, file=file)
        for option, value in written.items():
            if option not in tables:
                yield Setting(option=_option(option), value=value, command=None, file=file)


def _option(key: str) -> str:
    return "--" + key.replace("_", "-").lower().removeprefix("--")


def _read(file: Path) -> dict[str, Any]:
    try:
        if not file.is_file():
            return {}
        if file.stat().st_size > LARGEST_BYTES:
            raise InputError(
                said("{file} is too large.", file=file),
                expected=said("a few lines of defaults"),
                remedy=said("check that file"),
            )
        return toml_of(text_of(file))
    except (OSError, UnicodeDecodeError, RecursionError) as error:
        raise InputError(
            said(
                "Cannot read the defaults in {file}: {why}.",
                file=file,
                why=getattr(error, "strerror", None) or said("it is not plain text"),
            ),
            expected=said("a text file (UTF-8) with lines such as bar-x = 149.5"),
            remedy=said("mend that file, or take it away"),
        ) from error
    except (tomllib.TOMLDecodeError, ValueError) as error:
        raise InputError(
            f"{file}: {error}.",
            expected=said('lines such as bar-x = 149.5 or rule = "dk" (TOML)'),
            remedy=said("mend that line: a text needs quotes, a number a decimal point"),
        ) from error


def _check(setting: Setting, commands: Mapping[str, Any]) -> None:
    """Raise InputError where no command has that option, or it is nothing to be kept for the next rig."""
    if setting.command is not None and setting.command not in commands:
        raise InputError(
            said("{file}: there is no command {command}.", file=setting.file, command=repr(setting.command)),
            expected=", ".join(sorted(commands)),
            remedy=said("rename that table, or take it out"),
        )
    places = [commands[setting.command]] if setting.command is not None else list(commands.values())
    found = [match for match in (_parameter(command, setting.option) for command in places) if match is not None]
    if not found:
        known = sorted({name.removeprefix("--") for command in places for name in _names(command)})
        raise InputError(
            said(
                "{file}: {value} is no option that can have a default.",
                file=setting.file,
                value=setting.option.removeprefix("--"),
            ),
            expected=", ".join(known),
            remedy=said("mend that line, or take it out"),
        )


def _parameter(command: Any, option: str) -> tuple[str, Any] | None:
    """The parameter that an option sets, and whether by its first name (True) or its opposite (False)."""
    for parameter in getattr(command, "params", ()):
        if parameter.param_type_name != "option" or parameter.name in _NEVER:
            continue
        if option in parameter.opts:
            return parameter.name, (True if getattr(parameter, "is_flag", False) else None)
        if option in parameter.secondary_opts:
            return parameter.name, False
    return None


def _names(command: Any) -> Iterator[str]:
    for parameter in getattr(command, "params", ()):
        if parameter.param_type_name == "option" and parameter.name not in _NEVER:
            yield from (*parameter.opts, *parameter.secondary_opts)


def _unlike(setting: Setting, expected: str) -> InputError:
    return InputError(
        said(
            "{file}: {option} is {typed}.",
            file=setting.file,
            option=setting.option.removeprefix("--"),
            typed=repr(setting.value),
        ),
        expected=expected,
        remedy=said("mend that line"),
    )


def _value(setting: Setting, flag: bool | None, parameter: str) -> Any:
    """As the parser takes it: texts, but for switches."""
    value = setting.value
    if flag is not None:
        if not isinstance(value, bool):
            raise _unlike(setting, said("true or false, without quotes"))
        return value if flag else not value
    if isinstance(value, bool | dict | list):
        raise _unlike(setting, said("one number or one text in quotes"))
    beside = setting.file.parent / str(value)
    if parameter in _FILES or (parameter in _NAME_OR_FILE and is_file(beside)):
        return str(beside)
    return str(value)
