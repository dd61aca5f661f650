"""What a mistake does to the rows is what happens when it is made: an edited picture's columns against the model itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.asked.bars import Bars
from photomeasure.scene.paper import PAPER_WIDTH, Paper, paper_priors, paper_vouches
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.scene import Scene
from photomeasure.solution.contradicted import contradicted
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.giving_way import giving_way
from photomeasure.solution.mistakes import ASPECT, BARS, SKEW, mistakes
from photomeasure.solution.model import intrinsics_of
from photomeasure.solution.rows import rows
from tests.points.groups import LEFT, RIGHT
from tests.points.simulate import Shot, simulate

Array = NDArray[np.float64]
SMALL = 1e-7


def edited(scene: Scene, photo: int, by: Array, middle_y: float) -> Scene:
    """One photograph's pixels moved by (2,) for each pixel that they lie below its axis."""

    def moved(px: Array) -> Array:
        return px + (px[..., 1:] - middle_y) * by

    return replace(
        scene,
        **{  # type: ignore[arg-type]
            kind: tuple(
                replace(view, px=moved(view.px)) if view.photo == photo else view for view in getattr(scene, kind)
            )
            for kind in ("planes", "points", "outlines")
        },
    )


@pytest.mark.parametrize("source", ["pick", "ball", "tag"])
def test_an_edited_picture_moves_the_rows_as_its_columns_say(source: str) -> None:
    shot = Shot(lenses_mm=(LEFT, RIGHT), ground_sheet=True, source=source)
    solved = estimate(simulate(shot, np.random.default_rng(8)).scene)
    assert isinstance(solved, Estimate)
    asked = mistakes(solved)
    for quantity, by in ((SKEW, np.array([1.0, 0.0])), (ASPECT, np.array([0.0, 1.0]))):
        columns = [mistake for mistake in asked if mistake.quantity == quantity]
        assert len(columns) == 3  # each photograph, and both alike
        together = np.zeros(len(solved.rows.residual))
        for photo, column in enumerate(columns[:2]):
            middle_y = float(intrinsics_of(solved.scene, solved.where, solved.x, photo)[3])
            other = rows(edited(solved.scene, photo, SMALL * by, middle_y), solved.where, solved.x)
            expected = (other.residual - solved.rows.residual) / SMALL
            told = np.zeros(len(expected))
            told[column.rows] = column.values
            assert np.abs(told).max() > 1000.0
            # an outline is taken to move along its radius, which is true to a few hundredths
            np.testing.assert_allclose(told, expected, rtol=0.03, atol=2e-3 * float(np.abs(expected).max()))
            together += told
        told = np.zeros(len(together))
        told[columns[2].rows] = columns[2].values
        np.testing.assert_allclose(told, together)


@pytest.mark.parametrize(("quantity", "by"), [(SKEW, (0.02, 0.0)), (ASPECT, (0.0, 0.03))])
def test_a_picture_that_was_sheared_or_stretched_is_named(quantity: str, by: tuple[float, float]) -> None:
    scene = simulate(Shot(lenses_mm=(LEFT, RIGHT), ground_sheet=True), np.random.default_rng(9)).scene
    for photo in (0, 1) if quantity == ASPECT else (0,):  # one alone is refused: two cameras that were one
        scene = edited(scene, photo, np.array(by), 1499.5)
    solved = estimate(scene)
    assert isinstance(solved, Estimate)
    named = {
        "proportions" if what == ASPECT else what for what, _ in contradicted(solved)
    }  # one and the same to a camera
    assert ("proportions" if quantity == ASPECT else quantity) in named


@pytest.mark.parametrize("source", ["ball", "tag"])
def test_paper_that_speaks_against_the_bars_is_not_blamed(source: str) -> None:
    """What the bars were typed as is what somebody may have got wrong; nobody states how large the paper is."""
    scene = simulate(Shot(source=source, bars=Bars(x_mm=174.5, y_mm=242.5)), np.random.default_rng(10)).scene
    smaller = Paper(width_mm=210.0 / 0.95, u_mm=1.0, lower_mm=None)  # the bars say 0.97
    solved = estimate(replace(scene, priors=(*scene.priors, *paper_priors([smaller], 210.0, 0.97))))
    assert isinstance(solved, Estimate)
    assert PAPER_WIDTH in solved.rows.quantities
    assert contradicted(solved)[0][0] == BARS


def test_paper_that_agrees_with_the_bars_speaks_for_them() -> None:
    """A ball that looks two and a half standard uncertainties too large is no reason then to doubt bars that were typed as drawn."""
    for seed in range(40):
        scene = simulate(Shot(source="ball", bars=Bars(x_mm=180.0, y_mm=250.0)), np.random.default_rng(seed)).scene
        solved = estimate(scene)
        assert isinstance(solved, Estimate)
        if any(what == BARS for what, _ in contradicted(solved)):
            break
    else:
        pytest.fail("no scene in which bars that were read are doubted")
    again = estimate(replace(scene, paper_vouches=True))
    assert isinstance(again, Estimate)
    assert all(what != BARS for what, _ in contradicted(again))
    assert paper_vouches([Paper(width_mm=211.0, u_mm=1.2, lower_mm=None)], 210.0, 1.0)
    assert not paper_vouches([Paper(width_mm=211.0, u_mm=2.2, lower_mm=None)], 210.0, 1.0)  # too badly seen
    assert not paper_vouches([Paper(width_mm=216.5, u_mm=1.2, lower_mm=None)], 210.0, 1.0)
    assert not paper_vouches([Paper(width_mm=200.0, u_mm=1.2, lower_mm=None)], 210.0, 1.0)  # cut
    assert not paper_vouches([None, Paper(width_mm=None, u_mm=0.0, lower_mm=None)], 210.0, 1.0)


def test_without_one_bar_none_was_measured() -> None:
    """A print whose bars contradict the picture is one of which nothing is known: both go, with what they rest on."""
    scene = simulate(Shot(), np.random.default_rng(4)).scene
    left = giving_way(scene, ("check bar x",)).priors
    of_print = {prior.quantity for prior in print_priors(Bars())}
    assert [prior for prior in left if prior.quantity in of_print] == list(print_priors(Bars()))
    gone = {"check bar x", "check bar y", "rule", "paper humidity"}
    assert not gone & {prior.quantity for prior in left}
    kept = [prior for prior in scene.priors if prior.quantity not in gone | of_print]
    assert [prior for prior in left if prior.quantity not in of_print] == kept and kept
