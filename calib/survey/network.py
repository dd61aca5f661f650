"""The numbers of a survey and their least squares: points, marker sides, camera poses, one camera; robust.

Observations: pixels; each marker is a flat square of unknown side; taped distances; heights; gauge. Every observation
has its own standard uncertainty; the pixels' is estimated. Normal equations are filled photograph by photograph.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix
from calib.fit.descent import Damping, descend

Array = NDArray[np.float64]
RowNumbers = NDArray[np.int64]

HUBER = 3.0
_DAMPING = Damping(factor=6.0, most=1e8)
SQUARE_U_MM = 0.4  # how square and flat a stuck-up print is: common practice, no source
_PAIRS = ((0, 1, 1.0), (1, 2, 1.0), (2, 3, 1.0), (3, 0, 1.0), (0, 2, math.sqrt(2.0)), (1, 3, math.sqrt(2.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one photograph shows: rows of `Unknowns.points`, pixels (N, 2), sigmas (N,).

    inwards: (N, 2) how a corner's pixel moves where the picture shows each edge of a marker 1 px inside its place.
    scaled:  (N,) True where the scale of sigma is estimated (corners), False where sigma stands as given (picks).
    """

    points: RowNumbers
    px: Array
    sigma_px: Array
    inwards: Array
    scaled: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """The unknowns. points (P, 3) mm; sides (M,) mm, marker m has points 4 m to 4 m + 3; poses (V, 6); lens (r,).

    lens: standard normal numbers of the intrinsics, and after them, where `Observed.inset_u_px` says so, of the inset.
    """

    points: Array
    sides: Array
    poses: Array
    lens: Array

    @property
    def sizes(self) -> tuple[int, int, int, int]:
        """How many numbers points, sides, poses and lens have, in that order of the unknowns' vector."""
        return self.points.size, self.sides.size, self.poses.size, self.lens.size

    def moved(self, step: Array) -> Unknowns:
        """The state after a step of all unknowns, in the order points, sides, poses, lens."""
        points, sides, poses, lens = np.split(step, np.cumsum(self.sizes)[:3])
        return Unknowns(
            points=self.points + points.reshape(-1, 3),
            sides=self.sides + sides,
            poses=self.poses + poses.reshape(-1, 6),
            lens=self.lens + lens,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearRow:
    """A scalar observation linearised: value minus model, over u; its derivatives over u (columns, values)."""

    residual: float
    columns: RowNumbers
    slopes: Array


Extra = Callable[[Unknowns], list[LinearRow]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """All observations. lens_mean (9,), lens_basis (9, r): intrinsics = mean + basis q, q standard normal.

    extra: tapes, heights, gauge: functions of the state. sigma: factor on the pixels' sigmas.
    inset_u_px: standard uncertainty of how far inside their places all markers' edges are seen; 0 where it is not
        solved for.
    """

    photos: tuple[Seen, ...]
    lens_mean: Array
    lens_basis: Array
    extra: tuple[Extra, ...] = field(default=())
    sigma: float = 1.0
    inset_u_px: float = 0.0

    def intrinsics(self, lens: Array) -> Array:
        """(9,) from the state's `lens`."""
        used = self.lens_basis.shape[1]
        return np.asarray(self.lens_mean + self.lens_basis @ lens[:used], dtype=np.float64)

    def sigmas_px(self, seen: Seen) -> Array:
        """(N,) standard deviations that `seen` is weighed by."""
        return np.where(seen.scaled, self.sigma, 1.0) * seen.sigma_px

    def inset_px(self, lens: Array) -> float:
        """From the state's `lens`."""
        return self.inset_u_px * float(lens[-1]) if self.inset_u_px > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkSolution:
    """state; normal: matrix of all unknowns at the end; misses: per photograph (N, 2) seen minus predicted, px."""

    state: Unknowns
    normal: Array
    misses: tuple[Array, ...]
    converged: bool


def _project(seen: Seen, state: Unknowns, pose: Array, observed: Observed) -> tuple[Array, Array] | None:
    """Misses (N, 2) and OpenCV's derivatives (2 N, 15); None where a point is behind the camera."""
    intrinsics = observed.intrinsics(state.lens)
    points = state.points[seen.points]
    rotation = cv2.Rodrigues(pose[:3])[0]
    if not np.isfinite(pose).all() or (points @ rotation[2] + pose[5] <= 1e-6).any():
        return None
    px, slopes = cv2.projectPoints(points, pose[:3], pose[3:], matrix(intrinsics), intrinsics[4:])
    miss = seen.px - px.reshape(-1, 2) - observed.inset_px(state.lens) * seen.inwards
    return (miss, np.asarray(slopes, dtype=np.float64)) if np.isfinite(miss).all() else None


def _huber(size: Array) -> tuple[float, Array]:
    """Cost and weights of whitened residuals."""
    weight = HUBER / np.maximum(size, HUBER)
    return float(np.where(size <= HUBER, size**2, 2 * HUBER * size - HUBER**2).sum()), weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Squares:
    """How square every marker is, over SQUARE_U_MM: residuals (M, 6), their slopes (M, 6, 13), and where those are (M, 13)."""

    residual: Array
    slopes: Array
    columns: RowNumbers


def squares(state: Unknowns) -> Squares:
    """Each marker's four sides are one number and its two diagonals root two of it: a flat square of any size."""
    corners = state.points[: 4 * len(state.sides)].reshape(-1, 4, 3)
    first, second = (np.array([pair[end] for pair in _PAIRS]) for end in (0, 1))
    factors = np.array([pair[2] for pair in _PAIRS])
    offset = corners[:, second] - corners[:, first]  # (M, 6, 3)
    length = np.linalg.norm(offset, axis=2)
    unit = offset / np.maximum(length, 1e-9)[..., None]
    slopes = np.zeros((len(corners), len(_PAIRS), 13))
    for axis in range(3):
        slopes[:, range(len(_PAIRS)), 3 * first + axis] = -unit[..., axis]
        slopes[:, range(len(_PAIRS)), 3 * second + axis] = unit[..., axis]
    slopes[..., 12] = -factors
    markers = np.arange(len(corners))[:, None]
    return Squares(
        residual=(factors * state.sides[:, None] - length) / SQUARE_U_MM,
        slopes=slopes / SQUARE_U_MM,
        columns=np.concatenate([12 * markers + np.arange(12), state.points.size + markers], axis=1),
    )


def distance(state: Unknowns, a: int, b: int) -> LinearRow:
    """The distance between two points (in `residual`) and its derivatives, not yet compared with anything."""
    offset = state.points[b] - state.points[a]
    length = float(np.linalg.norm(offset))
    unit = offset / max(length, 1e-9)
    columns = np.concatenate([3 * a + np.arange(3), 3 * b + np.arange(3)])
    return LinearRow(residual=length, columns=columns, slopes=np.concatenate([-unit, unit]))


def _scalars(state: Unknowns, observed: Observed) -> list[LinearRow]:
    lines: list[LinearRow] = []
    for extra in observed.extra:
        lines += extra(state)
    first = state.points.size + state.sides.size + state.poses.size
    lines += [
        LinearRow(residual=-float(q), columns=np.array([first + i]), slopes=np.ones(1))
        for i, q in enumerate(state.lens)
    ]
    return lines


def _cost(state: Unknowns, observed: Observed) -> float:
    scalars = np.array([line.residual for line in _scalars(state, observed)])
    total = _huber(np.abs(np.concatenate([squares(state).residual.ravel(), scalars])))[0]
    for seen, pose in zip(observed.photos, state.poses, strict=True):
        projected = _project(seen, state, pose, observed)
        if projected is None:
            return math.inf
        total += _huber(np.linalg.norm(projected[0], axis=1) / observed.sigmas_px(seen))[0]
    return total


def _normal(state: Unknowns, observed: Observed) -> tuple[Array, Array]:
    points, sides, poses, lens = state.sizes
    size = points + sides + poses + lens
    normal, rhs = np.zeros((size, size)), np.zeros(size)
    for number, (seen, pose) in enumerate(zip(observed.photos, state.poses, strict=True)):
        projected = _project(seen, state, pose, observed)
        if projected is None:
            continue
        miss, slopes = projected
        sigma = observed.sigmas_px(seen)
        weight = np.repeat(np.sqrt(_huber(np.linalg.norm(miss, axis=1) / sigma)[1]) / sigma, 2)
        by_point = (slopes[:, 3:6] @ cv2.Rodrigues(pose[:3])[0] * weight[:, None]).reshape(-1, 2, 3)
        own = [slopes[:, :6], slopes[:, 6:15] @ observed.lens_basis]
        if observed.inset_u_px > 0:
            own.append(observed.inset_u_px * seen.inwards.reshape(-1, 1))
        by_others = np.concatenate(own, axis=1) * weight[:, None]
        right = miss.ravel() * weight
        of_points = 3 * seen.points[:, None] + np.arange(3)
        others = np.concatenate([points + sides + 6 * number + np.arange(6), points + sides + poses + np.arange(lens)])
        turned = by_point.transpose(0, 2, 1)
        mixed = (turned @ by_others.reshape(len(by_point), 2, -1)).reshape(of_points.size, -1)
        # a corner is seen by its own two numbers: no two points meet in a photograph
        normal[of_points[:, :, None], of_points[:, None, :]] += turned @ by_point
        normal[np.ix_(of_points.ravel(), others)] += mixed
        normal[np.ix_(others, of_points.ravel())] += mixed.T
        normal[np.ix_(others, others)] += by_others.T @ by_others
        rhs[of_points] += (turned @ right.reshape(-1, 2, 1))[..., 0]
        rhs[others] += by_others.T @ right
    square = squares(state)
    weighted = square.slopes * (HUBER / np.maximum(np.abs(square.residual), HUBER))[..., None]
    # no two markers share a number
    normal[square.columns[:, :, None], square.columns[:, None, :]] += square.slopes.transpose(0, 2, 1) @ weighted
    rhs[square.columns] += (weighted.transpose(0, 2, 1) @ square.residual[..., None])[..., 0]
    for line in _scalars(state, observed):
        weight_of_line = HUBER / max(abs(line.residual), HUBER)
        normal[np.ix_(line.columns, line.columns)] += weight_of_line * np.outer(line.slopes, line.slopes)
        rhs[line.columns] += weight_of_line * line.slopes * line.residual
    return normal, rhs


def adjust_network(state: Unknowns, observed: Observed, *, steps: int = 40, tolerance: float = 1e-7) -> NetworkSolution:
    """Levenberg-Marquardt with Huber weights from `state`."""

    def steps_from(at: Unknowns) -> Callable[[float], Unknowns | None]:
        normal, rhs = _normal(at, observed)
        diagonal = np.diag(normal)

        def step(damping: float) -> Unknowns | None:
            try:
                move = np.linalg.solve(normal + np.diag((damping + 1e-12) * diagonal + 1e-12), rhs)
            except np.linalg.LinAlgError:
                return None
            return at.moved(np.asarray(move, dtype=np.float64))

        return step

    found = descend(
        state, lambda at: _cost(at, observed), steps_from, damping=_DAMPING, steps=steps, least_gain=tolerance
    )
    state, converged = found.state, found.converged
    normal, _ = _normal(state, observed)
    misses = []
    for seen, pose in zip(observed.photos, state.poses, strict=True):
        projected = _project(seen, state, pose, observed)
        misses.append(projected[0] if projected is not None else np.full((len(seen.points), 2), np.inf))
    return NetworkSolution(state=state, normal=normal, misses=tuple(misses), converged=converged)


def pixel_scale(adjustment: NetworkSolution, observed: Observed) -> float:
    """The factor on the stated sigmas that the pixels show: robust, by the median distance (Rayleigh: 1.1774 sigma)."""
    sizes = [
        (np.linalg.norm(miss, axis=1) / seen.sigma_px)[seen.scaled]
        for miss, seen in zip(adjustment.misses, observed.photos, strict=True)
    ]
    return max(float(np.median(np.concatenate(sizes))) / 1.1774, 1e-6)


def pixel_noise_px(adjustment: NetworkSolution, observed: Observed) -> float:
    """Standard deviation of one pixel coordinate of a marker's corner, the same way."""
    pairs = zip(adjustment.misses, observed.photos, strict=True)
    return (
        float(np.median(np.concatenate([np.linalg.norm(miss[seen.scaled], axis=1) for miss, seen in pairs]))) / 1.1774
    )


def with_extra(observed: Observed, extra: Sequence[Extra], sigma: float) -> Observed:
    """The same photographs with other observations beside them."""
    return replace(observed, extra=tuple(extra), sigma=sigma)
