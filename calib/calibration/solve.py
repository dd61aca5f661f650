"""Intrinsics of a camera from views of a known object: start each view by its pose, then solve robustly.

A closed-form start from homographies and a descent from there can end in a bad minimum; here the focal length is
tried over the whole range that cameras have, each view's pose is solved for each, both planar poses are compared, and
only then are more numbers set free.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.calibration.adjust import Adjusted, ObjectBend, Shared, adjust
from calib.camera.camera import matrix as camera_matrix
from calib.camera.lens_models import LENS_MODELS, PRINCIPAL_POINT_SHARE, LensModel
from calib.camera.views import PointsSeen, is_planar

Array = NDArray[np.float64]

# A mirrored pose whose points miss by this many times the better one's is of a plainly wrong tilt. Refined, it came to the
# better one's own optimum or to one far worse, never to another that is better (120 drawn views; the factor is judgement)
PLAINLY_WORSE = 10.0
# From a focal length this near to a solution's (a share), at no more than so many times its cost, a descent ends where the
# solution is: so in each of 100 drawn sets with all kinds of faults (tests/experiments/focal_starts.py)
SAME_FOCAL, SAME_COST = 0.02, 4.0
# Focal lengths in units of the longer side: 0.45 is a 96-degree ultra-wide, 6 a long tele.
FOCAL_STARTS = (0.45, 0.65, 0.85, 1.15, 1.6, 2.4, 4.0, 6.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """One lens model solved over a set of views.

    intrinsics:  (9,); covariance: (9, 9), both in the order of `calib.camera.camera.INTRINSICS`; terms held at zero have no
        variance.
    clustering:  largest variance factor >= 1 by which views disagree with each other more than their points' noise
        explains.
    """

    model: LensModel
    intrinsics: Array
    covariance: Array
    clustering: float
    adjusted: Adjusted

    def view_rms_px(self) -> Array:
        """(V,) root mean square distance of each view's points, px."""
        return np.array([math.sqrt(float((r**2).sum(axis=1).mean())) for r in self.adjusted.residuals])

    def rms_px(self) -> float:
        """Root mean square distance over all points, px (distance, not one coordinate: as OpenCV reports it)."""
        return math.sqrt(float(np.mean(np.concatenate([(r**2).sum(axis=1) for r in self.adjusted.residuals]))))


def shared_scheme(model: LensModel, size_px: tuple[int, int], bend: ObjectBend | None = None) -> Shared:
    """The shared numbers of `model`: the principal point loosely held to the middle, everything else free."""
    width, height = size_px
    basis = model.basis()
    count = basis.shape[1] + (3 if bend is not None else 0)
    mean, sigma = np.zeros(count), np.full(count, np.inf)
    focals = 1 if model.one_focal else 2
    mean[focals : focals + 2] = (width - 1) / 2, (height - 1) / 2
    sigma[focals : focals + 2] = PRINCIPAL_POINT_SHARE * max(width, height)
    return Shared(base=np.zeros(9), basis=basis, prior_mean=mean, prior_sigma=sigma, bend=bend)


def _as_shared(scheme: Shared, intrinsics: Array) -> Array:
    """(p,) the shared numbers nearest to nine `intrinsics`."""
    return np.asarray(np.linalg.lstsq(scheme.basis, intrinsics, rcond=None)[0], dtype=np.float64)


def starting_intrinsics(focal_px: float, size_px: tuple[int, int]) -> Array:
    """(9,) a camera without distortion that looks through the middle of the frame."""
    width, height = size_px
    return np.array([focal_px, focal_px, (width - 1) / 2, (height - 1) / 2, 0, 0, 0, 0, 0], dtype=np.float64)


def candidate_poses(view: PointsSeen, intrinsics: Array) -> list[Array]:
    """Poses (6,) that explain `view`, best first, both planar ones where the object is flat; empty where none does."""
    return [pose for _, pose in _with_errors(view, intrinsics)]


