"""Least squares over numbers that all views share and six of a pose that each view has to itself.

Levenberg-Marquardt with Huber weights; the poses are eliminated block by block (the Schur complement), so the cost
grows with the number of views and not with its cube. References: Triggs et al., "Bundle adjustment - a modern
synthesis", 2000, section 6; P. J. Huber, "Robust statistics", 1981.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix as camera_matrix
from calib.camera.views import PointsSeen
from calib.fit.descent import Damping, Descended, descend

Array = NDArray[np.float64]

HUBER = 3.0  # noise sigmas of one coordinate beyond which a residual pulls no harder
MOST_STEPS = 60
STEADY = 0.02  # change of the noise scale below which the weights are left as they are
_DAMPING, _LEAST_GAIN = Damping(factor=8.0, most=1e10), 1e-9
SMALLEST_NOISE = 1e-9  # of the stated sigma: exact synthetic points must not divide by zero


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjectBend:
    """An object that is not flat, to second order.

    z += a x^2 + b x y + c y^2, with x and y counted from `centre_mm` in units of `reach_mm`.
    """

    centre_mm: Array  # (2,)
    reach_mm: float

    def shapes(self, object_mm: Array) -> Array:
        """(N, 3) the three shapes at the object's points."""
        x, y = ((object_mm[:, :2] - self.centre_mm) / self.reach_mm).T
        return np.column_stack([x * x, x * y, y * y])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """The shared numbers as a linear map: intrinsics = base + basis @ q[:p], with a loose normal prior on q.

    base:         (9,) values where q is zero.
    basis:        (9, p).
    prior_mean:   (p + b,) where the prior pulls to.
    prior_sigma:  (p + b,) how hard; infinity where it does not.
    bend:         where given, three amounts in mm follow the p numbers in q (b = 3), otherwise b = 0.
    """

    base: Array
    basis: Array
    prior_mean: Array
    prior_sigma: Array
    bend: ObjectBend | None = None

    def intrinsics(self, shared: Array) -> Array:
        """(9,) from the shared numbers (p + b,)."""
        return np.asarray(self.base + self.basis @ shared[: self.basis.shape[1]], dtype=np.float64)

    def bend_mm(self, shared: Array) -> Array:
        """(3,) amounts of the bend; empty where the object is taken as it is."""
        return shared[self.basis.shape[1] :]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusted:
    """Where the adjustment ended.

    shared:      (q,) shared numbers; poses: (V, 6) rotation vector and translation mm, camera from object.
    residuals:   per view (N, 2) seen minus predicted, px.
    noise:       factor on the stated sigmas that the residuals show (degrees of freedom counted).
    normal:      (q, q) reduced normal matrix for a noise factor of 1; noise^2 times its inverse is the covariance.
    scores:      (V, q) each view's own pull on the shared numbers at the end.
    shares:      (V, q, q) each view's part of the reduced normal matrix.
    cost:        robust cost at the end, in squared stated sigmas.
    converged:   False where the steps ran out.
    """

    shared: Array
    poses: Array
    residuals: tuple[Array, ...]
    noise: float
    normal: Array
    scores: Array
    shares: Array
    cost: float
    converged: bool

    def matrices(self) -> list[tuple[Array, Array]]:
        """Per view the rotation matrix (3, 3) and translation (3,) mm, camera from object."""
        return [(np.asarray(cv2.Rodrigues(pose[:3])[0], dtype=np.float64), pose[3:]) for pose in self.poses]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Linear:
    """One view, whitened by its stated sigmas: residual (2N,), designs of shared numbers (2N, q) and pose (2N, 6)."""

    residual: Array
    shared: Array
    pose: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """The normal equations: own blocks, coupling and right-hand sides per view; the shared part summed."""

    parts: Array  # (V, q, q)
    shared: Array  # (q, q)
    shared_rhs: Array  # (q,)
    own: Array  # (V, 6, 6)
    own_rhs: Array  # (V, 6)
    coupling: Array  # (V, q, 6)
    scores: Array  # (V, q)


def _object_mm(view: PointsSeen, shared: Array, scheme: Shared) -> Array:
    if scheme.bend is None:
        return view.object_mm
    moved = view.object_mm.copy()
    moved[:, 2] += scheme.bend.shapes(view.object_mm) @ scheme.bend_mm(shared)
    return moved


