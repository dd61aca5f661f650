"""The law of propagation against JCGM 100:2008 annex H, NIST TN 1900, `uncertainties` and GTC."""

from __future__ import annotations

import math

import GTC  # type: ignore[import-untyped]
import numpy as np
import pytest
import uncertainties  # type: ignore[import-untyped]
import uncertainties.umath  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from calib.outcome.errors import InputError
from photomeasure.uncertainty.coverage import coverage_factor, welch_satterthwaite
from photomeasure.uncertainty.distribution import Normal, Rectangular
from photomeasure.uncertainty.first_order import propagate, sensitivities
from tests.uncertainty.published import (
    END_GAUGE,
    IMPEDANCE_READINGS,
    MASS,
    VISCOSITY,
    Array,
    end_gauge,
    impedance,
    mass,
    row,
    total,
    viscosity,
)


def test_end_gauge_to_the_printed_digits() -> None:
    """JCGM 100:2008 H.1 (read): 50.000 838 mm; 25, 9.7, 2.9, 16.6 nm; u 32; nu 16; t99 2.92; U99 93."""
    result = propagate(end_gauge, END_GAUGE, coverage=0.99)
    parts = {part.name: abs(part.u_signed) for part in result.contributions}
    assert result.value == pytest.approx(50_000_838, abs=0.5)
    assert parts["lS"] == pytest.approx(25, abs=0.5)
    assert parts["d"] == pytest.approx(9.7, abs=0.05)
    assert parts["da"] == pytest.approx(2.9, abs=0.05)
    assert parts["dt"] == pytest.approx(16.6, abs=0.05)
    assert parts["theta"] == pytest.approx(0.0, abs=1e-6) and parts["aS"] == pytest.approx(0.0, abs=1e-6)
    assert result.u == pytest.approx(31.7, abs=0.1)  # printed 32
    assert math.floor(result.dof) == 16
    assert result.k == pytest.approx(2.92, abs=0.005)
    assert result.k * round(result.u) == pytest.approx(93, abs=0.5)  # the guide multiplies rounded figures
    assert pytest.approx(92.5, abs=0.1) == result.U  # unrounded (computed)


def test_impedance_to_the_printed_digits() -> None:
    """JCGM 100:2008 H.2 (read): outputs, their uncertainties and correlations, from correlated inputs, by the sensitivities.

    Unrounded, u(X) is 0.29558 (also by `uncertainties`); the guide prints 0.295: one unit is allowed there.
    """
    mean = IMPEDANCE_READINGS.mean(axis=0)
    covariance = np.cov(IMPEDANCE_READINGS, rowvar=False) / len(IMPEDANCE_READINGS)
    outputs, jacobian = impedance(mean), sensitivities(impedance, mean, np.sqrt(np.diag(covariance)))
    out_covariance = jacobian @ covariance @ jacobian.T  # JCGM 102:2011 6.2
    u = np.sqrt(np.diag(out_covariance))
    r = out_covariance / np.outer(u, u)
    assert outputs == pytest.approx([127.732, 219.847, 254.260], abs=0.0005)
    assert u[[0, 2]] == pytest.approx([0.071, 0.236], abs=0.0005)
    assert u[1] == pytest.approx(0.295, abs=0.001)
    v, i, phi = uncertainties.correlated_values(mean, covariance)
    reference = v / i * uncertainties.umath.sin(phi)
    assert u[1] == pytest.approx(reference.std_dev, rel=1e-8)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=0.0005)


def test_first_order_of_mass_and_viscosity() -> None:
    """JCGM 101:2008 9.3: first order 0.0539 (read). TN 1900 E3: 5.69 (read)."""
    assert propagate(mass, MASS).u == pytest.approx(0.0539, abs=0.5e-4)
    assert propagate(viscosity, VISCOSITY).value == pytest.approx(5.69, abs=0.005)


def test_welch_satterthwaite_and_t_table() -> None:
    """u 0.57 (nu 9) with 0.25 (inf): 12.8. JCGM 100 table G.2: .95 nu 20 2.09, .99 nu 16 2.92, .9545 2.00."""
    u = math.hypot(0.57, 0.25)
    assert welch_satterthwaite(u, [0.57, 0.25], [9, math.inf]) == pytest.approx(12.8, abs=0.05)
    assert coverage_factor(0.95, 20) == pytest.approx(2.09, abs=0.005)
    assert coverage_factor(0.99, 16) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(0.9545) == pytest.approx(2.00, abs=0.005)
    assert coverage_factor(0.99, 16.8) == coverage_factor(0.99, 16)
    assert welch_satterthwaite(1.0, [1.0], [math.inf]) == math.inf