def _with_errors(view: PointsSeen, intrinsics: Array) -> list[tuple[float, Array]]:
    """The same with the median distance of each, px."""
    flag = cv2.SOLVEPNP_IPPE if is_planar(view.object_mm) else cv2.SOLVEPNP_SQPNP
    matrix, distortion = camera_matrix(intrinsics), intrinsics[4:]
    try:
        _, rotations, translations, _ = cv2.solvePnPGeneric(
            view.object_mm, view.image_px, matrix, distortion, flags=flag
        )
    except cv2.error:
        return []
    found: list[tuple[float, Array]] = []
    for rotation, translation in zip(rotations, translations, strict=True):
        pose = np.concatenate([rotation.ravel(), translation.ravel()])
        error = _pose_error(view, pose, intrinsics)
        if math.isfinite(error):
            found.append((error, pose))
    return sorted(found, key=lambda pair: pair[0])


def _pose_error(view: PointsSeen, pose: Array, intrinsics: Array) -> float:
    """Median distance, px; infinity where a point would be behind the camera."""
    if not np.isfinite(pose).all() or (view.object_mm @ cv2.Rodrigues(pose[:3])[0][2] + pose[5] <= 0).any():
        return math.inf
    seen = cv2.projectPoints(view.object_mm, pose[:3], pose[3:], camera_matrix(intrinsics), intrinsics[4:])[0]
    return float(np.median(np.linalg.norm(view.image_px - seen.reshape(-1, 2), axis=1)))


def solve_pose(view: PointsSeen, intrinsics: Array) -> Adjusted | None:
    """One view's pose with the camera known, intrinsics (9,): both planar solutions refined where both may be right, the better one kept."""
    scheme = Shared(base=intrinsics, basis=np.zeros((9, 0)), prior_mean=np.zeros(0), prior_sigma=np.zeros(0))
    found = _with_errors(view, intrinsics)
    rivals = [pose for error, pose in found if error <= PLAINLY_WORSE * found[0][0]]
    tried = [adjust([view], pose[None, :], np.zeros(0), scheme) for pose in rivals]
    solved = [result for result in tried if result is not None]
    return min(solved, key=lambda result: float((result.residuals[0] ** 2).sum()), default=None)


def solve_intrinsics(
    views: Sequence[PointsSeen],
    size_px: tuple[int, int],
    *,
    focal_px: float | None = None,
    model: LensModel = LENS_MODELS[-1],
    start: Solved | None = None,
) -> Solved | None:
    """Solve `model` over `views`.

    size_px:   (width, height) of the pictures.
    focal_px:  where the EXIF data give one, tried first among the starts.
    start:     a solution over the same views to start from, instead of searching.
    Returns None where no start leads to a camera that sees the object from in front.
    """
    start = start if start is not None else _search(views, size_px, focal_px)
    if start is None:
        return None
    solved = start
    for step in _ladder(start.model, model):
        scheme = shared_scheme(step, size_px)
        shared = _as_shared(scheme, solved.intrinsics)
        adjusted = adjust(views, _better_poses(views, solved), shared, scheme)
        if adjusted is None:
            return None
        solved = summarise(step, scheme, adjusted)
    return solved


def _ladder(done: LensModel, wanted: LensModel) -> list[LensModel]:
    """The models between, so that distortion is set free a little at a time; `wanted` alone where none is."""
    reached, goal = LENS_MODELS.index(done), LENS_MODELS.index(wanted)
    between = [LENS_MODELS[index] for index in (1, 3, 4) if reached < index < goal]
    return [*between, wanted]


def _search(views: Sequence[PointsSeen], size_px: tuple[int, int], focal_px: float | None) -> Solved | None:
    starts = [share * max(size_px) for share in FOCAL_STARTS]
    if focal_px is not None:
        starts = [focal_px, *starts]
    found: list[Solved] = []
    for focal in starts:
        solved = _from_focal(views, size_px, focal, found)
        if solved is not None:
            found.append(solved)
    return min(found, key=lambda solved: solved.adjusted.cost, default=None)


