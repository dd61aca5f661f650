"""Least squares where many unknowns are points that few rows touch: those are eliminated, and what is left is small.

A measuring bay gives three unknowns to every surveyed corner that several photographs see. Each row of the Jacobian
touches at most one of them: with the points first, J'J is a block diagonal bordered by the other parameters ("core").
Source of the elimination: Triggs et al., Bundle Adjustment - A Modern Synthesis (2000), section 6.1. Layouts without
such points take LAPACK's and MINPACK's dense routines; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.solution.model import Layout

Array = NDArray[np.float64]

SETTLED = 1e-8  # a step that moves all whitened rows together by less than this many standard uncertainties is the last
_FIRST_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-4, 1e-15, 1e8
_ROUNDING = 1e-13  # of a sum of squares


@dataclass(frozen=True, slots=True, kw_only=True)
class Bordered:
    """A Jacobian (R, parameters) taken apart: core (R, k), and for each row its point's number and slope (R, 3).

    core_at (k,), points_at (M, 3): columns of the whole. inner (M, 3, 3) and border (M, 3, k): the points' part of J'J.
    """

    core: Array
    owner: NDArray[np.int64]  # (R,) 0 where a row touches no point: its by_point is zero
    by_point: Array
    core_at: NDArray[np.int64]
    points_at: NDArray[np.int64]
    inner: Array
    border: Array

    def step(self, residual: Array, damping: float) -> Array:
        """(parameters,) the Levenberg-Marquardt step, damped in proportion to the diagonal of J'J."""
        inner, square = self.inner.copy(), self.core.T @ self.core
        inner[:, range(3), range(3)] *= 1.0 + damping
        square[np.diag_indices(len(square))] *= 1.0 + damping
        pull = self._by_owner(self.by_point * residual[:, None])  # (M, 3)
        across = np.linalg.solve(inner, self.border)  # (M, 3, k)
        alone = np.linalg.solve(inner, pull[..., None])[..., 0]
        square -= np.einsum("mik,mil->kl", self.border, across)
        right = np.einsum("mik,mi->k", self.border, alone) - self.core.T @ residual
        scale = 1.0 / np.sqrt(np.maximum(np.diag(square), 1e-300))
        step = np.empty(len(self.core_at) + self.points_at.size)
        step[self.core_at] = scale * np.linalg.solve(square * np.outer(scale, scale), scale * right)
        step[self.points_at] = -alone - across @ step[self.core_at]
        return step

    def _by_owner(self, parts: Array) -> Array:
        total = np.zeros((len(self.points_at), *parts.shape[1:]))
        np.add.at(total, self.owner, parts)
        return total

    def _reduced(self) -> tuple[Array, Array, Array]:
        """Points from core (M, 3, k), the core's rows with the points gone (R, k), and the root of its covariance."""
        across = np.asarray(np.linalg.solve(self.inner, self.border), dtype=np.float64)
        freed: Array = self.core - np.einsum("ri,rik->rk", self.by_point, across[self.owner])
        return across, freed, np.linalg.inv(np.linalg.qr(freed, mode="r"))

    def covariance(self) -> Array:
        """(parameters, parameters) the inverse of J'J."""
        across, _, root = self._reduced()
        through = (across @ root).reshape(-1, root.shape[1])  # (3 M, k)
        size = len(self.core_at) + self.points_at.size
        whole = np.zeros((size, size))
        points = self.points_at.ravel()
        whole[np.ix_(self.core_at, self.core_at)] = root @ root.T
        whole[np.ix_(points, points)] = through @ through.T
        whole[np.ix_(points, self.core_at)] = -through @ root.T
        whole[np.ix_(self.core_at, points)] = -root @ through.T
        whole[self.points_at[:, :, None], self.points_at[:, None, :]] += np.linalg.inv(self.inner)
        return whole

    def leverage(self) -> Array:
        """(R,) by how much each row determines its own fitted value: the diagonal of J (J'J)^-1 J'."""
        _, freed, root = self._reduced()
        own = np.linalg.solve(self.inner[self.owner], self.by_point[..., None])[..., 0]
        return np.asarray(((freed @ root) ** 2).sum(axis=1) + (own * self.by_point).sum(axis=1), dtype=np.float64)


def bordered(jacobian: Array, where: Layout) -> Bordered | None:
    """The Jacobian taken apart; None where the layout has no such points, or a row touches two of them."""
    if not where.points:
        return None
    points_at = np.array([where.at(*(f"{name}.{axis}" for axis in "xyz")) for name in where.points])
    core_at = np.setdiff1d(np.arange(len(where.names)), points_at)
    slopes = jacobian[:, points_at.ravel()].reshape(len(jacobian), -1, 3)
    touched = slopes.any(axis=2)
    if int(touched.sum(axis=1).max(initial=0)) > 1:
        return None
    owner = touched.argmax(axis=1)
    by_point, core = slopes[np.arange(len(slopes)), owner], jacobian[:, core_at]
    inner, border = np.zeros((len(points_at), 3, 3)), np.zeros((len(points_at), 3, len(core_at)))
    np.add.at(inner, owner, by_point[:, :, None] * by_point[:, None, :])
    np.add.at(border, owner, by_point[:, :, None] * core[:, None, :])
    return Bordered(
        core=core, owner=owner, by_point=by_point, core_at=core_at, points_at=points_at, inner=inner, border=border
    )


def inverse_normal(jacobian: Array, where: Layout) -> Array:
    """(parameters, parameters) the inverse of J'J."""
    parts = bordered(jacobian, where)
    if parts is not None:
        return parts.covariance()
    root = np.linalg.inv(np.linalg.qr(jacobian, mode="r"))
    return np.asarray(root @ root.T, dtype=np.float64)


def leverage(jacobian: Array, where: Layout) -> Array:
    """(R,) the diagonal of J (J'J)^-1 J'."""
    parts = bordered(jacobian, where)
    if parts is not None:
        return parts.leverage()
    return np.asarray((np.linalg.qr(jacobian)[0] ** 2).sum(axis=1), dtype=np.float64)


def minimise(
    at: Callable[[Array], tuple[Array, Array]], where: Layout, start: Array, *, evaluations: int
) -> Array | None:
    """The parameters of the least sum of squares near `start`, by Levenberg-Marquardt; None where `bordered` is None.

    at: residuals (R,) and their Jacobian (R, parameters) at given parameters.
    """
    x, damping = start.copy(), _FIRST_DAMPING
    residual, jacobian = at(x)
    parts, cost = bordered(jacobian, where), float(residual @ residual)
    if parts is None:
        return None
    for _ in range(evaluations):
        try:
            step = parts.step(residual, damping)
        except np.linalg.LinAlgError:
            return x
        moved = float(np.linalg.norm(jacobian @ step))
        new_residual, new_jacobian = at(x + step)
        new_cost = float(new_residual @ new_residual)
        if new_cost <= cost * (1.0 + _ROUNDING):
            x, residual, jacobian, cost = x + step, new_residual, new_jacobian, new_cost
            damping, parts = max(damping / 10.0, _LEAST_DAMPING), bordered(jacobian, where) or parts
        else:
            damping *= 10.0
        if moved < SETTLED or damping > _MOST_DAMPING:
            break
    return x
