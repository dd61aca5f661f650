"""Several photographs of one ball: what is sure in one is found in the others, and only there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.camera import project
from calib.outcome import Refusal
from photomeasure.centre.ball import Ball, find_ball
from photomeasure.centre.ball_search import View
from photomeasure.centre.ball_together import found_together, sight_mm
from tests.centre.ball_pictures import CENTRE, Picture, backdrop, hitch

ASIDE = (-600.0, -1800.0, 700.0)
WALL = backdrop(0.4, 0.4)


@pytest.fixture(scope="module")
def front() -> View:
    return Picture([*hitch(CENTRE), WALL]).view


@pytest.fixture(scope="module")
def aside() -> Picture:
    """From here nothing of the neck is to be seen."""
    return Picture([hitch(CENTRE)[0], WALL], ASIDE)


def test_a_line_of_sight_passes_through_the_balls_centre(front: View) -> None:
    """The pinhole's own geometry: all points of a line of sight have one picture."""
    px = np.array([330.0, 250.0])
    places = sight_mm(front, px)
    seen = project(front.intrinsics, places @ front.rotation.T + front.translation)[0]
    np.testing.assert_allclose(seen, np.tile(px, (len(seen), 1)), atol=1e-6)


def test_a_ball_without_its_neck_is_taken_where_another_photograph_is_sure(front: View, aside: Picture) -> None:
    """By itself that is a refusal, beside the first photograph it is the same ball."""
    sure, alone = find_ball(front), find_ball(aside.view)
    assert isinstance(sure, Ball)
    assert isinstance(alone, Refusal)
    both = found_together([front, aside.view], [sure, alone])
    assert isinstance(both[1], Ball)
    assert np.linalg.norm(both[1].centre_px - aside.centre_px) < 0.2


def test_nothing_is_taken_off_the_line_of_sight(front: View, aside: Picture) -> None:
    """The second photograph with its camera said to be elsewhere: the ball is not where it must be."""
    moved = replace(aside.view, translation=aside.view.translation + np.array([0.0, 60.0, 0.0]))
    assert isinstance(found_together([front, moved], [find_ball(front), find_ball(moved)])[1], Refusal)


def test_without_a_sure_one_nothing_changes(front: View) -> None:
    refusal = Refusal(code="ball-not-found", reason="none", remedy="mark it")
    assert found_together([front], [refusal]) == [refusal]
