"""The judgement on a solved calibration: what is refused and what is warned of, each with its remedy.

The thresholds are common practice without a source, each checked against simulated faults in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.calibration.diagnosis import Flatness
from calib.calibration.model_choice import ModelTried
from calib.calibration.solve import Solved
from calib.calibration.two_cameras import TwoCameras
from calib.camera.lens_models import folds_within, frame_corners_px
from calib.camera.views import FrameCoverage, PointsSeen, what_next
from calib.outcome.refusal import Refusal
from calib.words.said import joined, said

Array = NDArray[np.float64]

WORST_FOCAL_SHARE = 0.015  # standard uncertainty of the focal length above which the views do not determine it
LEAST_TILT_RAD = math.radians(8.0)
ZOOM_REFUSED, ZOOM_WARNED, ZOOM_SIGMAS = 0.04, 0.02, 6.0  # a view's own focal length off the common one, as a share
BEND_REFUSED, BEND_WARNED, BEND_SIGMAS = 0.01, 0.003, 5.0  # sag over half the board's longer side
BEND_FOCAL_SIGMAS = 3.0  # a bend that moves the focal length by more than this many of its u is warned of however small
WORST_RMS_SHARE = 1.5e-3  # of the frame's longer side (6 px of 4000): above this nothing fits
GOOD_VIEWS = 6
# F of the best split: 99 % of draws of one camera whose lens sways stay below 28 (a test draws them), one camera reached
# 7.1 on four real sets; two real ones of one model come to 34 and 65
TWO_CAMERAS_RATIO = 30.0
OBLONG_SHARE, OBLONG_SIGMAS = 0.005, 5.0  # of fx against fy; printers' feed errs by 0.4 % (published)
KNOWN_FOCAL_U = 0.02  # a view whose own focal length is less well known than this says nothing about zoom


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a solution is judged by. views, solved: with the object as bent as it plainly is, else as the solution has them.

    own_focal, own_sigma: (V,) each view's own focal length against the views' median, a share, and its uncertainty.
    bent: None where it cannot be told.
    """

    views: tuple[PointsSeen, ...]
    solved: Solved
    survey: FrameCoverage
    own_focal: Array
    own_sigma: Array
    bent: Flatness | None


def fault(
    judged: Judged, size_px: tuple[int, int], chosen: ModelTried, held: ModelTried, thing: str = "board"
) -> Refusal | None:
    """Refused: what makes the calibration useless; None where nothing does. The likeliest cause is named first.

    held: the chosen model with what a bend and the choice of the model add to its covariance.
    """
    bent = judged.bent
    zoomed = off_focals(judged)
    if len(zoomed):
        return Refusal(
            code="mixed-zoom",
            reason=said(
                "The photographs were not taken with one focal length: {photos} off the others'.",
                photos=_named(judged, zoomed),
            ),
            remedy=said(
                "Calibrate each zoom or camera by itself; do not crop, zoom or refocus between photographs. If nothing of the kind "
                "was done, measure the {thing} both ways: a print that came out too long one way looks like this too.",
                thing=thing,
            ),
        )
    if bent is not None and is_plain(bent, BEND_REFUSED):
        return _bent_board(bent, thing)
    if chosen.solved.rms_px() > WORST_RMS_SHARE * max(size_px):
        return Refusal(
            code="nothing-fits",
            reason=said("The best camera still misses the corners by {px:.1f} px (RMS).", px=chosen.solved.rms_px()),
            remedy=said(
                "Check the {thing}'s stated numbers, that it is flat, and that one camera took all pictures unzoomed.",
                thing=thing,
            ),
        )
    return _undetermined(judged, chosen, held, thing)


def _undetermined(judged: Judged, chosen: ModelTried, held: ModelTried, thing: str) -> Refusal | None:
    """A focal length that the photographs leave open, by what they show or by a bend."""
    tilt = float(np.abs(judged.survey.tilts_rad).max(initial=0.0))
    wanted = what_next(judged.survey, thing)[:3]
    remedy = joined(wanted, " ") if wanted else said("Take more photographs, at more different tilts.")
    if tilt < LEAST_TILT_RAD:
        return Refusal(
            code="views-too-alike",
            reason=said(
                "The photographs are too alike: the {thing} is tilted by {deg:.0f} degrees at most, which does not tell a long "
                "lens from a large distance.",
                thing=thing,
                deg=math.degrees(tilt),
            ),
            remedy=remedy,
        )
    if _focal_share(chosen) > WORST_FOCAL_SHARE:
        return Refusal(
            code="views-too-alike",
            reason=said(
                "The photographs do not tell the focal length well enough: to {percent:.1f} %, and {needed:g} % are needed.",
                percent=100 * _focal_share(chosen),
                needed=100 * WORST_FOCAL_SHARE,
            ),
            remedy=remedy,
        )
    share = _focal_share(held)
    if share <= WORST_FOCAL_SHARE:
        return None
    if judged.bent is not None and looks_bent(judged.bent, chosen):
        return _bent_board(judged.bent, thing, open_percent=100 * share)
    return Refusal(
        code="views-too-alike",
        reason=said(
            "Lens models that fit about as well differ in focal length: it is known to {percent:.1f} % only.",
            percent=100 * share,
        ),
        remedy=remedy,
    )


