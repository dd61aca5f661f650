"""One input quantity: a row of the budget before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.distribution import Distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class InputQuantity:
    """A quantity that the model depends on, its distribution and where that comes from."""

    name: str
    distribution: Distribution
    source: str
    unit: str

    @property
    def value(self) -> float:
        """The estimate, in `unit`: the distribution's mean."""
        return self.distribution.mean


def checked_correlation(correlation: ArrayLike | None, count: int) -> NDArray[np.float64]:
    """The correlation matrix (count, count), identity for None.

    Raises InputError unless it is symmetric, has a unit diagonal and no negative eigenvalue.
    """
    if correlation is None:
        return np.eye(count)
    matrix = np.array(correlation, dtype=np.float64)  # (k, k)
    fits = matrix.shape == (count, count) and bool(np.isfinite(matrix).all())
    if fits:
        fits = bool(np.allclose(matrix, matrix.T, atol=1e-12) and np.allclose(np.diag(matrix), 1.0, atol=1e-12))
    if not fits or float(np.linalg.eigvalsh(matrix)[0]) < -1e-9:
        raise InputError(
            said("The correlation matrix, {shape}, is none of {count} quantities.", shape=matrix.shape, count=count),
            expected=said(
                "a symmetric {count} x {count} matrix, 1 on its diagonal, no negative eigenvalue", count=count
            ),
            remedy=said("check the coefficients; pairs that contradict each other make an eigenvalue negative"),
        )
    return matrix


def correlated_names(inputs: Sequence[InputQuantity], correlation: NDArray[np.float64]) -> list[str]:
    """Names of the quantities that are correlated with any other."""
    off_diagonal = np.abs(correlation - np.diag(np.diag(correlation))).max(axis=1)  # (k,)
    return [quantity.name for quantity, most in zip(inputs, off_diagonal, strict=True) if most > 0.0]
