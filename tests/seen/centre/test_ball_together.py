"""Several photographs of one ball: what is sure in one is found in the others, and only there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.camera.camera import project
from calib.outcome.refusal import Refusal
from photomeasure.seen.centre.ball.ball import SURE, Ball, Candidate, decide, find_candidates
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.together import found_together, sight_mm
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch

ASIDE = (-600.0, -1800.0, 700.0)
WALL = backdrop(0.4, 0.4)


@pytest.fixture(scope="module")
def front() -> SearchedPicture:
    return Picture([*hitch(CENTRE), WALL]).view


@pytest.fixture(scope="module")
def aside() -> Picture:
    """From here nothing of the neck is to be seen."""
    return Picture([hitch(CENTRE)[0], WALL], ASIDE)


@pytest.fixture(scope="module")
def whole() -> SearchedPicture:
    """From the same place, neck and all."""
    return Picture([*hitch(CENTRE), WALL], ASIDE).view


def test_a_line_of_sight_passes_through_the_balls_centre(front: SearchedPicture) -> None:
    """The pinhole's own geometry: all points of a line of sight have one picture."""
    px = np.array([330.0, 250.0])
    places = sight_mm(front, px)
    seen = project(front.intrinsics, places @ front.cam_from_world.T + front.world_in_cam_mm)[0]
    np.testing.assert_allclose(seen, np.tile(px, (len(seen), 1)), atol=1e-6)


def test_a_ball_without_its_neck_is_taken_where_another_photograph_is_sure(
    front: SearchedPicture, aside: Picture
) -> None:
    """By itself that is a refusal, beside the first photograph it is the same ball."""
    candidates = [find_candidates(front), find_candidates(aside.view)]
    assert isinstance(decide(candidates[1], SURE), Refusal)
    both = found_together([front, aside.view], candidates, SURE)
    assert isinstance(both[0], Ball)
    assert isinstance(both[1], Ball)
    assert np.linalg.norm(both[1].centre_px - aside.centre_px) < 0.2


def _moved(view: SearchedPicture) -> SearchedPicture:
    """Its camera said to be elsewhere: the ball is not where it must be."""
    return replace(view, world_in_cam_mm=view.world_in_cam_mm + np.array([0.0, 60.0, 0.0]))


def test_nothing_is_taken_off_the_line_of_sight(front: SearchedPicture, aside: Picture) -> None:
    moved = _moved(aside.view)
    candidates = [find_candidates(front), find_candidates(moved)]
    assert isinstance(found_together([front, moved], candidates, SURE)[1], Refusal)


def _doubted(candidates: tuple[Candidate, ...], confidence: float) -> tuple[Candidate, ...]:
    return (replace(candidates[0], confidence=confidence), *candidates[1:])


def test_two_that_believe_in_one_place_are_sure_together(front: SearchedPicture, whole: SearchedPicture) -> None:
    """0.85 and 0.85 leave 0.0225 of doubt; 0.8 and 0.6 leave 0.08, too much."""
    views, seen = [front, whole], [find_candidates(front), find_candidates(whole)]
    both = found_together(views, [_doubted(some, 0.85) for some in seen], SURE)
    assert [isinstance(one, Ball) for one in both] == [True, True]
    first = both[0]
    assert isinstance(first, Ball) and first.confidence == pytest.approx(0.9775)
    too_doubtful = found_together(views, [_doubted(seen[0], 0.8), _doubted(seen[1], 0.6)], SURE)
    assert [isinstance(one, Ball) for one in too_doubtful] == [False, False]


def test_an_outline_that_does_not_tell_the_centre_vouches_for_nothing(
    front: SearchedPicture, whole: SearchedPicture
) -> None:
    views, seen = [front, whole], [_doubted(find_candidates(view), 0.85) for view in (front, whole)]
    open_ended = (replace(seen[1][0], placed=False), *seen[1][1:])
    assert not any(isinstance(one, Ball) for one in found_together(views, [seen[0], open_ended], SURE))


def test_a_ball_too_small_to_be_judged_is_not_taken_on_the_line_either(front: SearchedPicture) -> None:
    """From ten times as far away the ball is seven pixels wide: the line of sight crosses the picture, nothing is on it."""
    far = Picture([*hitch(CENTRE), WALL], tuple(10.0 * mm for mm in ASIDE)).view
    found = found_together([front, far], [find_candidates(front), find_candidates(far)], SURE)
    assert isinstance(found[0], Ball) and isinstance(found[1], Refusal)


def test_two_that_believe_in_different_places_are_not(front: SearchedPicture, whole: SearchedPicture) -> None:
    seen = [_doubted(find_candidates(view), 0.8) for view in (front, whole)]
    found = found_together([front, _moved(whole)], seen, SURE)
    assert not any(isinstance(one, Ball) for one in found)


def test_one_photograph_alone_is_decided_by_itself(front: SearchedPicture) -> None:
    seen = _doubted(find_candidates(front), 0.8)
    assert isinstance(found_together([front], [seen], SURE)[0], Refusal)
