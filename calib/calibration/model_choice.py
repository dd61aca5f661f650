"""Which lens model the photographs support: by the error on views that a solve has not seen, never by its own RMS.

More free numbers always fit better; what they are worth shows on a view left out. Each fold is solved without some
views, the pose alone of each left-out view is then found with that camera, and the distances that remain are its
hold-out error.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.calibration.adjust import adjusted_shared
from calib.calibration.solve import Solved, shared_scheme, solve_intrinsics, solve_pose
from calib.camera.lens_models import LENS_MODELS, LensModel, folds_within
from calib.camera.views import PointsSeen
from calib.outcome.progress import Progress
from calib.words.said import said

Array = NDArray[np.float64]

MOST_FOLDS = 8
# of the hold-out error: a smaller gain does not pay for a further free number (common practice, no source)
WORTHWHILE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelTried:
    """One lens model tried.

    holdout_px:  (V,) root mean square distance of each view's points when it was left out; infinity where that failed.
    folds:       True where the distortion turns back on itself among the points seen.
    """

    solved: Solved
    holdout_px: Array
    folds: bool

    @property
    def model(self) -> LensModel:
        return self.solved.model

    def holdout_rms_px(self, views: Sequence[PointsSeen]) -> float:
        """Over all points of all views, px."""
        weights = np.array([len(view.image_px) for view in views], dtype=np.float64)
        return math.sqrt(float(weights @ self.holdout_px**2 / weights.sum()))


def hold_out(views: Sequence[PointsSeen], size_px: tuple[int, int], solved: Solved) -> Array:
    """(V,) hold-out error of each view, px, with the views taken in turn into at most MOST_FOLDS folds."""
    scheme = shared_scheme(solved.model, size_px)
    errors = np.full(len(views), math.inf)
    folds = min(len(views), MOST_FOLDS)
    for fold in range(folds):
        kept = [index for index in range(len(views)) if index % folds != fold]
        without = [views[index] for index in kept]
        found = adjusted_shared(without, solved.adjusted.poses[kept], solved.adjusted.shared, scheme)
        if found is None:
            continue
        intrinsics = scheme.intrinsics(found[0])
        for index in range(fold, len(views), folds):
            posed = solve_pose(views[index], intrinsics)
            if posed is not None:
                errors[index] = math.sqrt(float((posed.residuals[0] ** 2).sum(axis=1).mean()))
    return errors


def try_models(
    views: Sequence[PointsSeen],
    size_px: tuple[int, int],
    *,
    focal_px: float | None = None,
    models: Sequence[LensModel] = LENS_MODELS,
    progress: Progress | None = None,
    start: Solved | None = None,
) -> tuple[ModelTried, ...]:
    """Every model solved and held out; empty where no start works. Models that do not solve are left out.

    start: a solution over the same views, where there is one: no other is searched for then.
    """
    found: list[ModelTried] = []
    start = solve_intrinsics(views, size_px, focal_px=focal_px, model=LENS_MODELS[1], start=start)
    if start is None:
        return ()
    for number, model in enumerate(models):
        if progress is not None:
            progress(said("trying the lens model {model}", model=model.name), number / len(models))
        solved = solve_intrinsics(views, size_px, model=model, start=start)
        if solved is None:
            continue
        found.append(
            ModelTried(
                solved=solved,
                holdout_px=hold_out(views, size_px, solved),
                folds=folds_within(solved.intrinsics, np.concatenate([view.image_px for view in views])),
            )
        )
    return tuple(found)


def choose(candidates: Sequence[ModelTried], views: Sequence[PointsSeen]) -> ModelTried:
    """The simplest model that is not worse than the best on views left out.

    Worse is: by more than WORTHWHILE of the best's error, and by more than one standard error of the difference, view
        by view (the one-standard-error rule of L. Breiman et al., "Classification and regression trees", 1984).
        Models whose distortion folds among the points seen are taken only where there is no other.
    """
    usable, best = _usable(candidates), best_of(candidates, views)
    simpler = (candidate for candidate in usable if _rank(candidate) < _rank(best))
    return next((candidate for candidate in simpler if not _worse(candidate, best, views)), best)


def best_of(candidates: Sequence[ModelTried], views: Sequence[PointsSeen]) -> ModelTried:
    """The model that predicts views left out best, however many numbers it has."""
    return min(_usable(candidates), key=lambda candidate: candidate.holdout_rms_px(views))


def _usable(candidates: Sequence[ModelTried]) -> list[ModelTried]:
    return [candidate for candidate in candidates if not candidate.folds] or list(candidates)


def _rank(candidate: ModelTried) -> int:
    return LENS_MODELS.index(candidate.model)


def _worse(candidate: ModelTried, best: ModelTried, views: Sequence[PointsSeen]) -> bool:
    if not np.isfinite(candidate.holdout_px).all():
        return True
    if candidate.holdout_rms_px(views) <= (1 + WORTHWHILE) * best.holdout_rms_px(views):
        return False
    excess = candidate.holdout_px**2 - best.holdout_px**2
    return bool(excess.mean() > excess.std(ddof=1) / math.sqrt(len(excess)))
