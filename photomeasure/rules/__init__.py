"""Height bands as data, one TOML file each, with source, edition, state, confidence and decision rule."""

from photomeasure.rules.decision import parse_decision
from photomeasure.rules.load import available_rules, default_rule, load_rule, parse_rule
from photomeasure.rules.model import Band, BandState, Contradiction, Decision, Rule, rule_schema

__all__ = [
    "Band",
    "BandState",
    "Contradiction",
    "Decision",
    "Rule",
    "available_rules",
    "default_rule",
    "load_rule",
    "parse_decision",
    "parse_rule",
    "rule_schema",
]
