"""A decision rule as it is typed, and what it decides. References: JCGM 106:2012 and ILAC-G8:09/2019, as in test_verdict."""

from __future__ import annotations

import pytest

from calib.outcome.errors import InputError
from photomeasure.asked.state import State
from photomeasure.rules import Decision, load_rule, parse_decision
from photomeasure.verdict.judge import judge

AU = load_rule("au-ball-50")
STATE = State(coupled=True, laden=True, level_ground=True)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("simple", Decision(kind="simple")),
        ("guarded", Decision(kind="guarded")),
        (" Guarded = 0.83 ", Decision(kind="guarded", guard_factor=0.83)),
        ("guarded=0", Decision(kind="guarded", guard_factor=0.0)),
        ("max-false-acceptance", Decision(kind="max-false-acceptance")),
        ("max-false-acceptance=0.01", Decision(kind="max-false-acceptance", max_false_acceptance=0.01)),
    ],
)
def test_as_typed(text: str, expected: Decision) -> None:
    assert parse_decision(text) == expected


@pytest.mark.parametrize(
    "text",
    ["", "strict", "simple=1", "guarded=", "guarded=6", "guarded=-1", "guarded=nan", "guarded=inf", "guarded=0.8x",
     "max-false-acceptance=0", "max-false-acceptance=0.5", "max-false-acceptance=2 %", "=0.5"],
)  # fmt: skip
def test_what_is_no_decision_rule(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_decision(text)
    assert "no decision rule" in str(caught.value) and "max-false-acceptance" in str(caught.value)
    assert "--" not in str(caught.value)  # each door has its own words for where it was said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("max-false-acceptance=2", "(P must be less than 0.5)"),
        ("max-false-acceptance=0", "(P must be more than 0)"),
        ("guarded=-1", "(R must be at least 0)"),
        ("guarded=6", "(R must be at most 5)"),
        ("guarded=inf", "(R must be a finite number)"),
    ],
)
def test_the_bounds_of_the_number_are_told(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_decision(text)
    assert said in caught.value.what and "above 0 and below 0.5" in caught.value.expected


@pytest.mark.parametrize(
    ("text", "height_mm", "verdict"),
    [
        # band 350-460, u = 4. Guarded zone for w = U: 358-452 (computed); 452 has p inside 0.9772
        ("guarded", 452.0, "within"),
        ("guarded", 452.1, "undecided"),
        # ILAC-G8 table 1 (computed): r = 0.83 leaves 0.0485 at the acceptance limit 460 - 0.83 x 8 = 453.36
        ("guarded=0.83", 453.3, "within"),
        ("guarded=0.83", 453.4, "undecided"),
        ("max-false-acceptance=0.0486", 453.36, "within"),
        ("max-false-acceptance=0.0484", 453.36, "undecided"),
        # r = 1.5: 0.00135 at 460 - 12
        ("guarded=1.5", 448.0, "within"),
        ("max-false-acceptance=0.00136", 448.0, "within"),
        ("max-false-acceptance=0.00134", 448.0, "undecided"),
        # simple acceptance: up to 0.5 at the end, which is inside
        ("simple", 460.0, "within"),
        ("simple", 460.1, "above"),
        ("simple", 349.9, "below"),
    ],
)
def test_published_limits(text: str, height_mm: float, verdict: str) -> None:
    assert judge(height_mm, 4.0, AU, STATE, "ball-50", decision=parse_decision(text)).verdict == verdict


def test_the_number_is_told() -> None:
    assert parse_decision("simple").number is None
    assert parse_decision("guarded").number == 1.0
    assert parse_decision("max-false-acceptance").number == 0.025
