"""The adaptive Monte Carlo procedure against JCGM 101:2008 clause 9 and NIST TN 1900, and its promises."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.outcome.errors import InputError
from photomeasure.uncertainty.coverage import numerical_tolerance, symmetric_interval
from photomeasure.uncertainty.distribution import Normal, Rectangular
from photomeasure.uncertainty.first_order import propagate
from photomeasure.uncertainty.first_order_stands import agree
from photomeasure.uncertainty.montecarlo import adaptive
from tests.uncertainty.published import (
    GAUGE_BLOCK,
    MASS,
    VISCOSITY,
    Array,
    gauge_block,
    mass,
    row,
    total,
    viscosity,
)

ROOT3 = math.sqrt(3.0)


def rng() -> np.random.Generator:
    return np.random.default_rng(20081)


def _shortest_interval(draws: Array) -> tuple[float, float]:
    """JCGM 101:2008 7.7.4: of all that hold 95 % of the sorted draws; the examples print it, the product does not state it."""
    held = round(0.95 * draws.size)
    first = int(np.argmin(draws[held:] - draws[:-held]))
    return float(draws[first]), float(draws[first + held])


def test_sum_of_four_normal() -> None:
    """JCGM 101:2008 9.2.2 (read): u 2.00, 95 % +/-3.92; the first order is validated."""
    rows = [row(f"x{i}", Normal(mean=0, u=1)) for i in range(4)]
    mc = adaptive(total, rows, rng=rng(), tolerance=numerical_tolerance(2.0, 2))
    assert mc.stable and mc.tolerance == pytest.approx(0.05)
    assert mc.u == pytest.approx(2.00, abs=0.03)
    assert (mc.low, mc.high) == pytest.approx((-3.92, 3.92), abs=0.08)
    first = propagate(total, rows)
    assert (first.u, first.U) == pytest.approx((2.00, 3.92), abs=0.005)
    assert agree(first, mc, 1).validated


def test_sum_of_four_rectangular() -> None:
    """JCGM 101:2008 9.2.3 (read): 95 % +/-3.88; exact 3.879407 (computed)."""
    rows = [row(f"x{i}", Rectangular(mean=0, half_width=ROOT3)) for i in range(4)]
    mc = adaptive(total, rows, rng=rng(), tolerance=0.005)
    assert mc.stable and mc.u == pytest.approx(2.00, abs=0.01)
    assert (mc.low, mc.high) == pytest.approx((-3.879407, 3.879407), abs=0.015)


def test_one_dominating_rectangular() -> None:
    """JCGM 101:2008 9.2.4 (read): u4 = 10: u 10.1, +/-17.0; the first order has +/-19.9: not validated."""
    rows = [row(f"x{i}", Rectangular(mean=0, half_width=ROOT3)) for i in range(3)]
    rows.append(row("x4", Rectangular(mean=0, half_width=10 * ROOT3)))
    mc = adaptive(total, rows, rng=rng(), tolerance=0.05)
    first = propagate(total, rows)
    assert mc.u == pytest.approx(10.1, abs=0.06)
    assert (mc.low, mc.high) == pytest.approx((-17.0, 17.0), abs=0.1)
    assert pytest.approx(19.9, abs=0.05) == first.U
    assert not agree(first, mc, 2).validated


def test_mass_calibration() -> None:
    """JCGM 101:2008 9.3 (memory; computed 1.2341, 0.0755, [1.0845, 1.3838]); first order not validated."""
    mc = adaptive(mass, MASS, rng=rng(), tolerance=0.0005)
    assert mc.stable
    assert mc.value == pytest.approx(1.2341, abs=0.0005)
    assert mc.u == pytest.approx(0.0754, abs=0.0005)
    low, high = _shortest_interval(mc.sorted_draws)
    assert high - low == pytest.approx(1.3838 - 1.0845, abs=0.0015)
    assert (low, high) == pytest.approx((1.0845, 1.3838), abs=0.003)  # a shortest interval slides easily
    assert not agree(propagate(mass, MASS), mc, 1).validated


def test_gauge_block() -> None:
    """JCGM 101:2008 9.5: first order 32 nm, MCM 36 nm (both read; the inputs' distributions from memory)."""
    mc = adaptive(gauge_block, GAUGE_BLOCK, rng=rng(), tolerance=0.3)
    first = propagate(gauge_block, GAUGE_BLOCK)
    assert first.u == pytest.approx(32, abs=0.5)
    assert mc.u == pytest.approx(36, abs=0.5)
    assert mc.value == pytest.approx(50_000_838, abs=0.5)


def test_viscosity() -> None:
    """NIST TN 1900 E3 (read): MC 5.82, u 1.11, 95 % [4.05, 8.39]."""
    mc = adaptive(viscosity, VISCOSITY, rng=rng(), tolerance=0.01)
    assert mc.stable
    assert mc.value == pytest.approx(5.82, abs=0.01)
    assert mc.u == pytest.approx(1.11, abs=0.01)
    assert (mc.low, mc.high) == pytest.approx((4.05, 8.39), abs=0.03)


def test_numerical_tolerance_of_the_examples() -> None:
    """JCGM 101:2008 7.9.2 (memory): 0.00035 to 2 digits 0.000005; 2 to 1 digit 0.5; 35 to 2 digits 0.5."""
    assert numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    assert numerical_tolerance(35.0, 2) == pytest.approx(0.5)
    assert numerical_tolerance(0.0996, 2) == pytest.approx(0.005)  # rounds to 0.10
    assert numerical_tolerance(0.0, 2) == 0.0


def test_draws_of_one_block_are_not_called_stable_too_soon() -> None:
    """Of 40 runs that say stable, about 95 % have the end within the tolerance of the exact 1.959964."""
    rows = [row("x", Normal(mean=0, u=1))]
    runs = [adaptive(total, rows, rng=np.random.default_rng(seed), tolerance=0.05) for seed in range(40)]
    assert all(run.stable for run in runs)
    good = sum(abs(run.high - 1.959964) <= run.tolerance for run in runs)
    assert good >= 34  # binomial, p = 0.95: fewer than 34 of 40 has a probability of 0.003


def test_not_stable_is_said() -> None:
    mc = adaptive(total, [row("x", Normal(mean=0, u=1))], rng=rng(), tolerance=1e-9, largest=40_000)
    assert not mc.stable
    assert mc.draws == 40_000


def test_failed_draws_are_never_left_out() -> None:
    def root(x: Array) -> Array:
        return np.where(x[:, 0] > 2.0, np.nan, x[:, 0])

    with pytest.raises(ArithmeticError, match="no finite number for"):
        adaptive(root, [row("x", Normal(mean=0, u=1))], rng=rng(), tolerance=0.05)
    with pytest.raises(ValueError, match="made 1 numbers"):
        adaptive(lambda x: x.sum(), [row("x", Normal(mean=0, u=1))], rng=rng(), tolerance=0.05)
    with pytest.raises(InputError, match="Blocks"):
        adaptive(total, [row("x", Normal(mean=0, u=1))], rng=rng(), tolerance=0.05, block=10)


def test_intervals_of_known_draws() -> None:
    """JCGM 101:2008 7.7: M = 1000, p = 0.95, q = 950."""
    even = np.arange(1.0, 1001.0)
    assert symmetric_interval(even, 0.95) == (26.0, 976.0)


def test_draws_are_sorted_and_stay_as_they_are() -> None:
    drawn = adaptive(total, MASS[:1], rng=rng(), tolerance=1.0, block=500).sorted_draws
    assert (np.diff(drawn) >= 0.0).all()
    with pytest.raises(ValueError, match="read-only"):
        drawn[0] = 0.0


def test_agreement_needs_equal_coverage() -> None:
    rows = [row("x", Normal(mean=0, u=1))]
    with pytest.raises(InputError, match="coverage"):
        agree(propagate(total, rows, coverage=0.99), adaptive(total, rows, rng=rng(), tolerance=0.05), 2)
