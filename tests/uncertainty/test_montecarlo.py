"""The adaptive Monte Carlo procedure against JCGM 101:2008 clause 9 and NIST TN 1900, and its promises."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.outcome.errors import InputError
from photomeasure.uncertainty import (
    Normal,
    Rectangular,
    StudentT,
    adaptive,
    agree,
    draw_inputs,
    numerical_tolerance,
    propagate,
    shortest_interval,
    summarise,
    symmetric_interval,
)
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


def test_sum_of_four_normal() -> None:
    """JCGM 101:2008 9.2.2 (read): u 2.00, 95 % +/-3.92; the first order is validated."""
    rows = [row(f"x{i}", Normal(mean=0, u=1)) for i in range(4)]
    mc = adaptive(total, rows, rng=rng(), digits=2, interval="symmetric")
    assert mc.stable and mc.tolerance == pytest.approx(0.05)
    assert mc.u == pytest.approx(2.00, abs=0.03)
    assert (mc.low, mc.high) == pytest.approx((-3.92, 3.92), abs=0.08)
    first = propagate(total, rows)
    assert (first.u, first.U) == pytest.approx((2.00, 3.92), abs=0.005)
    assert agree(first, mc, 1).validated


def test_sum_of_four_rectangular() -> None:
    """JCGM 101:2008 9.2.3 (read): 95 % +/-3.88; exact 3.879407 (computed)."""
    rows = [row(f"x{i}", Rectangular(mean=0, half_width=ROOT3)) for i in range(4)]
    mc = adaptive(total, rows, rng=rng(), tolerance=0.005, interval="symmetric")
    assert mc.stable and mc.u == pytest.approx(2.00, abs=0.01)
    assert (mc.low, mc.high) == pytest.approx((-3.879407, 3.879407), abs=0.015)


def test_one_dominating_rectangular() -> None:
    """JCGM 101:2008 9.2.4 (read): u4 = 10: u 10.1, +/-17.0; the first order has +/-19.9: not validated."""
    rows = [row(f"x{i}", Rectangular(mean=0, half_width=ROOT3)) for i in range(3)]
    rows.append(row("x4", Rectangular(mean=0, half_width=10 * ROOT3)))
    mc = adaptive(total, rows, rng=rng(), tolerance=0.05, interval="symmetric")
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
    assert mc.high - mc.low == pytest.approx(1.3838 - 1.0845, abs=0.0015)
    assert (mc.low, mc.high) == pytest.approx((1.0845, 1.3838), abs=0.003)  # a shortest interval slides easily
    assert not agree(propagate(mass, MASS), mc, 1).validated


def test_gauge_block() -> None:
    """JCGM 101:2008 9.5: first order 32 nm, MCM 36 nm (both read; the inputs' distributions from memory)."""
    mc = adaptive(gauge_block, GAUGE_BLOCK, rng=rng(), tolerance=0.3, interval="symmetric")
    first = propagate(gauge_block, GAUGE_BLOCK)
    assert first.u == pytest.approx(32, abs=0.5)
    assert mc.u == pytest.approx(36, abs=0.5)
    assert mc.value == pytest.approx(50_000_838, abs=0.5)


def test_viscosity() -> None:
    """NIST TN 1900 E3 (read): MC 5.82, u 1.11, 95 % [4.05, 8.39]."""
    mc = adaptive(viscosity, VISCOSITY, rng=rng(), tolerance=0.01, interval="symmetric")
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
    runs = [adaptive(total, rows, rng=np.random.default_rng(seed), interval="symmetric") for seed in range(40)]
    assert all(run.stable for run in runs)
    good = sum(abs(run.high - 1.959964) <= run.tolerance for run in runs)
    assert good >= 34  # binomial, p = 0.95: fewer than 34 of 40 has a probability of 0.003


def test_not_stable_is_said() -> None:
    mc = adaptive(total, [row("x", Normal(mean=0, u=1))], rng=rng(), tolerance=1e-9, largest=40_000)
    assert not mc.stable
    assert mc.draws == 40_000


def test_row_by_row_equals_vectorised() -> None:
    by_row = adaptive(lambda x: x[0] * x[1], MASS[:2], rng=rng(), row_by_row=True, block=500, largest=2_000)
    at_once = adaptive(lambda x: x[:, 0] * x[:, 1], MASS[:2], rng=rng(), block=500, largest=2_000)
    assert np.array_equal(by_row.sorted_draws, at_once.sorted_draws)
    with pytest.raises(ValueError, match="read-only"):
        by_row.sorted_draws[0] = 0.0


def test_correlated_normals_by_sampling() -> None:
    u = np.array([1.0, 2.0, 0.5])
    r = np.array([[1.0, 0.8, -0.3], [0.8, 1.0, 0.0], [-0.3, 0.0, 1.0]])
    rows = [row(f"x{i}", Normal(mean=i, u=s)) for i, s in enumerate(u)]
    rows.insert(1, row("alone", Rectangular(mean=0, half_width=1)))
    full = np.eye(4)
    full[np.ix_([0, 2, 3], [0, 2, 3])] = r
    draws = draw_inputs(rows, 200_000, rng(), full)
    assert np.corrcoef(draws, rowvar=False) == pytest.approx(full, abs=0.01)  # 4/sqrt(n) = 0.009
    assert draws.std(axis=0) == pytest.approx([1.0, 1 / ROOT3, 2.0, 0.5], rel=0.01)
    assert draws.mean(axis=0) == pytest.approx([0.0, 0.0, 1.0, 2.0], abs=0.02)


def test_fully_correlated_normals_move_together() -> None:
    rows = [row("a", Normal(mean=0, u=1)), row("b", Normal(mean=5, u=3))]
    draws = draw_inputs(rows, 1000, rng(), [[1.0, 1.0], [1.0, 1.0]])
    assert draws[:, 1] - 5.0 == pytest.approx(3.0 * draws[:, 0], abs=1e-7)


def test_correlated_inputs_must_be_normal() -> None:
    rows = [row("a", Normal(mean=0, u=1)), row("few", StudentT(mean=0, u=1, dof=5))]
    with pytest.raises(InputError, match="not normal: few"):
        draw_inputs(rows, 10, rng(), [[1.0, 0.5], [0.5, 1.0]])


def test_failed_draws_are_never_left_out() -> None:
    def root(x: Array) -> Array:
        return np.where(x[:, 0] > 2.0, np.nan, x[:, 0])

    with pytest.raises(ArithmeticError, match="no finite number for"):
        adaptive(root, [row("x", Normal(mean=0, u=1))], rng=rng())
    with pytest.raises(ValueError, match="made 1 numbers"):
        adaptive(lambda x: x.sum(), [row("x", Normal(mean=0, u=1))], rng=rng())
    with pytest.raises(InputError, match="Blocks"):
        adaptive(total, [row("x", Normal(mean=0, u=1))], rng=rng(), block=10)


def test_intervals_of_known_draws() -> None:
    """JCGM 101:2008 7.7: M = 1000, p = 0.95, q = 950; the shortest of an exponential starts at its mode."""
    even = np.arange(1.0, 1001.0)
    assert symmetric_interval(even, 0.95) == (26.0, 976.0)
    draws = np.sort(rng().exponential(1.0, 200_000))
    low, high = shortest_interval(draws, 0.95)
    assert low == pytest.approx(0.0, abs=0.02)
    assert high == pytest.approx(-math.log(0.05), abs=0.05)
    assert (draws.searchsorted(high, "right") - draws.searchsorted(low)) / draws.size >= 0.95


def test_summary_of_draws_made_elsewhere() -> None:
    draws = rng().normal(400.0, 2.0, 50_000)
    mc = summarise(draws)
    assert (mc.value, mc.u) == pytest.approx((400.0, 2.0), abs=0.04)
    assert not mc.stable and math.isnan(mc.tolerance)
    with pytest.raises(ArithmeticError):
        summarise([1.0, math.nan])


def test_agreement_needs_equal_coverage() -> None:
    rows = [row("x", Normal(mean=0, u=1))]
    with pytest.raises(InputError, match="coverage"):
        agree(propagate(total, rows, coverage=0.99), adaptive(total, rows, rng=rng()), 2)
