"""The odds that a candidate is the ball: the networks' formula written out, and what is never taken."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from photomeasure.seen.centre.ball.circle import find_circle
from photomeasure.seen.centre.ball.fit import Outline, fit_outline
from photomeasure.seen.centre.ball.neck import find_neck
from photomeasure.seen.centre.ball.odds import Closer, Odds, doubt_radii, evidence, odds, probability
from photomeasure.seen.centre.ball.search import Spot
from tests.seen.centre.ball_pictures import CENTRE, Picture, backdrop, hitch

CLOSER = Closer(odds=9.0, aside=0.05)


def test_the_odds_are_the_mean_of_the_networks_written_out_one_by_one() -> None:
    """A network of one hidden layer, its sums written as loops (textbook formula)."""
    rng = np.random.default_rng(3)
    shapes = {
        "middle": (3,),
        "spread": (3,),
        "hidden": (2, 3, 4),
        "hidden_offset": (2, 4),
        "out": (2, 4),
        "out_offset": (2,),
        "doubt": (9,),
    }
    by = Odds(names=("a", "b", "c"), **{name: 0.5 + rng.random(shape) for name, shape in shapes.items()})
    items = rng.normal(0.0, 3.0, (5, 3))
    for row, found in zip(items, by.log_odds(items), strict=True):
        scaled = [min(max((row[i] - by.middle[i]) / by.spread[i], -4.0), 4.0) for i in range(3)]
        total = 0.0
        for m in range(2):
            inner = [
                np.tanh(sum(scaled[i] * by.hidden[m, i, h] for i in range(3)) + by.hidden_offset[m, h])
                for h in range(4)
            ]
            total += sum(inner[h] * by.out[m, h] for h in range(4)) + by.out_offset[m]
        assert found == pytest.approx(total / 2)


@pytest.fixture(scope="module")
def seen() -> tuple[Picture, Outline]:
    picture = Picture([*hitch(CENTRE), backdrop(0.4, 0.4)])
    circle = find_circle(picture.view, Spot(px=picture.centre_px + 3.0, likeness=9.0, close=9.0, error_px=8.0))
    assert circle is not None
    outline = fit_outline(picture.view, circle)
    assert outline is not None
    return picture, outline


def test_the_stored_networks_ask_for_the_items_that_are_measured(seen: tuple[Picture, Outline]) -> None:
    picture, outline = seen
    circle = find_circle(picture.view, Spot(px=picture.centre_px, likeness=9.0, close=9.0, error_px=8.0))
    assert circle is not None
    items = evidence(circle, outline, find_neck(picture.view, outline), CLOSER)
    assert set(odds().names) == set(items)
    assert {field.name for field in fields(Odds)} == {
        "names",
        "middle",
        "spread",
        "hidden",
        "hidden_offset",
        "out",
        "out_offset",
        "doubt",
    }
    assert all(np.isfinite(value) for value in items.values())


@pytest.mark.parametrize("why", ["arc", "centre", "size", "chance"])
def test_what_tells_no_centre_or_is_no_ball_of_that_size_is_never_taken(
    seen: tuple[Picture, Outline], why: str
) -> None:
    picture, outline = seen
    circle = find_circle(picture.view, Spot(px=picture.centre_px, likeness=9.0, close=9.0, error_px=8.0))
    assert circle is not None
    neck = find_neck(picture.view, outline)
    assert probability(evidence(circle, outline, neck, CLOSER)) > 0.5
    if why == "arc":
        outline = replace(outline, good=outline.good & (np.arange(len(outline.good)) < 0.25 * len(outline.good)))
    elif why == "centre":
        outline = replace(outline, sigma_px=outline.sigma_px * 20.0)
    elif why == "size":
        outline = replace(outline, shift_px=-0.2 * outline.sight.radius_px)
    else:
        circle = replace(circle, support=0.1)
    assert probability(evidence(circle, outline, neck, CLOSER)) == 0.0


def test_what_disagrees_tells_the_centre_less_well(seen: tuple[Picture, Outline]) -> None:
    """A small arc, a scattered rim and a circle that other circles rival: each makes the claim wider."""
    picture, outline = seen
    circle = find_circle(picture.view, Spot(px=picture.centre_px, likeness=9.0, close=9.0, error_px=8.0))
    assert circle is not None
    items = evidence(circle, outline, find_neck(picture.view, outline), CLOSER)
    plain = doubt_radii(items)
    assert plain < 0.05
    for worse in ({"arc": 0.4}, {"scatter": 3.0 * items["scatter"]}, {"chance": 0.6}, {"moved": 1.5}):
        assert doubt_radii({**items, **worse}) > 1.15 * plain, worse
