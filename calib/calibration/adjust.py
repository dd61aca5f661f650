"""Least squares over numbers that all views share and six of a pose that each view has to itself.

Levenberg-Marquardt with Huber weights; the poses are eliminated block by block (the Schur complement), so the cost
grows with the number of views and not with its cube. References: Triggs et al., "Bundle adjustment - a modern
synthesis", 2000, section 6; P. J. Huber, "Robust statistics", 1981.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import distorted
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
class Stacked:
    """The points of all views one after the other, so that one call does for all: what does not hang on the numbers sought.

    object_mm (T, 3), image_px (T, 2), sigma_px (T,); parts: (V,) where each view's points lie among them.
    shapes: (T, 3) those of a bend; None where the object is taken as it is.
    """

    object_mm: Array
    image_px: Array
    sigma_px: Array
    parts: tuple[slice, ...]
    shapes: Array | None


def stacked(views: Sequence[PointsSeen], scheme: Shared) -> Stacked:
    """The views' points, and the shapes of the scheme's bend there."""
    ends = np.cumsum([0, *(len(view.image_px) for view in views)])
    object_mm = np.concatenate([view.object_mm for view in views])
    return Stacked(
        object_mm=object_mm,
        image_px=np.concatenate([view.image_px for view in views]),
        sigma_px=np.concatenate([view.sigma_px for view in views]),
        parts=tuple(slice(int(low), int(high)) for low, high in pairwise(ends)),
        shapes=None if scheme.bend is None else scheme.bend.shapes(object_mm),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearViews:
    """All views, whitened by their stated sigmas: residual (2T,), design (2T, 6 + q) of a view's pose and the shared numbers."""

    residual: Array
    design: Array


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


def _object_mm(seen: Stacked, shared: Array, scheme: Shared) -> Array:
    if seen.shapes is None:
        return seen.object_mm
    moved = seen.object_mm.copy()
    moved[:, 2] += seen.shapes @ scheme.bend_mm(shared)
    return moved


def residual(seen: Stacked, poses: Array, shared: Array, scheme: Shared) -> Array | None:
    """(2T,) whitened; None where a point is behind the camera or a number has run away."""
    intrinsics, object_mm = scheme.intrinsics(shared), _object_mm(seen, shared, scheme)
    if not (np.isfinite(poses).all() and np.isfinite(intrinsics).all() and intrinsics[:2].min() > 0):
        return None
    in_camera = np.empty_like(object_mm)
    for part, pose in zip(seen.parts, poses, strict=True):
        in_camera[part] = object_mm[part] @ cv2.Rodrigues(pose[:3])[0].T + pose[3:]
    x, y, z = in_camera.T
    if not z.min() > 0.0:
        return None
    off = np.stack(distorted(intrinsics[4:], x / z, y / z)[:2], axis=1) * intrinsics[:2] + intrinsics[2:4]
    found = np.asarray((seen.image_px - off) / seen.sigma_px[:, None], dtype=np.float64).ravel()
    return found if np.isfinite(found).all() else None


def linearise(seen: Stacked, poses: Array, shared: Array, scheme: Shared) -> LinearViews:
    """Residuals (2T,) and their design (2T, 6 + q) at poses (V, 6) and shared numbers (q,); derivatives are those of what is predicted."""
    intrinsics, object_mm = scheme.intrinsics(shared), _object_mm(seen, shared, scheme)
    matrix, lens = camera_matrix(intrinsics), intrinsics[4:]
    px, slopes = np.empty((2 * len(object_mm), 1)), np.empty((2 * len(object_mm), 15))  # by pose, then by intrinsics
    along_z = np.empty((len(object_mm), 3))
    for part, pose in zip(seen.parts, poses, strict=True):
        rows = slice(2 * part.start, 2 * part.stop)
        found, jacobian = cv2.projectPoints(object_mm[part], pose[:3], pose[3:], matrix, lens)
        px[rows], slopes[rows] = found.reshape(-1, 1), jacobian[:, :15]
        if seen.shapes is not None:
            along_z[part] = cv2.Rodrigues(pose[:3])[0][:, 2]
    design = [slopes[:, :6], slopes[:, 6:] @ scheme.basis]
    if seen.shapes is not None:
        # moving a point along the object's z moves it along the third column of the rotation in the camera's frame
        moved = (slopes[:, 3:6] * np.repeat(along_z, 2, axis=0)).sum(axis=1)
        design.append(moved[:, None] * np.repeat(seen.shapes, 2, axis=0))
    weight = 1.0 / np.repeat(seen.sigma_px, 2)
    return LinearViews(
        residual=(seen.image_px.ravel() - px[:, 0]) * weight, design=np.concatenate(design, axis=1) * weight[:, None]
    )


