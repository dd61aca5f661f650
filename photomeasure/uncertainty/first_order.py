"""Law of propagation of uncertainty (JCGM 100:2008 5.1, 5.2, annex G) by central differences."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import SupportsFloat

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.coverage import coverage_factor, welch_satterthwaite
from photomeasure.uncertainty.quantity import InputQuantity, checked_correlation, correlated_names

Array = NDArray[np.float64]
Model = Callable[[Array], SupportsFloat]  # (k,) values of the inputs, in their order -> the measurand
VectorModel = Callable[[Array], Array]  # (k,) -> (m,)

_STEP = 0.02  # of u; differences of fourth order, so the error is about 1e-7 of any curvature
_STEP_SECOND = 0.1  # of u, for second and third derivatives, where rounding weighs more


@dataclass(frozen=True, slots=True, kw_only=True)
class InputShare:
    """One row of the budget.

    sensitivity: df/dx. u_signed: sensitivity times u. variance: its part of u^2 (with correlations half of
    each covariance term, so it may be negative; with second-order terms those too). share: variance / u^2.
    """

    name: str
    value: float
    unit: str
    distribution: str
    source: str
    u: float
    dof: float
    sensitivity: float
    u_signed: float
    variance: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOrder:
    """Estimate, standard uncertainty u, expanded uncertainty U = k u, and the budget that sums to u^2."""

    value: float
    u: float
    dof: float
    k: float
    U: float
    coverage: float
    contributions: tuple[InputShare, ...]
    second_order: bool

    @property
    def low(self) -> float:
        """Lower end of the expanded interval."""
        return self.value - self.U

    @property
    def high(self) -> float:
        """Upper end of the expanded interval."""
        return self.value + self.U


def sensitivities(model: VectorModel, values: ArrayLike, u: ArrayLike) -> Array:
    """Jacobian (m, k) at values (k,) by central differences of fourth order, steps a part of u (k,)."""
    x = np.array(values, dtype=np.float64)  # (k,)
    columns = []
    for i, h in enumerate(_steps(x, u, _STEP)):

        def at(offset: float, i: int = i, h: float = h) -> Array:
            moved = x.copy()
            moved[i] += offset * h
            return np.atleast_1d(np.asarray(model(moved), dtype=np.float64))

        columns.append((8.0 * (at(1.0) - at(-1.0)) - (at(2.0) - at(-2.0))) / (12.0 * h))
    return np.stack(columns, axis=1)  # (m, k)


def propagate_covariance(model: VectorModel, values: ArrayLike, covariance: ArrayLike) -> tuple[Array, Array]:
    """Outputs (m,) and their covariance (m, m) for inputs (k,) of covariance (k, k); JCGM 102:2011 6.2."""
    x, c = np.array(values, dtype=np.float64), np.array(covariance, dtype=np.float64)
    jacobian = sensitivities(model, x, np.sqrt(np.diag(c)))  # (m, k)
    return np.atleast_1d(np.asarray(model(x), dtype=np.float64)), jacobian @ c @ jacobian.T


def propagate(
    model: Model,
    inputs: Sequence[InputQuantity],
    *,
    correlation: ArrayLike | None = None,
    second_order: bool = False,
    coverage: float = 0.95,
) -> FirstOrder:
    """Law of propagation for one measurand.

    correlation: (k, k), None: independent. second_order: add the terms of JCGM 100:2008 5.1.2 note
    (independent inputs only; exact to that order for normal ones). Degrees of freedom by
    Welch-Satterthwaite; correlated inputs need infinite ones. Raises InputError where that is not so, and for
    a model that gives no finite number.
    """
    r = checked_correlation(correlation, len(inputs))  # (k, k)
    _check_correlated(inputs, r, second_order)
    x = np.array([quantity.value for quantity in inputs])  # (k,)
    u = np.array([quantity.distribution.u for quantity in inputs])  # (k,)

    def vector(values: Array) -> Array:
        return np.array([float(model(values))])

    value = float(vector(x)[0])
    slopes = sensitivities(vector, x, u)[0]  # (k,)
    signed = slopes * u  # (k,)
    variances = signed * (r @ signed)  # (k,): each row takes its own half of every covariance term
    if second_order:
        variances = variances + _second_order(model, x, u, signed)
    if not (math.isfinite(value) and bool(np.isfinite(variances).all())):
        raise InputError(
            said("The model gives no finite number at the inputs or within a fraction of their uncertainty."),
            expected=said("a model that is defined all around the estimates"),
            remedy=said("check the inputs' values and units"),
        )
    return _result(inputs, value, slopes, signed, variances, coverage, second_order)


def _result(
    inputs: Sequence[InputQuantity],
    value: float,
    slopes: Array,
    signed: Array,
    variances: Array,
    coverage: float,
    second_order: bool,
) -> FirstOrder:
    variance = max(0.0, math.fsum(variances))
    u = math.sqrt(variance)
    dof = welch_satterthwaite(u, np.abs(signed), [quantity.distribution.dof for quantity in inputs])
    k = coverage_factor(coverage, dof)
    rows = tuple(
        InputShare(
            name=quantity.name,
            value=quantity.value,
            unit=quantity.unit,
            distribution=quantity.distribution.name,
            source=quantity.source,
            u=quantity.distribution.u,
            dof=quantity.distribution.dof,
            sensitivity=float(slopes[i]),
            u_signed=float(signed[i]),
            variance=float(variances[i]),
            share=float(variances[i]) / variance if variance > 0.0 else 0.0,
        )
        for i, quantity in enumerate(inputs)
    )
    return FirstOrder(
        value=value,
        u=u,
        dof=dof,
        k=k,
        U=k * u,
        coverage=coverage,
        contributions=rows,
        second_order=second_order,
    )


def _check_correlated(inputs: Sequence[InputQuantity], r: Array, second_order: bool) -> None:
    names = correlated_names(inputs, r)
    finite = [q.name for q in inputs if q.name in names and math.isfinite(q.distribution.dof)]
    if names and (second_order or finite):
        raise InputError(
            "Correlated inputs: " + ", ".join(finite or names) + ".",
            expected=said("independent inputs for second-order terms and for finite degrees of freedom"),
            remedy=said("state infinite degrees of freedom, or use the Monte Carlo method"),
        )


def _steps(x: Array, u: ArrayLike, part: float) -> Array:
    """Steps (k,): a part of u, or of the value itself where u is 0; exact in binary at x."""
    spread = np.asarray(u, dtype=np.float64)  # (k,)
    h = np.where(spread > 0.0, part * spread, 1e-4 * np.maximum(np.abs(x), 1e-3))
    return np.asarray((x + h) - x, dtype=np.float64)


def _second_order(model: Model, x: Array, u: Array, signed: Array) -> Array:
    """Second-order variances (k,): row i takes sum_j (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2."""
    steps = _steps(x, u, _STEP_SECOND)  # (k,)
    moving = [i for i in range(x.size) if u[i] > 0.0]
    extra = np.zeros_like(x)

    def f(i: int, a: float, j: int, b: float) -> float:
        moved = x.copy()
        moved[i] += a * steps[i]
        moved[j] += b * steps[j]
        return float(model(moved))

    for i in moving:
        for j in moving:
            hi, hj = steps[i], steps[j]
            if i == j:
                f_ij = (f(i, 1, j, 0) - 2.0 * f(i, 0, j, 0) + f(i, -1, j, 0)) / hi**2
                f_ijj = (f(i, 2, j, 0) - 2.0 * f(i, 1, j, 0) + 2.0 * f(i, -1, j, 0) - f(i, -2, j, 0)) / (2.0 * hi**3)
            else:
                f_ij = (f(i, 1, j, 1) - f(i, 1, j, -1) - f(i, -1, j, 1) + f(i, -1, j, -1)) / (4.0 * hi * hj)
                bend_up = f(i, 1, j, 1) - 2.0 * f(i, 1, j, 0) + f(i, 1, j, -1)
                bend_down = f(i, -1, j, 1) - 2.0 * f(i, -1, j, 0) + f(i, -1, j, -1)
                f_ijj = (bend_up - bend_down) / (2.0 * hi * hj**2)
            extra[i] += 0.5 * (f_ij * u[i] * u[j]) ** 2 + signed[i] * f_ijj * u[i] * u[j] ** 2
    return extra
