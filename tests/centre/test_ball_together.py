"""Several photographs of one ball: what is sure in one is found in the others, and only there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.camera import project
from calib.outcome import Refusal
from photomeasure.centre.ball import Ball, decide, find_candidates
from photomeasure.centre.ball_search import View
from photomeasure.centre.ball_together import found_together, sight_mm
from tests.centre.ball_pictures import CENTRE, bare_hitch, view_from


@pytest.fixture(scope="module")
def front() -> View:
    return view_from([200.0, -2000.0, 480.0], bare_hitch())


def test_a_line_of_sight_passes_through_the_balls_centre(front: View) -> None:
    """The pinhole's own geometry: all points of a line of sight have one picture."""
    px = np.array([330.0, 250.0])
    places = sight_mm(front, px)
    seen = project(front.intrinsics, places @ front.rotation.T + front.translation)[0]
    np.testing.assert_allclose(seen, np.tile(px, (len(seen), 1)), atol=1e-6)


def test_a_ball_without_its_neck_is_taken_where_another_photograph_is_sure(front: View) -> None:
    """From the second place the neck is hidden: by itself that is a refusal, beside the first one it is the same ball."""
    hidden = view_from([-600.0, -1800.0, 700.0], bare_hitch(neck=False))
    sure, alone = decide(find_candidates(front)), decide(find_candidates(hidden))
    assert isinstance(sure, Ball)
    assert isinstance(alone, Refusal)
    both = found_together([front, hidden], [sure, alone])
    assert isinstance(both[1], Ball)
    expected = project(hidden.intrinsics, (hidden.rotation @ CENTRE + hidden.translation)[None])[0][0]
    assert np.linalg.norm(both[1].centre_px - expected) < 0.2


def test_nothing_is_taken_off_the_line_of_sight(front: View) -> None:
    """The second photograph with its camera said to be turned: the ball is not where it must be."""
    hidden = view_from([-600.0, -1800.0, 700.0], bare_hitch(neck=False))
    moved = replace(hidden, translation=hidden.translation + np.array([0.0, 60.0, 0.0]))
    sure = decide(find_candidates(front))
    assert isinstance(found_together([front, moved], [sure, decide(find_candidates(moved))])[1], Refusal)


def test_without_a_sure_one_nothing_changes(front: View) -> None:
    refusal = Refusal(code="ball-not-found", reason="none", remedy="mark it")
    assert found_together([front], [refusal]) == [refusal]
