"""What single priors and the data that they are made of say, by laws: common moves that change nothing, signs, and bounds."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.asked.bars import Bars
from photomeasure.scene.ball_sizes import SizeSeen, off_sigmas
from photomeasure.scene.bar_tag import moved_rad, since_before_priors
from photomeasure.scene.ground import evenness
from photomeasure.scene.paper import APART_SIGMAS, Paper, paper_priors
from photomeasure.scene.priors import BALL_WORN_MM
from photomeasure.scene.scene import BETWEEN, CameraPrior, Scene
from photomeasure.scene.second import Apart, second_print_priors, second_stance_priors

DRAWN_MM = (150.0, 150.0)


@pytest.mark.parametrize("sheet_untouched", [True, False])
def test_what_ties_now_to_before_is_a_difference(sheet_untouched: bool) -> None:
    """Both moments moved alike change nothing, and no bar turns by more than a tenth of a radian or so in between."""
    tied = since_before_priors(bar=True, sheet_untouched=sheet_untouched)
    assert len(tied) == (5 if sheet_untouched else 3)
    assert all(sum(prior.coefficients.values()) == 0.0 and len(prior.coefficients) == 2 for prior in tied)
    assert all(0.0 < u < 0.15 for u in moved_rad(sheet_untouched=sheet_untouched))


def test_a_second_sheet_stands_on_its_own_ground() -> None:
    """Sheet and ground raised together change nothing of the gap between them."""
    priors = second_stance_priors(Apart(right_mm=500.0, away_mm=0.0), flat=True, level_within_mm_per_m=None)
    (gap,) = [prior for prior in priors if prior.quantity == "second foot gap"]
    assert gap.coefficients[BETWEEN] == -gap.coefficients["second.lift"] != 0.0


@pytest.mark.parametrize(
    ("bars", "tied"),
    [(Bars(), 2), (Bars(x_mm=150.0), 2), (Bars(y_mm=150.0), 2), (Bars(x_mm=150.0, y_mm=150.0), 0)],
)
def test_a_second_print_is_as_the_first_but_where_both_its_bars_were_read(bars: Bars, tied: int) -> None:
    found = [prior for prior in second_print_priors(bars, DRAWN_MM) if prior.quantity == "second print"]
    assert len(found) == tied and all(sum(prior.coefficients.values()) == 0.0 for prior in found)


def test_paper_speaks_only_where_it_is_plainly_wider_than_it_can_be() -> None:
    """Width in printed millimetres times the typed scale; u 1 mm. Paper that is narrower was cut, and says nothing."""

    def told(over_mm: float) -> int:
        paper = Paper(width_mm=210.0 + over_mm, u_mm=1.0, lower_mm=None)
        return len(paper_priors([paper, None], 210.0, 1.0))

    assert (told(APART_SIGMAS + 0.1), told(APART_SIGMAS - 0.1), told(0.0), told(-5.0)) == (1, 0, 0, 0)
    wide = Paper(width_mm=216.5, u_mm=1.0, lower_mm=None)
    (prior,) = paper_priors([wide], 210.0, 0.985)
    assert prior.coefficients == {"print.x": 216.5} and prior.mean == 210.0


def test_a_ball_of_a_size_is_from_new_to_half_worn() -> None:
    """In the middle of that it is off by nothing; larger is positive."""
    middle = 50.0 - BALL_WORN_MM / 4
    assert off_sigmas(SizeSeen(diameter_mm=middle, u_mm=0.1), 50.0) == pytest.approx(0.0, abs=1e-12)
    assert off_sigmas(SizeSeen(diameter_mm=middle + 1.0, u_mm=0.1), 50.0) > 0.0


def test_ground_is_told_with_its_distance_where_there_is_one() -> None:
    for ground in (evenness(flat=True, level_within_mm_per_m=None), evenness(flat=True, level_within_mm_per_m=2.0)):
        assert "over 500 mm" in ground.source(500.0) and "over" not in ground.source().replace("at every place", "")


def test_a_camera_is_loosened_in_what_is_named_alone() -> None:
    camera = CameraPrior(
        mean=np.zeros(9),
        basis=np.ones((9, 2)),
        quantities=("focal length", "distortion"),
        size_px=(4, 3),
        kind="exif",
        source="",
    )
    assert camera.loosened(("distortion",), 10.0).basis[0].tolist() == [1.0, 10.0]


def test_names_of_now_are_what_they_are_and_those_of_before_only_where_they_have_their_own() -> None:
    scene = Scene(cameras=(), camera_of=(), own=frozenset({"sheet"}))
    both = ("sheet.lean", "print.x")
    assert scene.names(both, before=False) == both
    assert scene.names(both, before=True) == ("before.sheet.lean", "print.x")