def _bent_board(bent: Flatness, thing: str, open_percent: float | None = None) -> Refusal:
    reason = said(
        "The {thing} is not flat: it bulges by {sag:.2g} mm on {reach:.3g} mm.",
        thing=thing,
        sag=bent.sag_mm,
        reach=2 * bent.reach_mm,
    )
    if open_percent is not None:
        reason = said(
            "The {thing} is not flat: it bulges by {sag:.2g} mm on {reach:.3g} mm, which leaves the focal length open by "
            "{percent:.1f} %.",
            thing=thing,
            sag=bent.sag_mm,
            reach=2 * bent.reach_mm,
            percent=open_percent,
        )
    remedy = said("Glue it to something flat (glass, a stiff board), check it with a rule's edge, then repeat.")
    return Refusal(code="board-bent", reason=reason, remedy=remedy)


def _focal_share(candidate: ModelTried) -> float:
    """Standard uncertainty of the focal length, a share."""
    return math.sqrt(max(float(candidate.solved.covariance[0, 0]), 0.0)) / float(candidate.solved.intrinsics[0])


def warnings_of(
    judged: Judged, size_px: tuple[int, int], chosen: ModelTried, two: TwoCameras | None, thing: str = "board"
) -> tuple[str, ...]:
    """What leaves the calibration usable but doubtful, in sentences."""
    views, bent, found = judged.views, judged.bent, []
    if len(views) < GOOD_VIEWS:
        found.append(
            said(
                "Only {count} photographs were used; their disagreement is poorly known. About ten are good.",
                count=len(views),
            )
        )
    zoomed = off_focals(judged, ZOOM_WARNED)
    if len(zoomed):
        found.append(
            said(
                "The focal length may have changed between photographs: {photos}. Keep zoom and focus still.",
                photos=_named(judged, zoomed),
            )
        )
    if two is not None and two.ratio > TWO_CAMERAS_RATIO:
        named = ", ".join(view.name for view, other in zip(views, two.second, strict=True) if other)
        found.append(
            said(
                "Two cameras, or one with two lenses or settings, seem to have taken these photographs: {photos} differ from the "
                "others by {percent:.1f} % in focal length and {px:.0f} px in principal point. Calibrate each camera by itself.",
                photos=named,
                percent=100 * two.focal_share,
                px=two.centre_px,
            )
        )
    if bent is not None and looks_bent(bent, chosen):
        found.append(
            said(
                "The {thing} looks bent by {sag:.2g} mm on {reach:.3g} mm (the focal length moves by {percent:+.2f} % with it, "
                "which its uncertainty holds). Fix it to something flat and repeat.",
                thing=thing,
                sag=bent.sag_mm,
                reach=2 * bent.reach_mm,
                percent=100 * bent.focal_shift,
            )
        )
    found += _oblong(chosen, thing)
    corners = frame_corners_px(size_px)
    if chosen.folds:
        found.append(
            said("The distortion found is not one-to-one where corners were seen: the lens is too wide for this model.")
        )
    elif folds_within(chosen.solved.intrinsics, corners):
        found.append(
            said("Nothing was seen in the corners of the frame, and there the distortion found is not one-to-one.")
        )
    return tuple(found)


def _oblong(chosen: ModelTried, thing: str) -> list[str]:
    """Pixels that are not square, which hardly any camera has: rather an object that is longer one way than was said."""
    (fx, fy), covariance = chosen.solved.intrinsics[:2], chosen.solved.covariance
    slope = np.array([1.0 / fx, -1.0 / fy])
    u = math.sqrt(max(float(slope @ covariance[:2, :2] @ slope), 0.0))
    share = float(fx / fy - 1.0)
    if abs(share) < OBLONG_SHARE or abs(share) < OBLONG_SIGMAS * u:
        return []
    why = said(
        "Pixels are square in nearly every camera: measure the {thing} both ways, for it is probably longer one way than was said "
        "(a printer that feeds short, a viewer that fits to the page), or the pictures were stretched.",
        thing=thing,
    )
    percent = 100 * abs(share)
    how = (
        said("The focal length across is {percent:.1f} % more than the one down. {why}", percent=percent, why=why)
        if share > 0
        else said("The focal length across is {percent:.1f} % less than the one down. {why}", percent=percent, why=why)
    )
    return [how]


def _named(judged: Judged, which: NDArray[np.intp]) -> str:
    return joined(
        [
            said("{photo} ({percent:+.1f} %)", photo=judged.views[i].name, percent=100 * judged.own_focal[i])
            for i in which
        ]
    )


def off_focals(judged: Judged, share: float = ZOOM_REFUSED) -> NDArray[np.intp]:
    """(k,) numbers of the views that want a focal length further than `share` off the median of all."""
    off, sigma = np.abs(judged.own_focal), judged.own_sigma
    return np.nonzero((off > share) & (off > ZOOM_SIGMAS * sigma) & (sigma < KNOWN_FOCAL_U))[0]


def looks_bent(bent: Flatness, chosen: ModelTried) -> bool:
    """Whether a bend is to be warned of: by its size, or by what it does to the focal length."""
    u = math.sqrt(max(float(chosen.solved.covariance[0, 0]), 0.0))
    harms = abs(float(bent.shift[0])) > BEND_FOCAL_SIGMAS * u
    return is_plain(bent, 0.0 if harms else BEND_WARNED)


def is_plain(bent: Flatness, share: float = 0.0) -> bool:
    """Whether the photographs show a bend of more than `share` of half the object's longer side, and not by chance."""
    return bent.sag_mm > share * bent.reach_mm and bent.sag_mm > BEND_SIGMAS * bent.u_mm and bent.rms_ratio < 0.95