def _residual(view: PointsSeen, pose: Array, shared: Array, scheme: Shared) -> Array | None:
    """(2N,) whitened; None where a point is behind the camera or a number has run away."""
    intrinsics, object_mm = scheme.intrinsics(shared), _object_mm(view, shared, scheme)
    if not (np.isfinite(pose).all() and np.isfinite(intrinsics).all() and intrinsics[:2].min() > 0):
        return None
    if (object_mm @ cv2.Rodrigues(pose[:3])[0][2] + pose[5] <= 0).any():
        return None
    seen = cv2.projectPoints(object_mm, pose[:3], pose[3:], camera_matrix(intrinsics), intrinsics[4:])[0]
    residual = (view.image_px - seen.reshape(-1, 2)).ravel() / np.repeat(view.sigma_px, 2)
    return residual if np.isfinite(residual).all() else None


def _linearise(view: PointsSeen, pose: Array, shared: Array, scheme: Shared) -> _Linear:
    intrinsics, object_mm = scheme.intrinsics(shared), _object_mm(view, shared, scheme)
    seen, jacobian = cv2.projectPoints(object_mm, pose[:3], pose[3:], camera_matrix(intrinsics), intrinsics[4:])
    weight = 1.0 / np.repeat(view.sigma_px, 2)
    design = jacobian[:, 6:15] @ scheme.basis
    if scheme.bend is not None:
        # moving a point along the object's z moves it along the third column of the rotation in the camera's frame
        along_z = jacobian[:, 3:6] @ cv2.Rodrigues(pose[:3])[0][:, 2]
        design = np.hstack([design, along_z[:, None] * np.repeat(scheme.bend.shapes(view.object_mm), 2, axis=0)])
    return _Linear(
        residual=(view.image_px - seen.reshape(-1, 2)).ravel() * weight,
        shared=design * weight[:, None],
        pose=jacobian[:, :6] * weight[:, None],
    )


def _huber_weight(residual: Array, limit: float) -> Array:
    return np.asarray(limit / np.maximum(np.abs(residual), limit), dtype=np.float64)


def _huber_cost(residual: Array, limit: float) -> float:
    size = np.abs(residual)
    return float(np.where(size <= limit, size**2, 2 * limit * size - limit**2).sum())


def _total_cost(views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared, limit: float) -> float:
    prior = ((shared - scheme.prior_mean) / scheme.prior_sigma) ** 2
    cost = float(prior.sum())
    for view, pose in zip(views, poses, strict=True):
        residual = _residual(view, pose, shared, scheme)
        if residual is None:
            return float("inf")
        cost += _huber_cost(residual, limit)
    return cost


def _assemble(views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared, limit: float) -> _Blocks:
    count, size = len(views), len(shared)
    own, own_rhs = np.zeros((count, 6, 6)), np.zeros((count, 6))
    coupling, scores = np.zeros((count, size, 6)), np.zeros((count, size))
    prior = scheme.prior_sigma**-2.0
    parts, rhs = np.zeros((count, size, size)), prior * (scheme.prior_mean - shared)
    for index, (view, pose) in enumerate(zip(views, poses, strict=True)):
        line = _linearise(view, pose, shared, scheme)
        weight = _huber_weight(line.residual, limit)
        weighted_pose, weighted_shared = line.pose * weight[:, None], line.shared * weight[:, None]
        own[index] = line.pose.T @ weighted_pose
        own_rhs[index] = weighted_pose.T @ line.residual
        coupling[index] = line.shared.T @ weighted_pose
        scores[index] = weighted_shared.T @ line.residual
        parts[index] = line.shared.T @ weighted_shared
        rhs = rhs + scores[index]
    total = np.diag(prior) + parts.sum(axis=0)
    return _Blocks(
        parts=parts, shared=total, shared_rhs=rhs, own=own, own_rhs=own_rhs, coupling=coupling, scores=scores
    )


