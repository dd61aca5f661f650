"""A centre that something hides: marks are placed by eye, tags win over them, and a bare ball in sight speaks up.

The photographs are the samples of an invented yard (path-traced, truth beside them).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.asked.bars import Bars
from photomeasure.asked.state import State
from photomeasure.interval.budget import budget
from photomeasure.pipeline import measure
from photomeasure.seen.look import Refused
from tests.sample_requests import sample_request
from tests.solution.test_contradictions import asked, result, sample, true_height_mm

ON_THE_BALL = (2072.0, 1496.0)  # of within.jpg
ON_THE_HEAD = (2042.3, 1484.4)  # of coupled.jpg, whose tag is there


def rows(outcome: object) -> dict[str, float]:
    return {row.quantity: row.u_mm for row in budget(outcome.estimate)}  # type: ignore[attr-defined]


def test_a_mark_on_a_bare_ball_has_no_placement() -> None:
    outcome = result(asked(sample("within"), centres=(ON_THE_BALL,)))
    assert "mark placement" not in rows(outcome) and outcome.estimate.u_mm < 1.6


def test_a_mark_on_a_pin_is_placed_by_eye() -> None:
    request = replace(asked(sample("within"), centres=(ON_THE_BALL,)), coupling="pin")
    assert rows(result(request))["mark placement"] == pytest.approx(2.0, rel=1e-6)


def test_a_mark_where_nobody_said_what_is_there_is_bare_only_where_a_ball_is_found() -> None:
    unsaid = State(coupled=None, laden=True, level_ground=True)
    bare = result(replace(asked(sample("within"), centres=(ON_THE_BALL,)), state=unsaid))
    beside = result(replace(asked(sample("within"), centres=((2272.0, 1496.0),)), state=unsaid))
    assert "mark placement" not in rows(bare)
    assert rows(beside)["mark placement"] == pytest.approx(4.5, rel=1e-6)
    assert any("nobody said" in check for check in beside.sightings.checks)


@pytest.mark.parametrize(("up_px", "agrees"), [(0.0, True), (-60.0, False)])
def test_a_tag_wins_over_a_mark_on_a_head(up_px: float, agrees: bool) -> None:
    """The mark 39 mm too high would have been the height; it is held against the tag instead."""
    mark = (ON_THE_HEAD[0], ON_THE_HEAD[1] + up_px)
    outcome = result(asked(sample("coupled"), centres=(mark,), coupled=True))
    assert outcome.sightings.way == "tag"
    assert abs(outcome.expanded.height_mm - true_height_mm("coupled")) < outcome.expanded.U_mm
    assert bool(outcome.sightings.contradictions) is not agrees and outcome.verdict.indicative is not agrees


def test_a_bare_ball_on_a_rig_said_to_be_coupled_is_a_contradiction() -> None:
    outcome = result(asked(sample("within"), centres=(ON_THE_BALL,), coupled=True))
    assert any("bare ball is in plain sight" in why for why in outcome.verdict.indicative_why)
    both = result(asked(sample("coupled"), sample("above"), coupled=True))
    assert any("in plain sight in above.jpg" in why for why in both.verdict.indicative_why)
    refused = measure(asked(sample("within"), coupled=True))
    assert isinstance(refused, Refused) and "bare ball is in plain sight" in refused.refusal.reason


def test_no_ball_is_seen_on_the_coupled_sample() -> None:
    assert result(asked(sample("coupled"), coupled=True)).doubts == ()


def test_no_verdict_is_sure_without_bars() -> None:
    """14 to 18 mm either way: inside the band, but what a printer did is not known."""
    outcome = result(sample_request("within", bars=Bars()))
    assert outcome.verdict.indicative and any("scale is not known" in why for why in outcome.verdict.indicative_why)
    low, high = outcome.expanded.interval_mm
    truth = true_height_mm("within")
    # the same picture is that of a print at 94.1 % of a lower coupling: the height goes with the print's size
    assert low < 0.941 * truth and truth < high
    assert np.isclose(outcome.expanded.factor, 2.0, atol=0.05)
