"""What a person's defaults say gives way to what this sheet says of this rig, and nothing else does."""

from __future__ import annotations

from calib.kit.answers import QUESTIONS
from photomeasure.asked.request import Request
from photomeasure.asked.requested import request_of
from photomeasure.asked.stated import Stated
from photomeasure.rules.load import default_rule
from photomeasure.seen.answers.by_default import given_way

NOTHING = dict.fromkeys(QUESTIONS)


def asked(*defaults: str) -> Request:
    said = Stated(coupling="ball-50", ball_diameter_mm=50.8, coupled=False, by_default=frozenset(defaults))
    return request_of(said, ())


def test_a_ball_that_is_ticked_opens_what_the_defaults_said_of_it() -> None:
    told: list[str] = []
    ticked = {**NOTHING, "ball": "50"}
    assert given_way(asked(), ticked, None, told).unsaid & {"coupling", "ball-diameter"} == set()
    assert given_way(asked("ball_diameter_mm"), ticked, None, told).unsaid & {"coupling", "ball-diameter"} == {
        "ball-diameter"
    }
    assert given_way(asked("coupling"), ticked, None, told).unsaid & {"coupling", "ball-diameter"} == {"coupling"}
    both = asked("coupling", "ball_diameter_mm")
    assert given_way(both, NOTHING, None, told).unsaid == both.unsaid and not told


def test_a_box_stands_above_a_default_and_the_difference_is_told() -> None:
    told: list[str] = []
    ticked = {**NOTHING, "coupled": "yes"}
    assert given_way(asked("coupled"), ticked, None, told).state.coupled is None and len(told) == 1
    assert given_way(asked(), ticked, None, told).state.coupled is False and len(told) == 1
    same = {**NOTHING, "coupled": "no"}
    assert given_way(asked("coupled"), same, None, told).state.coupled is None and len(told) == 1


def test_in_a_stand_test_nobody_touched_the_sheet_unless_it_is_said() -> None:
    for said, expected in ((None, True), (False, False), (True, True)):
        assert request_of(Stated(sheet_untouched=said), (), before_photos=1, standing=True).sheet_untouched is expected
        assert request_of(Stated(sheet_untouched=said), ()).sheet_untouched is said
    assert Request(photos=(), rule=default_rule("ball-50")).standing is False
