"""From views of a known object to a camera, or to the reason why not: the recipe of a calibration.

solve -> leave out stray corners and views -> choose the lens model on views left out -> look for what can be wrong ->
report
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.calibration.diagnosis import (
    STRAY_VIEW,
    Flatness,
    flatness,
    own_focals,
    stray_corners,
    stray_view,
    view_misses_px,
)
from calib.calibration.judgement import BEND_WARNED, Judged, fault, is_plain, looks_bent, off_focals, warnings_of
from calib.calibration.model_choice import ModelTried, best_of, choose, try_models
from calib.calibration.print_ratio import PrintRatio, find_ratio, stretched, with_ratio_u
from calib.calibration.solve import Solved, solve_intrinsics
from calib.calibration.two_cameras import two_cameras
from calib.camera.lens_models import LENS_MODELS, LensModel
from calib.camera.views import (
    FEWEST_POINTS,
    FEWEST_VIEWS,
    FrameCoverage,
    PointsSeen,
    is_planar,
    survey_views,
    what_next,
)
from calib.outcome.progress import Progress
from calib.outcome.refusal import Refusal
from calib.words.said import joined, said, said_many

Array = NDArray[np.float64]

RATIO_KNOWN_U = 5e-4  # of a print's axes: 1.5 px of 3000; what is better known is worth no more photographs
MOST_DROPPED = 1 / 3  # of the views: where more do not agree, there is no telling which of them are right
ROUNDS = 8  # of leaving out; each round leaves out one view, or all stray corners


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """A photograph that was not used, and why."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A camera, what it rests on and what to doubt.

    size_px:       (width, height) of the pictures.
    intrinsics, covariance: (9,) and (9, 9), pixels, in the order of `calib.camera.camera.INTRINSICS`.
    candidates:    every lens model tried, in order of free numbers; `chosen` is one of them.
    views:         the views used, without stray corners; corners_left_out: how many corners were strays.
    own_focal:     (V,) each view's own focal length relative to the common one.
    print_ratio:   where the object is a print: its second axis against the first, already in `views` and covariance.
    next_photos:   what to photograph next, the most useful first; empty where nothing is missing.
    """

    size_px: tuple[int, int]
    chosen: ModelTried
    candidates: tuple[ModelTried, ...]
    views: tuple[PointsSeen, ...]
    corners_left_out: int
    dropped: tuple[Dropped, ...]
    survey: FrameCoverage
    own_focal: Array
    flatness: Flatness | None
    warnings: tuple[str, ...]
    next_photos: tuple[str, ...]
    print_ratio: PrintRatio | None = None

    @property
    def intrinsics(self) -> Array:
        """(9,) in the order of `calib.camera.camera.INTRINSICS`."""
        return self.chosen.solved.intrinsics

    @property
    def covariance(self) -> Array:
        """(9, 9) of the intrinsics for this session; distortion terms held at zero have no variance."""
        return self.chosen.solved.covariance

    @property
    def rms_px(self) -> float:
        """Root mean square distance of the points used, px (distances, as OpenCV counts)."""
        return self.chosen.solved.rms_px()

    @property
    def holdout_px(self) -> float:
        """The same over views left out of the solve, px."""
        return self.chosen.holdout_rms_px(self.views)

    @property
    def residuals_px(self) -> tuple[Array, ...]:
        """Per view (N, 2) seen minus predicted."""
        return self.chosen.solved.adjusted.residuals


@dataclass(frozen=True, slots=True, kw_only=True)
class UnsoundCalibration(Refusal):
    """A camera was solved and must not be used: why, and what was found, to look at."""

    found: Calibration

    @staticmethod
    def of(refusal: Refusal, found: Calibration) -> UnsoundCalibration:
        return UnsoundCalibration(code=refusal.code, reason=refusal.reason, remedy=refusal.remedy, found=found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Settled:
    views: list[PointsSeen]
    candidates: tuple[ModelTried, ...]
    chosen: ModelTried
    dropped: list[Dropped]
    left_out: int


def calibrate(
    views: Sequence[PointsSeen],
    size_px: tuple[int, int],
    *,
    focal_px: float | None = None,
    models: Sequence[LensModel] = LENS_MODELS,
    ratio_u: float = 0.0,
    progress: Progress | None = None,
    thing: str = "board",
) -> Calibration | Refusal:
    """The camera that took `views`, all (width, height) = `size_px` the same way up, without zoom between them.

    views:     the points of each photograph of one flat object, (N, 3) mm and (N, 2) pixels.
    focal_px:  a first guess in pixels, such as EXIF's; a wrong one does no harm.
    models:    lens models to try, judged by the error on views that a solve has not seen (`model_choice`).
    ratio_u:   standard uncertainty of the object's second axis against its first, a share; 0 for an object that is as
        it is said to be, otherwise the ratio is solved for (see `print_ratio`).
    thing:     what the object is called in sentences.
    progress:  is told what is being done, and how far it is.
    Refuses where there are too few views, nothing fits, the views contradict each other, the object is bent, or the
    focal length is not determined; with what was found so far (`UnsoundCalibration`) where a camera was solved.
    """
    usable = [view for view in views if len(view.image_px) >= FEWEST_POINTS]
    dropped = [
        Dropped(name=view.name, reason=said("only {count} points were found", count=len(view.image_px)))
        for view in views
        if len(view.image_px) < FEWEST_POINTS
    ]
    ratio, settled = _settle_print(usable, size_px, focal_px, models, ratio_u, progress)
    if isinstance(settled, Refusal):
        return settled
    settled, judged = _without_zoomed(settled, ratio, size_px, focal_px, models, progress)
    if isinstance(settled, Refusal):
        return settled
    held = _with_doubts(settled, judged)
    found = Calibration(
        size_px=size_px,
        chosen=held,
        candidates=settled.candidates,
        views=tuple(settled.views),
        corners_left_out=settled.left_out,
        dropped=(*dropped, *settled.dropped),
        survey=judged.survey,
        own_focal=judged.own_focal,
        flatness=judged.bent,
        warnings=warnings_of(judged, size_px, settled.chosen, two_cameras(judged.views, judged.solved), thing),
        next_photos=(*_turn_it(ratio), *what_next(judged.survey, thing)),
        print_ratio=ratio,
    )
    wrong = fault(judged, size_px, settled.chosen, held, thing)
    return found if wrong is None else UnsoundCalibration.of(wrong, found)


def _without_zoomed(
    settled: _Settled,
    ratio: PrintRatio | None,
    size_px: tuple[int, int],
    focal_px: float | None,
    models: Sequence[LensModel],
    progress: Progress | None,
) -> tuple[_Settled | Refusal, Judged]:
    """Solved without the few views that want another focal length than the rest, and what is to be judged of it."""
    asked = len(settled.views) + len(settled.dropped)
    while True:
        if ratio is not None:
            solved = with_ratio_u(settled.chosen.solved, settled.views, size_px, ratio.u)
            settled = replace(settled, chosen=replace(settled.chosen, solved=solved))
        judged = _judged(settled, size_px)
        off = off_focals(judged)
        if not len(off) or len(settled.dropped) + len(off) > MOST_DROPPED * asked:
            return settled, judged
        if len(settled.views) - len(off) < FEWEST_VIEWS:
            return settled, judged
        gone = [_of_another_focal(judged, int(i)) for i in off]
        kept = [view for i, view in enumerate(settled.views) if i not in off]
        again = _settle(kept, size_px, focal_px, models, progress)
        if isinstance(again, Refusal):
            return settled, judged
        settled = replace(
            again, dropped=[*settled.dropped, *gone, *again.dropped], left_out=settled.left_out + again.left_out
        )


def _judged(settled: _Settled, size_px: tuple[int, int]) -> Judged:
    """What a solution is judged by: with the object as bent as it plainly is, since a bend looks like a zoom and not the
    other way about."""
    solved = settled.chosen.solved
    planar = all(is_planar(view.object_mm) for view in settled.views)
    bent = flatness(settled.views, size_px, solved) if planar else None
    views, by = tuple(settled.views), solved
    if bent is not None and is_plain(bent, BEND_WARNED):
        views, by = bent.views, bent.solved
    own, own_sigma = own_focals(views, by)
    return Judged(
        views=views,
        solved=by,
        survey=survey_views(settled.views, solved.adjusted.matrices(), size_px),
        own_focal=own - float(np.median(own)),
        own_sigma=own_sigma,
        bent=bent,
    )


def _of_another_focal(judged: Judged, index: int) -> Dropped:
    return Dropped(
        name=judged.views[index].name,
        reason=said(
            "its own focal length is {percent:+.1f} % off the others': another zoom or focus, or a crop",
            percent=100 * judged.own_focal[index],
        ),
    )


def _with_doubts(settled: _Settled, judged: Judged) -> ModelTried:
    """The chosen model with what the bend, and the choice of a simpler model than the best, may have moved."""
    chosen, best = settled.chosen, best_of(settled.candidates, settled.views)
    covariance = chosen.solved.covariance
    if judged.bent is not None and looks_bent(judged.bent, chosen):
        covariance = covariance + np.outer(judged.bent.shift, judged.bent.shift)
    if best.model.name != chosen.model.name:
        apart = best.solved.intrinsics - chosen.solved.intrinsics
        covariance = covariance + np.outer(apart, apart)
    return replace(chosen, solved=replace(chosen.solved, covariance=covariance))


def _turn_it(ratio: PrintRatio | None) -> tuple[str, ...]:
    if ratio is None or ratio.u < RATIO_KNOWN_U:
        return ()
    return (
        said("Take some with the camera upright and some on its side: that tells a stretched print from the camera."),
    )


def _settle_print(
    views: list[PointsSeen],
    size_px: tuple[int, int],
    focal_px: float | None,
    models: Sequence[LensModel],
    ratio_u: float,
    progress: Progress | None,
) -> tuple[PrintRatio | None, _Settled | Refusal]:
    """The print's ratio and the views that agree: the ratio again without what was left out, which hides it."""
    if ratio_u <= 0 or len(views) < FEWEST_VIEWS:
        return None, _settle(views, size_px, focal_px, models, progress)
    ratio = find_ratio(views, size_px, ratio_u, focal_px=focal_px)
    share = 0.0 if ratio is None else ratio.value
    settled = _settle(stretched(views, share), size_px, focal_px, models, progress)
    if isinstance(settled, Refusal) or not (settled.dropped or settled.left_out):
        return ratio, settled
    told = stretched(settled.views, 1.0 / (1.0 + share) - 1.0)
    better = find_ratio(told, size_px, ratio_u, focal_px=focal_px)
    if better is None:
        return ratio, settled
    again = _settle(stretched(told, better.value), size_px, focal_px, models, progress)
    if isinstance(again, Refusal):
        return better, again
    dropped, left_out = [*settled.dropped, *again.dropped], settled.left_out + again.left_out
    return better, replace(again, dropped=dropped, left_out=left_out)


