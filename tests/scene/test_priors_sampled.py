"""Every prior is sampled: what is drawn from it has its mean and u, and intervals hold rigs that are drawn from all of them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from photomeasure.asked.bars import Bars
from photomeasure.scene.print_scale import PRINT_SCALE_MEAN, PRINT_SCALE_U, print_priors
from photomeasure.scene.priors import GUESSED_U
from tests.draws import draws
from tests.points.groups import errors_mm, solved_scenes
from tests.points.simulate import Harm, Shot, blank, drawn, drawn_scale, simulate

SHOTS = {
    "pick": Shot(),
    "ball, ground sheet": Shot(source="ball", ground_sheet=True),
    "tag, rough ground": Shot(source="tag", flat_ground=False),
    "bars not measured": Shot(bars=Bars()),
    "mark on a head": Shot(hidden="ball-50", level_within_mm_per_m=2.0),
}
DRAWS = 4000


@pytest.mark.parametrize("name", SHOTS)
def test_draws_have_the_mean_and_u_that_the_row_states(name: str) -> None:
    """To five standard errors; the scatter of a standard deviation is at most 1.5 % for these distributions."""
    rng = np.random.default_rng(21)
    for prior in blank(SHOTS[name]).priors:
        values = np.array([drawn(prior, rng) for _ in range(DRAWS)])
        assert abs(values.mean() - prior.mean) < 5.0 * prior.u / np.sqrt(DRAWS), prior.quantity
        assert values.std() == pytest.approx(prior.u, rel=5.0 * 0.023), prior.quantity
        if prior.distribution == "exponential":
            assert values.min() >= prior.mean - prior.u


def test_the_usual_scale_is_that_of_the_table_of_printers() -> None:
    rng = np.random.default_rng(22)
    scales = np.array([drawn_scale(rng) for _ in range(20_000)])
    assert scales.mean() == pytest.approx(PRINT_SCALE_MEAN, abs=0.001) and scales.std() == pytest.approx(
        PRINT_SCALE_U, rel=0.02
    )
    assert (
        np.mean(np.abs(scales - PRINT_SCALE_MEAN) <= 2.0 * PRINT_SCALE_U) > 0.95
    )  # what k = 2 claims, and 0.941 is in it
    assert abs(0.941 - PRINT_SCALE_MEAN) < 2.0 * PRINT_SCALE_U


@pytest.mark.parametrize(
    ("bars", "half_width_mm"),
    [
        (Bars(x_mm=180.0, y_mm=250.0), 0.5),
        (Bars(x_mm=179.5, y_mm=250.0), 0.25),
        (Bars(x_mm=179.4, y_mm=250.0), 0.1),
        (Bars(x_mm=180.0, y_mm=250.0, division_mm=0.5), 0.25),
    ],
)
def test_a_reading_is_as_sure_as_its_digits_or_its_boxes(bars: Bars, half_width_mm: float) -> None:
    rows = [prior for prior in print_priors(bars, (180.0, 250.0)) if prior.quantity.startswith("check bar")]
    assert [row.u for row in rows] == pytest.approx([half_width_mm * GUESSED_U] * 2)


@pytest.mark.parametrize("count", draws(150, 600))
def test_depth_grows_with_the_distance_aside(count: int) -> None:
    """hypot(12.6, 4 degrees x distance): 20 mm in the plane and the turn, drawn afresh in each rig; 150 tell a spread to 6 %."""
    rng = np.random.default_rng(23)
    for aside_mm in (0.0, 200.0, 500.0):
        made = [simulate(Shot(aside_mm=(aside_mm, aside_mm)), rng) for _ in range(count)]
        depth = np.array([one.truth[one.where.index["centre.y"]] for one in made])
        assert depth.std() == pytest.approx(np.hypot(12.58, np.radians(4.0) * aside_mm), rel=0.12)


@pytest.mark.parametrize(
    "shot",
    [
        Shot(source="ball", aside_mm=(40.0, 220.0), lenses_mm=((0.0, -1700.0, 1300.0),)),
        Shot(hidden="ball-50"),
        Shot(flat_ground=False, aside_mm=(350.0, 450.0)),
        Shot(bars=Bars(), source="ball"),
    ],
    ids=["from above, ball", "mark on a head", "ground not said to be flat", "no bars, ball"],
)
@pytest.mark.parametrize("count", draws(50, 150))
def test_intervals_hold_rigs_drawn_from_the_priors(shot: Shot, count: int) -> None:
    """Coverage in the 99.9 % band of 95.45 %, Birge ratio within five of its standard errors of 1."""
    error, u, U = errors_mm(solved_scenes(shot, count, seed=24)).T
    low, high = binom.interval(0.999, len(error), 0.9545)
    assert low <= np.sum(np.abs(error) <= U) <= high
    assert float(np.sqrt(np.mean((error / u) ** 2))) == pytest.approx(1.0, abs=5.0 / np.sqrt(2.0 * count))


@pytest.mark.parametrize("scale", [0.973, 0.941, *(pytest.param(one, marks=pytest.mark.slow) for one in (1.0, 0.96))])
def test_no_bars_and_any_usual_print_lies_in_the_interval(scale: float) -> None:
    """Before, 0.941 was never in it and 0.96 in 55 %. The ball's own size is a witness; picked, nothing is."""
    print_at = Harm(values={"print.x": lambda rng: scale, "print.y": lambda rng: scale})
    for shot in (Shot(bars=Bars()), Shot(bars=Bars(), source="ball")):
        error, _, U = errors_mm(solved_scenes(shot, 30, seed=25, harm=print_at)).T
        assert np.mean(np.abs(error) <= U) >= 0.85
