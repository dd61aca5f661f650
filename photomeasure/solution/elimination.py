"""Least squares where many unknowns are points that few rows touch: those are eliminated, and what is left is small.

A measuring bay gives three unknowns to every surveyed corner that several photographs see. Each row of the Jacobian
touches at most one of them: with the points first, J'J is a block diagonal bordered by the other parameters ("core").
Source of the elimination: Triggs et al., Bundle Adjustment - A Modern Synthesis (2000), section 6.1. Layouts without
such points take LAPACK's dense routines; tests hold the two together, and both against MINPACK.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.solution.model import Layout

Array = NDArray[np.float64]

# A step that moves all whitened rows together by less than this many standard uncertainties is the last.
SETTLED, SETTLED_DENSE = 1e-8, 1e-4
UNSEEN = 2e-5  # the same of a last step that is not looked at: what it does to the rows is what the Jacobian says
_FIRST_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-4, 1e-15, 1e8
_FIRST_DENSE, _DOUBT_DENSE = 1e-9, 1e-4  # whole steps of Gauss and Newton, until one of them does not help
SOON = 20  # evaluations: photographed rigs need four to ten
_TOLD = 1e-6  # of a sum of squares: a step that promises less tells nothing of the model
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Dense:
    """A Jacobian (R, parameters) as it is. size (parameters,): length of its columns; square: J'J of columns of length one."""

    jacobian: Array
    size: Array
    square: Array

    def step(self, residual: Array, damping: float) -> Array:
        """(parameters,) the Levenberg-Marquardt step, damped in proportion to the diagonal of J'J."""
        pull = (self.jacobian.T @ residual) / self.size
        damped = self.square.copy()
        damped.flat[:: len(self.size) + 1] += damping
        return np.asarray(-np.linalg.solve(damped, pull) / self.size, dtype=np.float64)


def dense(jacobian: Array) -> Dense:
    """The Jacobian (R, parameters) with what its steps need; a parameter that no row knows keeps its value."""
    square = jacobian.T @ jacobian
    size = np.sqrt(square.diagonal())
    size[size == 0.0] = 1.0
    return Dense(jacobian=jacobian, size=size, square=square / (size[:, None] * size))


def bordered(jacobian: Array, where: Layout) -> Bordered | None:
    """The Jacobian (R, parameters) taken apart; None where the layout has no such points, or a row touches two of them."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooted:
    """A Jacobian (R, parameters) with a root of the inverse of J'J: root @ root.T."""

    jacobian: Array
    root: Array

    def covariance(self) -> Array:
        """(parameters, parameters) the inverse of J'J."""
        return np.asarray(self.root @ self.root.T, dtype=np.float64)

    def leverage(self) -> Array:
        """(R,) by how much each row determines its own fitted value: the diagonal of J (J'J)^-1 J'."""
        return np.asarray(((self.jacobian @ self.root) ** 2).sum(axis=1), dtype=np.float64)


def factored(jacobian: Array, where: Layout) -> Bordered | Rooted:
    """The Jacobian (R, parameters) with what the inverse of J'J is had from."""
    parts = bordered(jacobian, where)
    if parts is not None:
        return parts
    return Rooted(jacobian=jacobian, root=np.linalg.inv(np.linalg.qr(jacobian, mode="r")))


def minimise(
    at: Callable[[Array], tuple[Array, Array]],
    where: Layout,
    start: Array,
    *,
    evaluations: int,
    settled: float | None = None,
) -> Array | None:
    """The parameters of the least sum of squares near `start`, by Levenberg-Marquardt; None where it is not found soon (a
    bent valley, which takes a better driver) and no points are to be eliminated.

    at: residuals (R,) and their Jacobian (R, parameters) at given parameters. settled: standard uncertainties by which the last
    step moves all rows together at most.
    """
    x = start.copy()
    residual, jacobian = at(x)
    parts: Bordered | Dense | None = bordered(jacobian, where)
    if parts is None:
        return _minimise_dense(at, x, residual, jacobian, settled or SETTLED_DENSE)
    damping, cost = _FIRST_DAMPING, float(residual @ residual)
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
        if moved < (settled or SETTLED) or damping > _MOST_DAMPING:
            break
    return x


def _minimise_dense(
    at: Callable[[Array], tuple[Array, Array]],
    x: Array,
    residual: Array,
    jacobian: Array,
    settled: float,
) -> Array | None:
    """The same without points: whole steps at first, and as the last gain was a large or a small share of what was promised.

    Source of the rule: K. Madsen, H. Nielsen, O. Tingleff, Methods for Non-Linear Least Squares Problems (2004), section 3.2
    (from memory); its numbers are those that needed the fewest evaluations of photographed rigs.
    """
    damping, growth, cost = _FIRST_DENSE, 2.0, float(residual @ residual)
    parts = dense(jacobian)
    for _ in range(SOON):
        try:
            step = parts.step(residual, damping)
        except np.linalg.LinAlgError:
            return None
        rows_by = jacobian @ step
        moved, foreseen = float(np.linalg.norm(rows_by)), residual + rows_by
        promised = cost - float(foreseen @ foreseen)
        if moved < min(settled, UNSEEN):
            return x + step
        new_residual, new_jacobian = at(x + step)
        new_cost = float(new_residual @ new_residual)
        if new_cost <= cost * (1.0 + _ROUNDING):
            gained = (cost - new_cost) / promised if promised > _TOLD else 1.0
            x, residual, jacobian, cost, growth = x + step, new_residual, new_jacobian, new_cost, 2.0
            parts = dense(jacobian)
            if gained < 0.25:
                damping = max(2.0 * damping, _DOUBT_DENSE)
            elif gained > 0.75:
                damping = max(damping / 10.0, _LEAST_DAMPING)
        else:
            growth *= 2.0
            damping = max(damping * growth, _DOUBT_DENSE)
        if moved < settled:
            return x
        if damping > _MOST_DAMPING:
            break
    return None
