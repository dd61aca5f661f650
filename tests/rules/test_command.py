"""`photomeasure rules`: the list and one rule in full, with everything that a reader needs to doubt it."""

from __future__ import annotations

import pytest

from calib.outcome.errors import InputError
from photomeasure.commands.rules import run
from photomeasure.rules import available_rules, load_rule


def test_every_rule_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(None) == 0
    said = capsys.readouterr().out
    for name in available_rules():
        rule = load_rule(name)
        assert f"{name}: {rule.title}" in said
        assert all(band.text in said for band in rule.bands) and all(
            other.text in said for other in rule.contradictions
        )


@pytest.mark.parametrize("name", available_rules())
def test_one_rule_in_full(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(name) == 0
    rule, said = load_rule(name), capsys.readouterr().out
    for text in (rule.source, rule.edition, rule.confidence, rule.decision.text, *rule.notes):
        assert text in said
    for band in rule.bands:
        assert f"{band.text}, for {band.state.text}" in said and (band.note or "") in said
    assert all(other.text in said for other in rule.contradictions)


def test_a_name_that_is_none() -> None:
    with pytest.raises(InputError, match="no rule named 'au-bal-50'"):
        run("au-bal-50")