def _settle(
    views: list[PointsSeen],
    size_px: tuple[int, int],
    focal_px: float | None,
    models: Sequence[LensModel],
    progress: Progress | None,
) -> _Settled | Refusal:
    """The views that agree, and every lens model over them."""
    usable, dropped, left_out = list(views), list[Dropped](), 0
    if len(usable) < FEWEST_VIEWS:
        return _too_few(usable, dropped)
    candidates = try_models(usable, size_px, focal_px=focal_px, models=models, progress=progress)
    if not candidates:
        return _nothing_fits()
    solved = choose(candidates, usable).solved
    for _ in range(ROUNDS):
        worst = stray_view(solved)
        if worst is not None:
            dropped.append(_stray(usable[worst].name, solved, worst))
            usable = usable[:worst] + usable[worst + 1 :]
            if len(usable) < FEWEST_VIEWS or len(dropped) > MOST_DROPPED * len(views):
                return _too_few(usable, dropped)
        else:
            usable, strays = stray_corners(usable, solved)
            if strays == 0:
                break
            left_out += strays
        start = None if worst is not None else solved
        again = solve_intrinsics(usable, size_px, focal_px=focal_px, model=solved.model, start=start)
        if again is None:
            return _nothing_fits()
        solved = again
    if dropped or left_out:
        candidates = try_models(usable, size_px, models=models, progress=progress, start=solved)
        if not candidates:
            return _nothing_fits()
    chosen = choose(candidates, usable)
    return _Settled(views=usable, candidates=candidates, chosen=chosen, dropped=dropped, left_out=left_out)