def _from_focal(
    views: Sequence[PointsSeen], size_px: tuple[int, int], focal_px: float, others: Sequence[Solved]
) -> Solved | None:
    """Solved from one focal length; None where that leads nowhere, or to one of the `others`."""
    intrinsics = starting_intrinsics(focal_px, size_px)
    candidates = [candidate_poses(view, intrinsics) for view in views]
    if not all(candidates):
        return None
    model = LENS_MODELS[1]  # with one term of distortion: without it a wide lens pulls the focal length far away
    scheme = shared_scheme(model, size_px)
    shared = _as_shared(scheme, intrinsics)

    def known(now: Array, cost: float) -> bool:
        focal = scheme.intrinsics(now)[0]
        return any(
            abs(focal / other.intrinsics[0] - 1.0) < SAME_FOCAL and cost < SAME_COST * other.adjusted.cost
            for other in others
        )

    adjusted = adjust(views, np.array([poses[0] for poses in candidates]), shared, scheme, steps=25, known=known)
    if adjusted is None:
        return None
    first = summarise(model, scheme, adjusted)
    poses = _better_poses(views, first)
    if np.array_equal(poses, adjusted.poses):
        return first
    swapped = adjust(views, poses, adjusted.shared, scheme, steps=25)
    return first if swapped is None or swapped.cost > adjusted.cost else summarise(model, scheme, swapped)


def _better_poses(views: Sequence[PointsSeen], solved: Solved) -> Array:
    """(V, 6) each view's pose, or its mirror image where that explains the points better with the camera now known."""
    poses = solved.adjusted.poses.copy()
    for index, view in enumerate(views):
        held = _pose_error(view, poses[index], solved.intrinsics)
        for pose in candidate_poses(view, solved.intrinsics)[:1]:
            if _pose_error(view, pose, solved.intrinsics) < 0.5 * held:
                poses[index] = pose
    return poses


def summarise(model: LensModel, scheme: Shared, adjusted: Adjusted) -> Solved:
    """Intrinsics and their covariance from an adjustment.

    The covariance is noise^2 times the inverse of the reduced normal matrix, widened number by number (correlations
    kept) where views disagree with each other by more than their points' noise: `clustering`.
    """
    lens = scheme.basis.shape[1]
    inverse = np.asarray(np.linalg.pinv(adjusted.normal, hermitian=True), dtype=np.float64)
    factors = clustering(adjusted, adjusted.noise**2 * inverse)
    widened = adjusted.noise**2 * inverse * np.sqrt(np.outer(factors, factors))
    return Solved(
        model=model,
        intrinsics=scheme.intrinsics(adjusted.shared),
        covariance=scheme.basis @ widened[:lens, :lens] @ scheme.basis.T,
        clustering=float(factors[:lens].max(initial=1.0)),
        adjusted=adjusted,
    )


def clustering(adjusted: Adjusted, plain: Array) -> Array:
    """(q,) variance factors >= 1: how much more the views disagree than independent noise of their points allows.

    Leaving view v out moves the shared numbers by d_v = (N - N_v)^-1 g_v (one Gauss-Newton step); the jackknife
    variance is (V - 1) / V sum d_v d_v^T (B. Efron and C. Stein, Annals of Statistics 9, 1981). Errors that a whole
    view shares (a board not flat, a picture smeared) show here and nowhere in the residuals' size. A single number's
    factor is used where it is beyond what V views scatter by chance, else the mean over all numbers of the cluster-
    robust variance (K.-Y. Liang and S. L. Zeger, Biometrika 73, 1986), which does not scatter so much.
    """
    count, size = adjusted.scores.shape
    if count < 2 or size == 0:
        return np.ones(size)
    try:
        moved = np.linalg.solve(adjusted.normal - adjusted.shares, adjusted.scores[..., None])[..., 0]  # (V, q)
    except np.linalg.LinAlgError:
        return np.ones(size)
    spread = (count - 1) / count * moved.T @ moved
    single = np.diag(spread) / np.diag(plain)
    by_chance = 1.0 + 3.0 * math.sqrt(2.0 / (count - 1))
    sandwich = np.linalg.pinv(adjusted.normal, hermitian=True) @ (adjusted.scores.T @ adjusted.scores)
    common = max(1.0, float(np.trace(sandwich)) * count / (count - 1) / (size * adjusted.noise**2))
    return np.where(single > max(by_chance, common), single, common)
