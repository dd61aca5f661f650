"""The built-in rules against the bands as reported, row by row, and a person's own file with its errors.

Source of every band: the statement named in the rule's own `source`, with its confidence.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import pytest
from pydantic import ValidationError

from calib.outcome.errors import InputError
from photomeasure.rules import Decision, available_rules, default_rule, load_rule, parse_rule, rule_schema

# name, bands, confidence: ADR 62/02 and 62/01 as reported (secondary); Detailforskrifter for køretøjer
# 9.05.310 (1) (read); UN R55 Annex 7 (secondary; memory for the head); 94/20/EC as British fitters state it (secondary),
# and as SANS 1505-1 says that it follows it (inferred); NZTA VIRM, WAC 204-70, 15 NYCRR 57.3, COMAR 11.13.08.04 and
# Ontario's handbook (read: absence)
BANDS = {
    "au-ball-50": ([(350, 460)], "secondary"),
    "au-ball-50-older": ([(350, 420)], "secondary"),
    "au-pin": ([], "secondary"),
    "ca": ([], "read"),
    "dk": ([(385 - 35, 385 + 35), (450 - 50, 450 + 50), (400 - 50, 400 + 50)], "read"),
    "nz": ([], "read"),
    "uk-trailer-head": ([(385, 455)], "secondary"),
    "uk-vehicle": ([(350, 420)], "secondary"),
    "un-r55-trailer-head": ([(430 - 35, 430 + 35)], "memory"),
    "un-r55-vehicle": ([(350, 420)], "secondary"),
    "us": ([], "read"),
    "za": ([(350, 420)], "inferred"),
}

OWN = """\
schema = "photomeasure/rule/1"
name = "ferncombe-yard"
title = "Ferncombe hire yard (invented), house rule"
jurisdiction = "the yard"
couplings = ["ball-50"]
source = "the yard's handbook (invented)"
edition = "not stated"
confidence = "common-practice"

[decision]
kind = "max-false-acceptance"
max_false_acceptance = 0.01

[[bands]]  # yard trucks
low_mm = 380
high_mm = 430

