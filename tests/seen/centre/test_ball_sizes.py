"""A ball of another size than stated, rendered: it is found, as what it is, and a ball of the stated size stays one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.scene.ball_sizes import mistaken_for
from photomeasure.seen.centre.ball.ball import SURE, Ball, decide, find_candidates
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch


def picture_of(diameter_mm: float) -> Picture:
    return Picture([*hitch(CENTRE, diameter_mm=diameter_mm), backdrop(0.4, 1.7)])


@pytest.mark.parametrize(
    ("true_mm", "stated_mm", "told_mm"),
    [(47.6, 50.0, 47.6), (50.0, 50.0, 50.0), (50.0, 47.6, 50.0), (50.8, 50.0, 50.0), (47.6, 47.6, 47.6)],
)
def test_a_ball_is_taken_for_the_sold_size_that_it_fits(true_mm: float, stated_mm: float, told_mm: float) -> None:
    """50.8 is too near to 50 for an outline: there the size is measured, with the whole scene's uncertainty."""
    picture = picture_of(true_mm)
    view = replace(picture.view, radius_mm=0.5 * stated_mm)
    found = decide(find_candidates(view, mistaken_for(stated_mm)), SURE)
    assert isinstance(found, Ball)
    assert found.diameter_mm == told_mm
    assert np.abs(found.centre_px - picture.centre_px).max() < 0.1
    assert found.radius_px == pytest.approx(36.9 * true_mm / 50.0, rel=0.012)
