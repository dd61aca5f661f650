"""What is said of a ball that does not look of the size that counts for it."""

from __future__ import annotations

import pytest

from photomeasure.scene.ball_sizes import SizeSeen, fitting, mistaken_for, others_of
from photomeasure.verdict.ball_size import doubts_of_size, of_ball_size


def seen(diameter_mm: float, u_mm: float) -> SizeSeen:
    return SizeSeen(diameter_mm=diameter_mm, u_mm=u_mm)


def test_a_smaller_ball_lets_go_and_both_explanations_are_told() -> None:
    (sentence,) = of_ball_size(seen(47.4, 0.7), 50.0)
    assert "47.4 mm across (± 1.4), where 50 mm counts: like a ball of 47.6 mm" in sentence
    assert "can come off" in sentence
    assert "print is larger than it counts for, by about 5 %" in sentence
    assert len(doubts_of_size((sentence,))) == 1


def test_a_larger_ball_does_not_go_in() -> None:
    (sentence,) = of_ball_size(seen(50.6, 0.25), 47.6)
    assert "like a ball of 50 mm" in sentence or "like a ball of 50.8 mm" in sentence
    assert "does not close over" in sentence
    assert "print is smaller than it counts for, by about 6 %" in sentence


@pytest.mark.parametrize(
    ("diameter_mm", "u_mm", "stated_mm"),
    [
        (47.5, 1.4, 50.0),  # bars not read: nothing can be told
        (49.2, 0.7, 50.0),  # worn
        (50.7, 0.7, 50.0),  # 2 in, or 50 mm: one photograph cannot tell
        (50.0, 0.7, 50.8),
        (47.55, 0.7, 47.55),
    ],
)
def test_where_the_picture_cannot_tell_nothing_is_said(diameter_mm: float, u_mm: float, stated_mm: float) -> None:
    assert of_ball_size(seen(diameter_mm, u_mm), stated_mm) == ()
    assert doubts_of_size(()) == ()


def test_without_an_outline_nothing_is_said() -> None:
    assert of_ball_size(None, 50.0) == ()


def test_a_size_that_is_not_sold_is_told_without_a_name_for_it() -> None:
    (sentence,) = of_ball_size(seen(44.0, 0.5), 50.0)
    assert "like a ball" not in sentence


def test_sizes_that_are_sold_the_likeliest_first() -> None:
    assert fitting(seen(49.8, 0.7), 2.0) == (50.0, 50.8)
    assert others_of(50.0) == (50.8, 47.6)
    assert mistaken_for(50.0) == (47.6,)
    assert mistaken_for(47.55) == (50.0, 50.8)
