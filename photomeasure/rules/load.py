"""Rules by name from the package, or from a person's own TOML file with errors that name line and field."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import in_words
from calib.outcome.reading import fitted, read_text, read_toml
from calib.outcome.toml_lines import field_text, line_said
from calib.words.said import said
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
            said("No rule goes with the coupling {coupling} by default.", coupling=repr(coupling)),
            expected="one of " + ", ".join(DEFAULT_RULES),
            remedy=said("choose the coupling, or name a rule or a rule file yourself"),
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
            said("There is no rule named {name}.", name=repr(name)),
            expected="one of " + ", ".join(available_rules()) + ", or the path of a rule file (.toml)",
            remedy=said("check the spelling, or give the path of your own rule file"),
        )
    rule = parse_rule(read_text(Path(name), what="the rule file", form=_SHAPE, most_bytes=LARGEST_FILE_BYTES), name)
    refuse_false_name(rule, f"The rule file {name}")
    return rule


def refuse_false_name(rule: Rule, what: str) -> None:
    """Raises InputError for a rule that bears a built-in rule's name and says something else."""
    if rule.name in available_rules() and rule != load_rule(rule.name):
        raise InputError(
            said("{what} calls itself {name}, but is not the built-in rule of that name.", what=what, name=rule.name),
            expected=said("a name of its own for a rule of your own"),
            remedy=said("change its name and title, so that nobody takes its band for the built-in rule's"),
        )


def parse_rule(text: str, origin: str) -> Rule:
    """A rule from TOML text; `origin` names the file in errors. Raises InputError with line and field."""
    label = f"The rule file {origin}"
    return fitted(
        Rule,
        read_toml(text, label, expected=_SHAPE),
        label,
        expected="the fields of a rule (schema photomeasure/rule/1), heights in mm",
        remedy="mend the named fields; " + _LIST_THEM,
        text=text,
        all_faults=_does_not_fit,
    )


def _does_not_fit(error: ValidationError, text: str) -> str:
    rows = [
        f"{line_said(text, row['loc'])}{field_text(row['loc'])}: {in_words(row)}"
        for row in error.errors(include_url=False)
    ]
    return "does not fit: " + "; ".join(rows) + "."