def _huber_weight(residual: Array, limit: float) -> Array:
    return np.asarray(limit / np.maximum(np.abs(residual), limit), dtype=np.float64)


def _huber_cost(residual: Array, limit: float) -> float:
    size = np.abs(residual)
    return float(np.where(size <= limit, size**2, 2 * limit * size - limit**2).sum())


def _total_cost(seen: Stacked, poses: Array, shared: Array, scheme: Shared, limit: float) -> float:
    found = residual(seen, poses, shared, scheme)
    if found is None:
        return math.inf
    return float((((shared - scheme.prior_mean) / scheme.prior_sigma) ** 2).sum()) + _huber_cost(found, limit)


def _assemble(seen: Stacked, line: LinearViews, shared: Array, scheme: Shared, limit: float) -> _Blocks:
    weighted = line.design * _huber_weight(line.residual, limit)[:, None]
    rows = [slice(2 * part.start, 2 * part.stop) for part in seen.parts]
    normal = np.stack([line.design[part].T @ weighted[part] for part in rows])  # (V, 6 + q, 6 + q)
    right = np.stack([line.residual[part] @ weighted[part] for part in rows])
    prior = scheme.prior_sigma**-2.0
    return _Blocks(
        parts=normal[:, 6:, 6:],
        shared=np.diag(prior) + normal[:, 6:, 6:].sum(axis=0),
        shared_rhs=prior * (scheme.prior_mean - shared) + right[:, 6:].sum(axis=0),
        own=normal[:, :6, :6],
        own_rhs=right[:, :6],
        coupling=normal[:, 6:, :6],
        scores=right[:, 6:],
    )


def _reduce(blocks: _Blocks, damping: float) -> tuple[Array, Array, Array]:
    """Reduced matrix (q, q), reduced right-hand side (q,), and per view own^-1 coupling^T (V, 6, q)."""
    diagonal = np.einsum("vii->vi", blocks.own)
    own = blocks.own.copy()
    np.einsum("vii->vi", own)[...] += damping * diagonal + 1e-12 * diagonal.max(initial=1e-30)
    eliminated = np.asarray(np.linalg.solve(own, np.swapaxes(blocks.coupling, 1, 2)), dtype=np.float64)
    matrix: Array = (
        blocks.shared
        + damping * np.diag(np.diag(blocks.shared))
        - np.einsum("vqi,vir->qr", blocks.coupling, eliminated)
    )
    rhs: Array = blocks.shared_rhs - np.einsum("viq,vi->q", eliminated, blocks.own_rhs)
    return matrix, rhs, eliminated


def _step(blocks: _Blocks, damping: float) -> tuple[Array, Array] | None:
    try:
        matrix, rhs, eliminated = _reduce(blocks, damping)
        scale = 1.0 / np.sqrt(np.maximum(np.diag(matrix), 1e-30))
        shared_step = scale * np.linalg.solve(matrix * np.outer(scale, scale), scale * rhs)
        own = blocks.own.copy()
        np.einsum("vii->vi", own)[...] *= 1.0 + damping
        own_step = np.linalg.solve(own, blocks.own_rhs[..., None])[..., 0] - eliminated @ shared_step
    except np.linalg.LinAlgError:
        return None
    return shared_step, own_step


