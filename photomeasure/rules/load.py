"""Rules by name from the package, or from a person's own TOML file with errors that name line and field."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import in_words
from calib.outcome.reading import toml_of
from photomeasure.rules.locate import field_text, line_of
from photomeasure.rules.model import Rule

DEFAULT_RULES = {"ball-50": "au-ball-50", "pin": "au-pin"}
LARGEST_FILE_BYTES = 200_000

_SHAPE = "a rule file in TOML, encoded as UTF-8, as the built-in ones are"
_LIST_THEM = "start from a copy of a built-in rule and change its values"


def available_rules() -> tuple[str, ...]:
    """Names of the built-in rules, sorted."""
    names = (entry.name for entry in files(__package__).iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def default_rule(coupling: str) -> Rule:
    """The rule used where none is asked for; raises InputError for a coupling without one."""
    if coupling not in DEFAULT_RULES:
        raise InputError(
            f"No rule goes with the coupling {coupling!r} by default.",
            expected="one of " + ", ".join(DEFAULT_RULES),
            remedy="choose the coupling, or name a rule or a rule file yourself",
        )
    return load_rule(DEFAULT_RULES[coupling])


def load_rule(name_or_path: str | Path) -> Rule:
    """The built-in rule of that name, or else the rule in that file.

    Raises InputError for an unknown name, a file that cannot be read, a syntax error (line and column) or a
    value that the schema does not allow (line and field).
    """
    name = str(name_or_path)
    if name in available_rules():
        text = (files(__package__) / f"{name}.toml").read_text(encoding="utf-8")
        return parse_rule(text, f"{name}.toml")
    if not Path(name).suffix and not Path(name).exists():
        raise InputError(
            f"There is no rule named {name!r}.",
            expected="one of " + ", ".join(available_rules()) + ", or the path of a rule file (.toml)",
            remedy="check the spelling, or give the path of your own rule file",
        )
    rule = parse_rule(_read(Path(name)), name)
    refuse_false_name(rule, f"The rule file {name}")
    return rule


def refuse_false_name(rule: Rule, what: str) -> None:
    """Raises InputError for a rule that bears a built-in rule's name and says something else."""
    if rule.name in available_rules() and rule != load_rule(rule.name):
        raise InputError(
            f"{what} calls itself {rule.name}, but is not the built-in rule of that name.",
            expected="a name of its own for a rule of your own",
            remedy="change its name and title, so that nobody takes its band for the built-in rule's",
        )


def _read(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a null sign in the path
        raise InputError(
            f"Cannot read the rule file {path}: {getattr(error, 'strerror', None) or error}.",
            expected=_SHAPE,
            remedy="check the path",
        ) from error
    if len(raw) > LARGEST_FILE_BYTES:
        raise InputError(
            f"The rule file {path} is larger than {LARGEST_FILE_BYTES // 1000} kB.",
            expected=_SHAPE,
            remedy=_LIST_THEM,
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            f"The rule file {path}, line {line}: not UTF-8 text.", expected=_SHAPE, remedy="save it as UTF-8"
        ) from error


def parse_rule(text: str, origin: str) -> Rule:
    """A rule from TOML text; `origin` names the file in errors. Raises InputError with line and field."""
    try:
        data = toml_of(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"The rule file {origin} is not valid TOML: {error}.", expected=_SHAPE, remedy="mend that line"
        ) from error
    try:
        return Rule.model_validate(data)
    except ValidationError as error:
        rows = [_row(text, tuple(row["loc"]), in_words(row)) for row in error.errors(include_url=False)]
        raise InputError(
            f"The rule file {origin} does not fit: " + "; ".join(rows) + ".",
            expected="the fields of a rule (schema photomeasure/rule/1), heights in mm",
            remedy="mend the named fields; " + _LIST_THEM,
        ) from error


def _row(text: str, path: tuple[str | int, ...], message: str) -> str:
    line = line_of(text, path)
    where = f"line {line}, " if line is not None else ""
    return f"{where}{field_text(path)}: {message[:1].lower()}{message[1:]}"
