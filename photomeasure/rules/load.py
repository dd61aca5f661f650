"""Rules by name from the package, or from a person's own TOML file with errors that name line and field."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import in_words
from calib.outcome.reading import fitted, read_text, read_toml
from calib.outcome.toml_lines import field_text, line_said
from calib.words.said import Said, joined, said
from photomeasure.rules.model import Rule

DEFAULT_RULES = {"ball-50": "au-ball-50", "pin": "au-pin"}
LARGEST_FILE_BYTES = 200_000

_SHAPE = said("a rule file in TOML, encoded as UTF-8, as the built-in ones are")
_LIST_THEM = said("start from a copy of a built-in rule and change its values")

TEXTS_OF_RULE = ("title", "jurisdiction", "source", "edition")


def available_rules() -> tuple[str, ...]:
    """Names of the built-in rules, sorted."""
    names = (entry.name for entry in files(__package__).iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def default_rule(coupling: str) -> Rule:
    """The rule used where none is asked for of a coupling of `asked.state.COUPLINGS`; raises InputError for another one."""
    if coupling not in DEFAULT_RULES:
        raise InputError(
            said("No rule goes with the coupling {coupling} by default.", coupling=repr(coupling)),
            expected=said("one of {listed}", listed=", ".join(DEFAULT_RULES)),
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
        return _in_words(parse_rule(text, f"{name}.toml"))
    if not Path(name).suffix and not Path(name).exists():
        raise InputError(
            said("There is no rule named {name}.", name=repr(name)),
            expected=said("one of {listed}, or the path of a rule file (.toml)", listed=", ".join(available_rules())),
            remedy=said("check the spelling, or give the path of your own rule file"),
        )
    rule = parse_rule(
        read_text(Path(name), what=said("the rule file"), form=_SHAPE, most_bytes=LARGEST_FILE_BYTES), name
    )
    refuse_false_name(rule, said("The rule file {name}", name=name))
    return rule


def _in_words(rule: Rule) -> Rule:
    """A built-in rule, whose texts are sentences of the catalogues by their English text."""

    def told(text: str | None) -> str | None:
        return None if text is None else Said(text, {})

    return rule.model_copy(
        update={
            **{name: told(getattr(rule, name)) for name in TEXTS_OF_RULE},
            "notes": tuple(map(told, rule.notes)),
            "bands": tuple(band.model_copy(update={"note": told(band.note)}) for band in rule.bands),
            "contradictions": tuple(
                row.model_copy(update={"source": told(row.source), "note": told(row.note)})
                for row in rule.contradictions
            ),
        }
    )


def built_in(rule: Rule) -> Rule:
    """The same rule; where it is a built-in one, with texts that can be told in other languages."""
    return load_rule(rule.name) if rule.name in available_rules() and rule == load_rule(rule.name) else rule


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
    label = said("The rule file {name}", name=origin)
    return fitted(
        Rule,
        read_toml(text, label, expected=_SHAPE),
        label,
        expected=said("the fields of a rule (schema photomeasure/rule/1), heights in mm"),
        remedy=said("mend the named fields; {start}", start=_LIST_THEM),
        text=text,
        all_faults=_does_not_fit,
    )


def _does_not_fit(error: ValidationError, text: str) -> str:
    rows = []
    for row in error.errors(include_url=False):
        line = line_said(text, row["loc"])
        rows.append(
            joined([joined([line, field_text(row["loc"])]) if line else field_text(row["loc"]), in_words(row)], ": ")
        )
    return said("does not fit: {faults}.", faults=joined(rows, "; "))