[bands.state]
laden = false
"""


def test_every_built_in_rule_is_listed_and_carries_the_reported_band() -> None:
    assert set(available_rules()) == set(BANDS)
    for name, (ends, confidence) in BANDS.items():
        rule = load_rule(name)
        assert rule.name == name
        assert [(band.low_mm, band.high_mm) for band in rule.bands] == ends, name
        assert rule.confidence == confidence, name
        assert rule.source and rule.edition


def test_default_rules() -> None:
    assert default_rule("ball-50").name == "au-ball-50"
    assert default_rule("pin").name == "au-pin"
    with pytest.raises(InputError, match="towing-eye"):
        default_rule("towing-eye")


def test_danish_presumption_is_plain_data() -> None:
    laden, unladen, unladen_with_control = (band.state for band in load_rule("dk").bands)
    assert laden.laden is True and laden.level_control is None
    assert (unladen.laden, unladen.level_control) == (False, False)
    assert (unladen_with_control.laden, unladen_with_control.level_control) == (False, True)


def test_contradicting_bands_are_kept_beside_the_rule() -> None:
    def others(name: str) -> list[tuple[float | None, float | None]]:
        return [(row.low_mm, row.high_mm) for row in load_rule(name).contradictions]

    assert others("un-r55-trailer-head") == [(385, 455)]
    assert others("au-ball-50") == [(350, 420), (350, 420)]
    assert others("au-pin") == [(350, 460)]


def test_own_rule_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "yard.toml"
    as_saved_on_a_yard_pc = b"\xef\xbb\xbf" + OWN.replace("\n", "\r\n").encode()
    path.write_bytes(as_saved_on_a_yard_pc)
    rule = load_rule(path)
    assert (rule.bands[0].low_mm, rule.bands[0].high_mm) == (380, 430)
    assert rule.decision.risk == 0.01
    assert load_rule(str(path)) == rule
    with pytest.raises(ValidationError):
        rule.name = "other"


@pytest.mark.parametrize(
    ("old", "new", "line", "field"),
    [
        ("high_mm = 430", 'high_mm = "430"', 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = nan", 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = inf", 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = -430", 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = 0.43", 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = true", 16, "bands[1].high_mm"),
        ("high_mm = 430", "high_mm = 370", 14, "bands[1]"),
        ("low_mm = 380\nhigh_mm = 430\n", "", 14, "bands[1]"),
        ("laden = false", 'laden = "no"', 19, "bands[1].state.laden"),
        ("laden = false", "loaded = false", 19, "bands[1].state.loaded"),
        ('kind = "max-false-acceptance"', 'kind = "lenient"', 11, "decision.kind"),
        ("max_false_acceptance = 0.01", "max_false_acceptance = 0.5", 12, "decision.max_false_acceptance"),
        ("max_false_acceptance = 0.01", "guard_factor = 1", 10, "decision"),
        ('"common-practice"', '"hearsay"', 8, "confidence"),
        ('name = "ferncombe-yard"', 'name = "Ferncombe yard"', 2, "name"),
        ("rule/1", "rule/2", 1, "schema"),
        ('couplings = ["ball-50"]', "couplings = []", 5, "couplings"),
    ],
)
def test_errors_name_line_and_field(old: str, new: str, line: int, field: str) -> None:
    assert old in OWN
    with pytest.raises(InputError) as caught:
        parse_rule(OWN.replace(old, new), "yard.toml")
    assert f"line {line}, {field}: " in caught.value.what
    assert "yard.toml" in caught.value.what


def test_missing_field_is_named() -> None:
    with pytest.raises(InputError, match="edition: is missing"):
        parse_rule(OWN.replace('edition = "not stated"\n', ""), "yard.toml")


def test_syntax_error_names_the_line() -> None:
    with pytest.raises(InputError, match="line 15"):
        parse_rule(OWN.replace("low_mm = 380", "low_mm = "), "yard.toml")


def test_second_band_and_inline_table_are_located() -> None:
    text = OWN + '\n[[bands]]\nnote = """\nhigh_mm = 1\n"""\nhigh_mm = 9\nstate = { laden = true }\n'
    with pytest.raises(InputError, match=r"line 25, bands\[2\]\.high_mm"):
        parse_rule(text, "yard.toml")
    inline = text.replace("high_mm = 9", "high_mm = 500").replace("laden = true", "laden = 1")
    with pytest.raises(InputError, match=r"line 26, bands\[2\]\.state\.laden"):
        parse_rule(inline, "yard.toml")


def test_bands_that_no_photograph_can_tell_apart_are_refused() -> None:
    with pytest.raises(InputError, match="same state"):
        parse_rule(OWN + "[[bands]]\nlow_mm = 400\nstate = { laden = false }\n", "yard.toml")


def test_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no rule named 'au-bal-50'"):
        load_rule("au-bal-50")
    with pytest.raises(InputError, match="Cannot open"):
        load_rule(tmp_path / "missing.toml")
    with pytest.raises(InputError, match="Cannot open"):
        load_rule(tmp_path)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'schema = "photomeasure/rule/1"\ntitle = "caf\xe9"\n')
    with pytest.raises(InputError, match="line 2 is not UTF-8"):
        load_rule(latin)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * 300_000)
    with pytest.raises(InputError, match="larger than"):
        load_rule(huge)


def test_schema_is_json_and_closed() -> None:
    schema = rule_schema()
    json.dumps(schema, allow_nan=False)
    assert schema["additionalProperties"] is False
    assert "schema" in schema["required"] and "confidence" in schema["required"]


def test_decision_is_printed_in_words() -> None:
    words = [Decision(kind=kind).text for kind in ("simple", "guarded", "max-false-acceptance")]
    assert len(set(words)) == 3
    assert re.search(r"2\.5 %", words[2])


def test_a_file_that_bears_a_built_in_name_must_say_the_same(tmp_path: Path) -> None:
    """A copy is the rule itself; with another band in it nobody may take it for the built-in one."""
    own = tmp_path / "au-ball-50.toml"
    text = (files("photomeasure.rules") / "au-ball-50.toml").read_text(encoding="utf-8")
    own.write_text(text, encoding="utf-8")
    assert load_rule(own) == load_rule("au-ball-50")
    own.write_text(text.replace("high_mm = 460", "high_mm = 600"), encoding="utf-8")
    with pytest.raises(InputError, match="not the built-in rule of that name"):
        load_rule(own)