def _descend(
    seen: Stacked,
    poses: Array,
    shared: Array,
    scheme: Shared,
    limit: float,
    steps: int,
    enough: Callable[[tuple[Array, Array], float], bool] | None = None,
) -> Descended[tuple[Array, Array]]:
    """From poses and shared numbers to those of the least cost."""

    def cost(state: tuple[Array, Array]) -> float:
        return _total_cost(seen, *state, scheme, limit)

    def steps_from(state: tuple[Array, Array]) -> Callable[[float], tuple[Array, Array] | None]:
        blocks = _assemble(seen, linearise(seen, *state, scheme), state[1], scheme, limit)

        def step(damping: float) -> tuple[Array, Array] | None:
            move = _step(blocks, damping)
            return None if move is None else (state[0] + move[1], state[1] + move[0])

        return step

    return descend(
        (poses, shared), cost, steps_from, damping=_DAMPING, steps=steps, least_gain=_LEAST_GAIN, enough=enough
    )


def noise_scale(residuals: Sequence[Array]) -> float:
    """Robust scale of whitened residuals: 1.4826 times the median absolute value (Huber 1981), never quite zero."""
    return max(1.4826 * float(np.median(np.abs(np.concatenate([r.ravel() for r in residuals])))), SMALLEST_NOISE)


def adjust(
    views: Sequence[PointsSeen],
    poses: Array,
    shared: Array,
    scheme: Shared,
    *,
    steps: int = MOST_STEPS,
    known: Callable[[Array, float], bool] | None = None,
) -> Adjusted | None:
    """Adjust `shared` (q,) and `poses` (V, 6) to the views; None where the start sees a point from behind.

    known: whether shared numbers of this cost lead to where somebody has been already: None then, too.
    """
    seen = stacked(views, scheme)
    found = _settled(seen, poses, shared, scheme, steps, known)
    return None if found is None else _summary(seen, scheme, *found)


def adjusted_shared(
    views: Sequence[PointsSeen], poses: Array, shared: Array, scheme: Shared
) -> tuple[Array, float] | None:
    """The shared numbers (q,) of `adjust` and their robust cost, where nothing else is wanted: a fifth less time."""
    found = _settled(stacked(views, scheme), poses, shared, scheme, MOST_STEPS, None)
    return None if found is None else (found[1], found[3])


def _settled(
    seen: Stacked,
    poses: Array,
    shared: Array,
    scheme: Shared,
    steps: int,
    known: Callable[[Array, float], bool] | None,
) -> tuple[Array, Array, float, float, bool] | None:
    """Poses, shared numbers, limit of the weights, cost, and whether the last descent converged."""

    def enough(state: tuple[Array, Array], cost: float) -> bool:
        return known is not None and known(state[1], cost)

    limit, cost, converged = math.inf, math.inf, False
    for _ in range(4):
        whitened = residual(seen, poses, shared, scheme)
        if whitened is None:
            return None
        before, limit = limit, HUBER * noise_scale([whitened])
        if abs(limit / before - 1.0) < STEADY:
            break
        found = _descend(seen, poses, shared, scheme, limit, steps, enough)
        if enough(found.state, found.cost):
            return None
        (poses, shared), cost, converged = found.state, found.cost, found.converged
    return poses, shared, limit, cost, converged


def _summary(
    seen: Stacked, scheme: Shared, poses: Array, shared: Array, limit: float, cost: float, converged: bool
) -> Adjusted:
    line = linearise(seen, poses, shared, scheme)
    blocks = _assemble(seen, line, shared, scheme, limit)
    normal, _, eliminated = _reduce(blocks, 0.0)
    weighted = float((_huber_weight(line.residual, limit) * line.residual**2).sum())
    off_px = line.residual.reshape(-1, 2) * seen.sigma_px[:, None]
    freedom = max(len(line.residual) - len(shared) - 6 * len(poses), 1)
    return Adjusted(
        shared=shared,
        poses=poses,
        residuals=tuple(off_px[part] for part in seen.parts),
        noise=max(float(np.sqrt(weighted / freedom)), SMALLEST_NOISE),
        normal=normal,
        scores=blocks.scores,
        shares=blocks.parts - np.einsum("vqi,vir->vqr", blocks.coupling, eliminated),
        cost=cost,
        converged=converged,
    )
