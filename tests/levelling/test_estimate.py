"""A trailer's level: statistics on simulated trailers that OpenCV projects, each way of taking the picture by itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from photomeasure.interval.budget import budget
from photomeasure.scene.ground import side_priors
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.level_scene import PER_DEGREE, with_side
from tests.draws import draws
from tests.points.simulate_level import SeenSide, Side, draw_side

AT_5_M = Side(distance_mm=(5000.0, 5000.0), lens_height_mm=(1350.0, 1700.0), rail_mm=(430.0, 650.0))
GROUPS = {
    "from 5 m": AT_5_M,
    "from 4 to 7 m": Side(lens_height_mm=(1350.0, 1700.0)),
    "low lens": replace(AT_5_M, lens_height_mm=(500.0, 900.0)),
    "two photographs": replace(AT_5_M, photos=2),
    "8 MP": replace(AT_5_M, size_px=(3264, 2448)),
}


def errors(side: Side, count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """(count,) error and u, degrees."""
    found = []
    for number in range(count):
        seen = draw_side(side, np.random.default_rng([seed, number]))
        solved = estimate(seen.scene)
        assert isinstance(solved, Estimate), solved.reason
        found.append((solved.height_mm / PER_DEGREE - seen.pitch_deg, solved.u_mm / PER_DEGREE))
    both = np.array(found)
    return both[:, 0], both[:, 1]


FURTHER = {
    "from 4 to 7 m": "from 5 m",
    "8 MP": "from 5 m",
    "low lens": "from 5 m",
    "two photographs": "from 5 m",
}  # relative that fails with it


@pytest.mark.parametrize("count", draws(24, 60))
@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in FURTHER else name for name in GROUPS]
)
def test_interval_holds_the_truth_as_often_as_it_says(name: str, count: int) -> None:
    """Nominal 95 %: the binomial band of 99.8 % (scipy); the Birge ratio by chi-square. Fewer where a rig costs most."""
    count = count * 2 // 5 if GROUPS[name].photos > 1 else count
    error, u = errors(GROUPS[name], count, seed=11)
    inside = int((np.abs(error) <= 2.0 * u).sum())
    low, high = (float(stats.binom.ppf(share, count, 0.9545)) for share in (0.001, 0.999))
    assert low <= inside <= high, (name, inside)
    birge = math.sqrt(float(((error / u) ** 2).mean()))
    low, high = np.sqrt(stats.chi2.ppf([0.001, 0.999], count) / count)
    assert low <= birge <= high, (name, birge)


@pytest.mark.slow  # the same draws are as sure as they say by themselves: above
@pytest.mark.parametrize("count", draws(40, 120))
def test_from_5_m_with_12_mp_it_is_right_to_0_15_degrees(count: int) -> None:
    """The figure that is asked for: RMS 0.15 degrees; 7 % either way by 120 draws, 11 % by 40."""
    error, _ = errors(AT_5_M, count, seed=12)
    assert float(np.sqrt((error**2).mean())) <= 0.15


def drawn() -> SeenSide:
    return draw_side(AT_5_M, np.random.default_rng(3))


def test_the_budget_adds_up() -> None:
    solved = estimate(drawn().scene)
    assert isinstance(solved, Estimate)
    rows = budget(solved)
    assert sum(row.share for row in rows) == pytest.approx(1.0, abs=1e-9)
    assert sum(row.u_mm**2 for row in rows) == pytest.approx(solved.u_mm**2, rel=1e-9)
    names = {row.quantity for row in rows}
    assert {"sheet roll", "trailer's turn", "ground evenness", "marks on the rail", "marks on the ground"} <= names


def test_with_next_to_no_noise_only_what_the_sheet_does_is_left() -> None:
    """Marks and corners as exact as OpenCV projects them, the ground known: inside what lean and roll leave open."""
    quiet = replace(
        AT_5_M, pick_px=1e-6, corner_px=1e-4, slope_u=0.0, focal_u=0.0, depth_mm=(-300.0, -300.0), turn_u_deg=3.0
    )
    seen = draw_side(quiet, np.random.default_rng(5))
    sharp = [replace(prior, u=1e-6) if prior.quantity in ("ground evenness",) else prior for prior in seen.scene.priors]
    solved = estimate(replace(seen.scene, priors=tuple(sharp)))
    assert isinstance(solved, Estimate)
    assert abs(solved.height_mm / PER_DEGREE - seen.pitch_deg) < 2.5 * solved.u_mm / PER_DEGREE


def test_depth_hardly_matters_and_a_level_read_helps() -> None:
    """Lines in one plane parallel to the sheet's keep their angle wherever that plane is; a slope that was read is known."""
    seen = drawn()
    solved = estimate(seen.scene)
    assert isinstance(solved, Estimate)
    share = {row.quantity: row.share for row in budget(solved)}
    assert share["trailer's distance"] + share["rail's distance"] < 0.02
    request = replace(seen.asked.request, level_within_mm_per_m=0.5)
    sheets = seen.scene.priors[: -len(side_priors(flat=True))]
    read = estimate(with_side(replace(seen.scene, priors=sheets), replace(seen.asked, request=request)))
    assert isinstance(read, Estimate) and read.u_mm < solved.u_mm