def test_against_uncertainties() -> None:
    def model(x: Array) -> float:
        return float(x[0] * math.exp(-x[1]) + x[2] * math.sin(x[3]) / x[0])

    means, spreads = (3.0, 0.4, 7.0, 1.1), (0.02, 0.01, 0.3, 0.05)
    rows = [row(f"x{i}", Normal(mean=m, u=s)) for i, (m, s) in enumerate(zip(means, spreads, strict=True))]
    a, b, c, d = (uncertainties.ufloat(m, s) for m, s in zip(means, spreads, strict=True))
    reference = a * uncertainties.umath.exp(-b) + c * uncertainties.umath.sin(d) / a
    result = propagate(model, rows)
    assert result.value == pytest.approx(reference.nominal_value, rel=1e-14)
    assert result.u == pytest.approx(reference.std_dev, rel=1e-8)
    parts = reference.error_components()
    for part, variable in zip(result.contributions, (a, b, c, d), strict=True):
        assert abs(part.u_signed) == pytest.approx(parts[variable], rel=1e-7)


def test_against_gtc() -> None:
    """Estimate, u, effective degrees of freedom and budget of the end gauge, by another program."""
    names = [quantity.name for quantity in END_GAUGE]
    l_s, d, d_alpha, theta, alpha_s, d_theta = (
        GTC.ureal(q.value, q.distribution.u, q.distribution.dof, label=q.name) for q in END_GAUGE
    )
    reference = l_s + d - l_s * (d_alpha * theta + alpha_s * d_theta)
    result = propagate(end_gauge, END_GAUGE)
    assert result.value == pytest.approx(reference.x, rel=1e-15)
    assert result.u == pytest.approx(reference.u, rel=1e-8)
    assert result.dof == pytest.approx(reference.df, rel=1e-6)
    parts = {line.label: line.u for line in GTC.reporting.budget(reference, trim=0)}
    for part in result.contributions:
        assert abs(part.u_signed) == pytest.approx(parts[part.name], rel=1e-7, abs=1e-6)
    assert set(names) == set(parts)


def test_vector_sensitivities_are_exact_for_a_cubic() -> None:
    def model(x: Array) -> Array:
        return np.array([x[0] ** 3 + x[1], x[0] * x[1]])

    jacobian = sensitivities(model, [2.0, 3.0], [0.5, 0.0])
    assert jacobian == pytest.approx(np.array([[12.0, 1.0], [3.0, 2.0]]), rel=1e-9)


def test_nothing_is_dropped_and_zero_stays() -> None:
    rows = (
        row("a", Normal(mean=1, u=1)),
        row("tiny", Normal(mean=0, u=1e-9)),
        row("exact", Normal(mean=2, u=0)),
    )
    result = propagate(total, rows)
    assert [part.name for part in result.contributions] == ["a", "tiny", "exact"]
    assert result.contributions[1].share == pytest.approx(1e-18, rel=1e-6)
    assert result.contributions[2].variance == 0.0


def test_what_does_not_hold_is_refused() -> None:
    many = (row("a", Normal(mean=1, u=1)), row("b", Rectangular(mean=1, half_width=1)))
    with pytest.raises(InputError, match="no finite number"):
        propagate(lambda x: math.nan * float(x[0]), many)
    for coverage in (0.0, 1.0, math.nan):
        with pytest.raises(InputError, match="coverage"):
            propagate(total, many, coverage=coverage)
    with pytest.raises(InputError, match="degrees of freedom"):
        coverage_factor(0.95, 0.0)


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(1e-3, 10)), min_size=1, max_size=6))
def test_shares_sum_to_one_and_variances_to_u_squared(pairs: list[tuple[float, float]]) -> None:
    rows = [row(f"x{i}", Normal(mean=m, u=s)) for i, (m, s) in enumerate(pairs)]
    result = propagate(lambda x: float(np.sin(x).sum() + 3.0 * x[0]), rows)
    assert math.fsum(part.variance for part in result.contributions) == pytest.approx(result.u**2, rel=1e-14)
    assert math.fsum(part.share for part in result.contributions) == pytest.approx(1.0, rel=1e-12)
