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
from photomeasure.uncertainty.quantity import InputQuantity

Array = NDArray[np.float64]
Model = Callable[[Array], SupportsFloat]  # (k,) values of the inputs, in their order -> the measurand
VectorModel = Callable[[Array], Array]  # (k,) -> (m,)

_STEP = 0.02  # of u; differences of fourth order, so the error is about 1e-7 of any curvature


@dataclass(frozen=True, slots=True, kw_only=True)
class InputShare:
    """One row of the budget.

    sensitivity: df/dx. u_signed: sensitivity times u. variance: its part of u^2. share: variance / u^2.
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
    for i, h in enumerate(_steps(x, u)):

        def at(offset: float, i: int = i, h: float = h) -> Array:
            moved = x.copy()
            moved[i] += offset * h
            return np.atleast_1d(np.asarray(model(moved), dtype=np.float64))

        columns.append((8.0 * (at(1.0) - at(-1.0)) - (at(2.0) - at(-2.0))) / (12.0 * h))
    return np.stack(columns, axis=1)  # (m, k)


def propagate(
    model: Model,
    inputs: Sequence[InputQuantity],
    *,
    coverage: float = 0.95,
) -> FirstOrder:
    """Law of propagation for one measurand of independent inputs; degrees of freedom by Welch-Satterthwaite.

    Raises InputError for a model that gives no finite number.
    """
    x = np.array([quantity.value for quantity in inputs])  # (k,)
    u = np.array([quantity.distribution.u for quantity in inputs])  # (k,)

    def vector(values: Array) -> Array:
        return np.array([float(model(values))])

    value = float(vector(x)[0])
    slopes = sensitivities(vector, x, u)[0]  # (k,)
    signed = slopes * u  # (k,)
    variances = signed * signed  # (k,)
    if not (math.isfinite(value) and bool(np.isfinite(variances).all())):
        raise InputError(
            said("The model gives no finite number at the inputs or within a fraction of their uncertainty."),
            expected=said("a model that is defined all around the estimates"),
            remedy=said("check the inputs' values and units"),
        )
    return _result(inputs, value, slopes, signed, variances, coverage)


def _result(
    inputs: Sequence[InputQuantity],
    value: float,
    slopes: Array,
    signed: Array,
    variances: Array,
    coverage: float,
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
    )


def _steps(x: Array, u: ArrayLike) -> Array:
    """Steps (k,): a part of u, or of the value itself where u is 0; exact in binary at x."""
    spread = np.asarray(u, dtype=np.float64)  # (k,)
    h = np.where(spread > 0.0, _STEP * spread, 1e-4 * np.maximum(np.abs(x), 1e-3))
    return np.asarray((x + h) - x, dtype=np.float64)
