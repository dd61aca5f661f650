"""The error function of single precision against scipy's in double precision."""

from __future__ import annotations

import numpy as np
from scipy.special import erf as by_scipy
from scipy.special import ndtr

from calib.finding.error_function import END, erf, normal_below


def test_it_is_the_error_function_to_single_precision() -> None:
    """5e-7: seven roundings of a single's last digit (6e-8); of 100 grey levels that is 5e-5."""
    x = np.linspace(-7.0, 7.0, 700_001)
    assert np.abs(erf(x.astype(np.float32)) - by_scipy(x)).max() < 5e-7


def test_in_double_precision_it_is_what_was_fitted() -> None:
    x = np.linspace(-7.0, 7.0, 700_001)
    assert np.abs(erf(x) - by_scipy(x)).max() < 3e-8
    assert np.abs(normal_below(x) - ndtr(x)).max() < 2e-8


def test_it_is_odd_and_one_at_its_ends() -> None:
    x = np.linspace(0.0, 2.0 * END, 1001, dtype=np.float32)
    assert erf(x).dtype == np.float32
    assert np.array_equal(erf(-x), -erf(x))
    assert np.abs(erf(x[x >= END]) - 1.0).max() < 5e-7


def test_the_array_that_it_is_given_stays_as_it_is() -> None:
    x = np.array([[-9.0, 0.5], [0.0, 9.0]], dtype=np.float32)
    before = x.copy()
    assert erf(x).shape == (2, 2) and np.array_equal(x, before)