def _reduce(blocks: _Blocks, damping: float) -> tuple[Array, Array, Array]:
    """Reduced matrix (q, q), reduced right-hand side (q,), and per view own^-1 coupling^T (V, 6, q)."""
    diagonal = np.einsum("vii->vi", blocks.own)
    own = blocks.own + np.einsum("vi,ij->vij", damping * diagonal + 1e-12 * diagonal.max(initial=1e-30), np.eye(6))
    eliminated = np.linalg.solve(own, np.swapaxes(blocks.coupling, 1, 2))
    matrix = (
        blocks.shared
        + damping * np.diag(np.diag(blocks.shared))
        - np.einsum("vqi,vir->qr", blocks.coupling, eliminated)
    )
    rhs = blocks.shared_rhs - np.einsum("viq,vi->q", eliminated, blocks.own_rhs)
    return matrix, rhs, eliminated


def _step(blocks: _Blocks, damping: float) -> tuple[Array, Array] | None:
    try:
        matrix, rhs, eliminated = _reduce(blocks, damping)
        scale = 1.0 / np.sqrt(np.maximum(np.diag(matrix), 1e-30))
        shared_step = scale * np.linalg.solve(matrix * np.outer(scale, scale), scale * rhs)
        own = blocks.own + damping * np.einsum("vi,ij->vij", np.einsum("vii->vi", blocks.own), np.eye(6))
        own_step = np.linalg.solve(own, blocks.own_rhs[..., None])[..., 0] - eliminated @ shared_step
    except np.linalg.LinAlgError:
        return None
    return shared_step, own_step


def _descend(
    views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared, limit: float, steps: int
) -> Descended[tuple[Array, Array]]:
    """From poses and shared numbers to those of the least cost."""

    def cost(state: tuple[Array, Array]) -> float:
        return _total_cost(views, *state, scheme, limit)

    def steps_from(state: tuple[Array, Array]) -> Callable[[float], tuple[Array, Array] | None]:
        blocks = _assemble(views, *state, scheme, limit)

        def step(damping: float) -> tuple[Array, Array] | None:
            move = _step(blocks, damping)
            return None if move is None else (state[0] + move[1], state[1] + move[0])

        return step

    return descend((poses, shared), cost, steps_from, damping=_DAMPING, steps=steps, least_gain=_LEAST_GAIN)


def noise_scale(residuals: Sequence[Array]) -> float:
    """Robust scale of whitened residuals: 1.4826 times the median absolute value (Huber 1981), never quite zero."""
    return max(1.4826 * float(np.median(np.abs(np.concatenate([r.ravel() for r in residuals])))), SMALLEST_NOISE)


def adjust(
    views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared, *, steps: int = MOST_STEPS
) -> Adjusted | None:
    """Adjust `shared` (q,) and `poses` (V, 6) to the views; None where the start sees a point from behind."""
    limit, cost, converged = math.inf, math.inf, False
    for _ in range(4):
        whitened = [_residual(view, pose, shared, scheme) for view, pose in zip(views, poses, strict=True)]
        if any(residual is None for residual in whitened):
            return None
        before, limit = limit, HUBER * noise_scale([residual for residual in whitened if residual is not None])
        if abs(limit / before - 1.0) < STEADY:
            break
        found = _descend(views, poses, shared, scheme, limit, steps)
        (poses, shared), cost, converged = found.state, found.cost, found.converged
    return _summary(views, poses, shared, scheme, limit, cost, converged)


def _summary(
    views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared, limit: float, cost: float, converged: bool
) -> Adjusted:
    blocks = _assemble(views, poses, shared, scheme, limit)
    normal, _, eliminated = _reduce(blocks, 0.0)
    residuals, weighted = [], 0.0
    for view, pose in zip(views, poses, strict=True):
        line = _linearise(view, pose, shared, scheme)
        residuals.append((line.residual * np.repeat(view.sigma_px, 2)).reshape(-1, 2))
        weighted += float((_huber_weight(line.residual, limit) * line.residual**2).sum())
    freedom = max(2 * sum(len(view.image_px) for view in views) - len(shared) - 6 * len(views), 1)
    return Adjusted(
        shared=shared,
        poses=poses,
        residuals=tuple(residuals),
        noise=max(float(np.sqrt(weighted / freedom)), SMALLEST_NOISE),
        normal=normal,
        scores=blocks.scores,
        shares=blocks.parts - np.einsum("vqi,vir->vqr", blocks.coupling, eliminated),
        cost=cost,
        converged=converged,
    )
