"""Each distribution against JCGM 101:2008 6.4, and its draws against scipy's distribution functions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from calib.outcome.errors import InputError
from photomeasure.uncertainty.distribution import CurvilinearTrapezoid, Distribution, Exponential, Normal, Rectangular

# distribution, u by JCGM 101:2008 6.4 (from memory; scipy gives the same), scipy's distribution
ROWS = [
    (Normal(mean=3, u=2), 2.0, stats.norm(3, 2)),
    (Rectangular(mean=3, half_width=2), 2 / math.sqrt(3), stats.uniform(1, 4)),
    (Exponential(least=1, u=2), 2.0, stats.expon(1, 2)),
]


@pytest.mark.parametrize(("distribution", "u", "reference"), ROWS, ids=lambda value: getattr(value, "name", ""))
def test_figures_and_draws(distribution: Distribution, u: float, reference: stats.rv_continuous) -> None:
    assert distribution.u == pytest.approx(u, rel=1e-12) == pytest.approx(float(reference.std()), rel=1e-12)
    assert distribution.mean == pytest.approx(float(reference.mean()), rel=1e-12)
    draws = distribution.draw(np.random.default_rng(1), 20_000)
    assert draws.shape == (20_000,)
    assert stats.kstest(draws, reference.cdf).pvalue > 0.001


def test_curvilinear_trapezoid() -> None:
    """JCGM 101:2008 6.4.3 (memory): u^2 = (b - a)^2/12 + d^2/9; d = 0 is the rectangle."""
    trapezoid = CurvilinearTrapezoid(mean=3, half_width=2, limit_half_width=0.5)
    assert trapezoid.u == pytest.approx(math.sqrt(4**2 / 12 + 0.5**2 / 9), rel=1e-12)
    draws = trapezoid.draw(np.random.default_rng(2), 400_000)
    assert draws.std() == pytest.approx(trapezoid.u, rel=0.005)
    assert draws.min() > 3 - 2.5 and draws.max() < 3 + 2.5
    exact = CurvilinearTrapezoid(mean=3, half_width=2, limit_half_width=0)
    assert exact.u == pytest.approx(Rectangular(mean=3, half_width=2).u, rel=1e-15)


def test_half_widths_are_not_uncertainties() -> None:
    with pytest.raises(TypeError):
        Rectangular(3, 2)  # type: ignore[call-arg]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0])
def test_wrong_spreads_are_rejected(bad: float) -> None:
    for make in (
        lambda: Normal(mean=0, u=bad),
        lambda: Rectangular(mean=0, half_width=bad),
        lambda: CurvilinearTrapezoid(mean=0, half_width=2, limit_half_width=bad),
        lambda: Normal(mean=0 if bad == -1 else bad, u=1, dof=-1),
    ):
        with pytest.raises(InputError):
            make()
    with pytest.raises(InputError, match="limits known"):
        CurvilinearTrapezoid(mean=0, half_width=1, limit_half_width=2)
