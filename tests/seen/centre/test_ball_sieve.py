"""Where the coarse network is asked to the end: what it says there is what it says of the whole picture, and no ball is left out."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.seen.centre.ball.glance import allowed_answers, sieved_likeness
from photomeasure.seen.centre.ball.nets import COARSE_PX, quick_likeness
from photomeasure.seen.centre.ball.search import Coarse, search_region, turned
from photomeasure.seen.centre.ball.sieve import BEHIND, CLEAR, SIDE, WINDOWS, by_cell, windows
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch


def _looked(picture: Picture) -> tuple[Coarse, np.ndarray]:
    region = search_region(picture.view)
    assert region is not None
    small = turned(picture.view, region, COARSE_PX)
    assert small is not None
    part = small.part()
    around = ((100, 100), (120, 120))
    whole = Coarse(picture=np.pad(part.picture, around, mode="edge"), ignored=np.pad(part.ignored, around))
    return whole, np.pad(small.allowed() & ~part.ignored, around, constant_values=True)


def test_a_plain_ball_is_seen_by_asking_in_a_part_of_the_picture() -> None:
    whole, allowed = _looked(Picture([*hitch(CENTRE), backdrop(0.4, 0.4)]))
    everywhere = quick_likeness(whole.picture, whole.ignored)
    everywhere[~allowed_answers(allowed, everywhere.shape)] = -np.inf
    found = sieved_likeness(whole, allowed)
    asked = np.isfinite(found)
    assert found.max() > CLEAR
    assert found.argmax() == everywhere.argmax()
    assert asked.sum() < 0.3 * np.isfinite(everywhere).sum()
    assert found[asked] == pytest.approx(everywhere[asked], abs=1e-3)


def test_where_nothing_is_clearly_a_ball_it_is_asked_everywhere() -> None:
    rng = np.random.default_rng(3)
    picture = (100.0 + 20.0 * rng.random((200, 240))).astype(np.float32)
    whole = Coarse(picture=picture, ignored=np.zeros(picture.shape, dtype=np.bool_))
    allowed = np.ones(picture.shape, dtype=np.bool_)
    allowed[:, :60] = False
    found = sieved_likeness(whole, allowed)
    assert found.max() < CLEAR
    assert np.array_equal(np.isfinite(found), allowed_answers(allowed, found.shape))


def test_windows_stand_about_the_best_hints_and_none_about_a_hint_far_behind() -> None:
    hint = np.full((40, 60), -50.0, dtype=np.float32)
    hint[20, 30], hint[1, 58], hint[35, 5] = 10.0, 9.0, 10.0 - BEHIND - 0.1
    first, second = windows(hint)
    for window, (row, column) in ((first, (20, 30)), (second, (1, 58))):
        rows, columns = window.cells
        assert rows.stop - rows.start == columns.stop - columns.start == SIDE
        assert rows.start >= 0
        assert rows.stop <= 40
        assert columns.start >= 0
        assert columns.stop <= 60
        down, right = window.answers
        assert down.start <= 2 * row < down.stop
        assert right.start <= 2 * column < right.stop
    assert second.answers[0].start == 0  # the picture ends there: nothing beyond it counts
    assert second.answers[1].stop == 120


def test_there_are_few_windows_and_none_where_a_picture_is_smaller_or_no_centre_can_be() -> None:
    even = np.zeros((80, 90), dtype=np.float32)
    assert len(windows(even)) == WINDOWS
    assert windows(even[: SIDE - 1]) == []
    assert windows(even[:40, :40]) == []
    assert windows(np.full((80, 90), -np.inf, dtype=np.float32)) == []


def test_the_highest_of_a_cells_four_answers() -> None:
    answers = np.random.default_rng(2).random((6, 8)).astype(np.float32)
    assert by_cell(answers)[1, 2] == answers[2:4, 4:6].max()
