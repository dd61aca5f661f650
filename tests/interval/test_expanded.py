"""The reported interval: k = 2, or the factor of the inputs' own distributions; against closed forms and draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.interval.budget import budget, sensitivities
from photomeasure.interval.expanded import COVERAGE, Expanded, distribution_of, expanded, half_digit_mm
from photomeasure.interval.montecarlo import row_inputs
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.uncertainty.montecarlo import draw_inputs
from photomeasure.uncertainty.printed import printed
from tests.points.groups import GROUPS
from tests.points.simulate import Shot, simulate


def solved(shot: Shot, seed: int) -> Estimate:
    result = estimate(simulate(shot, np.random.default_rng(seed)).scene)
    assert isinstance(result, Estimate)
    return result


@pytest.mark.parametrize("name", GROUPS)
def test_the_interval_holds_what_it_says_of_the_inputs_distributions(name: str) -> None:
    """Reference: 40 000 draws of every row from the distribution that it names, through the first order (JCGM 101)."""
    result = solved(GROUPS[name], 41)
    known = expanded(result)
    errors = draw_inputs(row_inputs(result), 40_000, np.random.default_rng(42)) @ sensitivities(result)
    assert errors.std() == pytest.approx(result.u_mm, rel=0.015)
    assert distribution_of(result).u == pytest.approx(result.u_mm, rel=1e-9)
    exact = distribution_of(result).half_width(COVERAGE)
    assert np.mean(np.abs(errors) <= exact) == pytest.approx(COVERAGE, abs=0.004)
    assert abs(known.U_mm - exact) <= half_digit_mm(known.U_mm)
    if known.quantiles_mm is not None:
        assert np.quantile(known.quantiles_mm, 0.9) - result.height_mm == pytest.approx(
            np.quantile(errors, 0.9), rel=0.03
        )


def with_known_depth_limits(result: Estimate) -> Estimate:
    """The same where the ends of the depth are known, not guessed."""
    priors = tuple(
        replace(prior, distribution="rectangular") if prior.quantity == "depth" else prior
        for prior in result.scene.priors
    )
    return replace(result, scene=replace(result.scene, priors=priors))


def test_a_rectangle_that_rules_has_a_smaller_factor() -> None:
    result = solved(replace(GROUPS["standing height"], aside_mm=(-10.0, 10.0)), 43)
    known = expanded(with_known_depth_limits(result))
    assert known.kind == "convolved" and 1.653 < known.factor < 1.9  # 0.9545 sqrt(3) = 1.653 for a rectangle alone
    assert f"{known.factor:.2f}" in known.sentence
    low, high = known.interval_mm
    assert high - low == pytest.approx(2.0 * known.U_mm) and known.quantiles_mm is not None


@pytest.mark.parametrize("name", GROUPS)
def test_a_limit_that_is_a_guess_makes_no_interval_narrower(name: str) -> None:
    """All that is judged here is a guess: two standard uncertainties, to the digit that is printed (JCGM 101 6.4.3)."""
    known = expanded(solved(GROUPS[name], 41))
    assert known.U_mm >= 2.0 * known.u_mm - half_digit_mm(known.U_mm)


def test_where_normal_inputs_rule_it_is_two() -> None:
    known = expanded(solved(GROUPS["followed, tag"], 43))
    assert known == Expanded(height_mm=known.height_mm, u_mm=known.u_mm, U_mm=2.0 * known.u_mm, kind="normal")


def test_two_poses_are_no_sum() -> None:
    result = replace(solved(GROUPS["standing height"], 43), ambiguity_u_mm=1.0)
    assert expanded(result).factor == 2.0 and "pose ambiguity" in {row.quantity for row in budget(result)}


@pytest.mark.parametrize("U_mm", [0.3, 1.9, 9.9, 10.1, 40.0])
def test_the_digit_is_the_one_that_is_printed(U_mm: float) -> None:
    """Half of what the printed figure moves by when the height moves by a little."""
    shown = {float(printed(400.0 + step / 100, (400.0 - U_mm, 400.0 + U_mm)).height) for step in range(200)}
    assert half_digit_mm(U_mm) == pytest.approx(min(np.diff(sorted(shown))) / 2)