def _stray(name: str, solved: Solved, worst: int) -> Dropped:
    miss = view_misses_px(solved)
    return Dropped(
        name=name,
        reason=said(
            "it misses by {px:.2f} px, more than {times:g} times the others' {others:.2f} px (medians): another zoom or focus, a "
            "smeared picture, a board that moved",
            px=miss[worst],
            times=STRAY_VIEW,
            others=float(np.median(miss)),
        ),
    )


def _too_few(usable: Sequence[PointsSeen], dropped: Sequence[Dropped]) -> Refusal:
    if dropped:
        named = joined([joined((view.name, view.reason), ": ") for view in dropped], "; ")
        return Refusal(
            code="views-contradict",
            reason=said("No two photographs agree with each other. {photos}.", photos=named)
            if len(usable) < 2
            else said("Only {count} photographs agree with each other. {photos}.", count=len(usable), photos=named),
            remedy=said(
                "Photograph one flat board with one camera in one go, without zooming or cropping; calibrate again."
            ),
        )
    return Refusal(
        code="too-few-views",
        reason=said_many(
            "{count} usable photograph is too few: {least} are the least, ten are good.",
            "{count} usable photographs are too few: {least} are the least, ten are good.",
            count=len(usable),
            least=FEWEST_VIEWS,
        ),
        remedy=said(
            "Take about ten photographs of the board: different tilts, all corners of the frame, near and far."
        ),
    )


def _nothing_fits() -> Refusal:
    return Refusal(
        code="nothing-fits",
        reason=said("No camera explains the photographs: no start leads to one that sees the board from in front."),
        remedy=said(
            "Check the board's stated numbers (corners, squares, dictionary); all pictures must show this board."
        ),
    )
