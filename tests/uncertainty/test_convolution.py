"""Sums of normal and rectangular quantities by convolution, against published factors, closed forms and draws."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import sici
from scipy.stats import norm

from calib.outcome.errors import InputError
from photomeasure.uncertainty import convolution
from photomeasure.uncertainty.convolution import GUESSED_LIMIT, LinearSum, linear_sum


@pytest.mark.parametrize(
    ("parts", "coverage", "half_width", "tolerance"),
    [
        ([1.0], 0.95, 1.65, 0.005),  # one rectangle: 0.95 sqrt(3), tables of k for 95 % (secondary: 1.65)
        ([1.0], 0.99, 1.71, 0.005),  # the same tables (secondary: 1.71)
        ([1.0, 1.0], 0.95, 1.90 * math.sqrt(2.0), 0.008),  # a triangle, the same tables (secondary: 1.90)
        ([1.0, 1.0], 0.99, 2.20 * math.sqrt(2.0), 0.008),  # the same tables (secondary: 2.20)
        ([1.0] * 4, 0.95, 3.88, 0.005),  # JCGM 101:2008 9.2.3 (read); exact 3.879407
        ([1.0, 1.0, 1.0, 10.0], 0.95, 17.0, 0.05),  # JCGM 101:2008 9.2.4 (read)
    ],
)
def test_published_sums_of_rectangles(parts: list[float], coverage: float, half_width: float, tolerance: float) -> None:
    assert linear_sum([], parts).half_width(coverage) == pytest.approx(half_width, abs=tolerance)


def test_the_exact_sum_of_four_rectangles() -> None:
    assert linear_sum([], [1.0] * 4).half_width(0.95) == pytest.approx(3.879407, abs=1e-5)


@pytest.mark.parametrize("beta", [0.1, 1.0 / 3.0, 0.6, 0.85])
def test_two_rectangles_are_a_trapezoid(beta: float) -> None:
    """k = (1 - sqrt((1 - p)(1 - beta^2))) / sqrt((1 + beta^2) / 6), EA-4/02 S10 (from memory), beta the edge parameter.

    It holds while the interval ends on a slope: p >= 2 beta / (1 + beta).
    """
    p = 0.95
    assert p >= 2.0 * beta / (1.0 + beta)
    expected = (1.0 - math.sqrt((1.0 - p) * (1.0 - beta**2))) / math.sqrt((1.0 + beta**2) / 6.0)
    half_widths = (1.0, (1.0 - beta) / (1.0 + beta))
    assert LinearSum(normal_u=0.0, half_widths=half_widths).factor(p) == pytest.approx(expected, abs=2e-4)


def test_the_published_trapezoid() -> None:
    """EA-4/02 S10, a calliper: edge parameter 0.33, k = 1.83 (from memory)."""
    assert LinearSum(normal_u=0.0, half_widths=(1.0, 0.5)).factor(0.95) == pytest.approx(1.83, abs=0.006)


def flattened_normal(a: float, s: float) -> Callable[[float], float]:
    """P(|Y| <= x) of R(-a, a) + N(0, s^2), the integral of the normal distribution function over the rectangle."""

    def antiderivative(t: float) -> float:
        return float(t * norm.cdf(t) + norm.pdf(t))

    def below(x: float) -> float:
        return s * (antiderivative((x + a) / s) - antiderivative((x - a) / s)) / (2.0 * a)

    return lambda x: below(x) - below(-x)


@pytest.mark.parametrize("ratio", [0.05, 0.3, 1.0, 2.0, 5.0, 20.0, 200.0])
def test_a_rectangle_with_a_normal_quantity(ratio: float) -> None:
    """Closed form of the sum (its coverage factors: Blazquez et al., Metrologia 45 (2008) 503, abstract read)."""
    s, a = 1.0, ratio * math.sqrt(3.0)
    inside = flattened_normal(a, s)
    for coverage in (0.90, 0.9545, 0.99):
        exact = brentq(lambda x, p=coverage: inside(x) - p, 0.0, a + 8.0 * s)
        assert linear_sum([s], [ratio]).half_width(coverage) == pytest.approx(exact, rel=2e-4)
    assert linear_sum([s], [ratio]).inside(1.3 * s) == pytest.approx(inside(1.3 * s), abs=1e-4)


def test_normal_alone() -> None:
    """0.95: 1.959964 (tables of the normal distribution)."""
    assert linear_sum([3.0, 4.0], []).half_width(0.95) == pytest.approx(5.0 * 1.959964, abs=1e-5)


@settings(max_examples=25, deadline=None)
@given(
    normal=st.floats(0.01, 3.0),
    flat=st.lists(st.floats(0.01, 3.0), min_size=1, max_size=4),
    coverage=st.sampled_from([0.5, 0.9545, 0.99]),
)
def test_as_many_draws_say(normal: float, flat: list[float], coverage: float) -> None:
    """Within four standard deviations of what 40 000 draws leave open (binomial)."""
    rng = np.random.default_rng(5)
    draws = rng.normal(0.0, normal, 40_000)
    for part in flat:
        draws += math.sqrt(3.0) * part * rng.uniform(-1.0, 1.0, draws.size)
    half_width = linear_sum([normal], flat).half_width(coverage)
    spread = math.sqrt(coverage * (1.0 - coverage) / draws.size)
    assert np.mean(np.abs(draws) <= half_width) == pytest.approx(coverage, abs=4.0 * spread + 2e-4)


def test_quantiles_are_the_distribution() -> None:
    summed = linear_sum([1.0], [3.0, -0.5])
    values = summed.quantiles(10_001)
    assert np.all(np.diff(values) >= 0.0) and values.mean() == pytest.approx(0.0, abs=1e-12)
    assert values.std() == pytest.approx(summed.u, rel=2e-3)
    for coverage in (0.5, 0.9545, 0.999):
        assert np.mean(np.abs(values) <= summed.half_width(coverage)) == pytest.approx(coverage, abs=3e-4)


@pytest.mark.parametrize("normal", [[], [0.0], [math.nan], [math.inf]])
def test_nothing_to_add_up_is_an_error(normal: list[float]) -> None:
    with pytest.raises(InputError):
        linear_sum(normal, [])


@pytest.mark.parametrize("coverage", [0.0, 1.0, math.nan, -0.1])
def test_no_such_coverage(coverage: float) -> None:
    with pytest.raises(InputError):
        linear_sum([1.0], []).half_width(coverage)


@pytest.mark.parametrize("most", [0.01, 3.0, 30.0, 100.0, 190.0, 1000.0])
def test_a_limit_that_is_a_guess_is_the_sine_integral_of_its_ends(most: float) -> None:
    """Si of both ends over what is between them (DLMF 6.2.9), by scipy; the last one of them goes that way itself."""
    angle = np.linspace(most / 300.0, most, 300)
    inner, outer = (sici(angle * (1.0 + sign * GUESSED_LIMIT))[0] for sign in (-1.0, 1.0))
    wanted = (outer - inner) / (2.0 * GUESSED_LIMIT * angle)
    assert np.abs(convolution._of_guessed_limit(angle) - wanted).max() < 2e-13


@pytest.mark.parametrize("flat", [[], [0.3], [2.0, 1.0], [9.0]])
def test_whether_a_half_width_is_between_two_is_told_without_it(flat: list[float]) -> None:
    summed = linear_sum([1.0], flat)
    half_width = summed.half_width(0.9545)
    assert summed.is_between(0.9545, half_width - 1e-6, half_width + 1e-6)
    assert not summed.is_between(0.9545, half_width + 1e-6, half_width + 1.0)
    assert not summed.is_between(0.9545, -1.0, half_width - 1e-6)
