"""The judgement on a solved calibration: what is refused and what is warned of, each with its remedy.

The thresholds are common practice without a source, each checked against simulated faults in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calib.calibration.diagnosis import Flatness
from calib.calibration.model_choice import Candidate
from calib.calibration.two_cameras import TwoCameras
from calib.camera.lens_models import folds_within, frame_corners_px
from calib.camera.views import Survey, View, what_next
from calib.outcome.refusal import Refusal

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
KNOWN_FOCAL_U = 0.02  # a view whose own focal length is less well known than this says nothing about zoom


def fault(
    views: Sequence[View],
    size_px: tuple[int, int],
    chosen: Candidate,
    survey: Survey,
    own_focal: Array,
    own_sigma: Array,
    bent: Flatness | None,
) -> Refusal | None:
    """What makes the calibration useless; None where nothing does. The likeliest cause is named first."""
    solved = chosen.solved
    zoomed = _off(own_focal, own_sigma, ZOOM_REFUSED)
    if len(zoomed):
        named = ", ".join(f"{views[i].name} ({100 * own_focal[i]:+.1f} %)" for i in zoomed)
        return Refusal(
            code="mixed-zoom",
            reason=f"The photographs were not taken with one focal length: {named} off the common one.",
            remedy="Calibrate each zoom or camera by itself; do not crop, zoom or refocus between photographs. If nothing of "
            "the kind was done, measure the board both ways: a print that came out too long one way looks like this too.",
        )
    if bent is not None and _is_bent(bent, BEND_REFUSED):
        return Refusal(
            code="board-bent",
            reason=f"The board is not flat: it bulges by {bent.sag_mm:.2g} mm on {2 * bent.reach_mm:.3g} mm.",
            remedy="Glue the sheet to something flat (glass, a stiff board), check it with a rule's edge, then repeat.",
        )
    if solved.rms_px() > WORST_RMS_SHARE * max(size_px):
        return Refusal(
            code="nothing-fits",
            reason=f"The best camera still misses the corners by {solved.rms_px():.1f} px (RMS).",
            remedy="Check the board's stated numbers, that it is flat, and that one camera took all pictures unzoomed.",
        )
    share = math.sqrt(max(float(solved.covariance[0, 0]), 0.0)) / float(solved.intrinsics[0])
    tilt = float(np.abs(survey.tilts_rad).max(initial=0.0))
    if share > WORST_FOCAL_SHARE or tilt < LEAST_TILT_RAD:
        return Refusal(
            code="views-too-alike",
            reason=(
                f"The photographs are too alike to tell the focal length (known to {100 * share:.1f} %, "
                f"the board tilted by {math.degrees(tilt):.0f} degrees at most)."
            ),
            remedy=" ".join(what_next(survey)[:3]) or "Take more photographs, at more different tilts.",
        )
    return None


def warnings_of(
    views: Sequence[View],
    size_px: tuple[int, int],
    chosen: Candidate,
    own_focal: Array,
    own_sigma: Array,
    bent: Flatness | None,
    two: TwoCameras | None,
) -> tuple[str, ...]:
    """What leaves the calibration usable but doubtful, in sentences."""
    found = []
    if len(views) < GOOD_VIEWS:
        found.append(
            f"Only {len(views)} photographs were used; their disagreement is poorly known. About ten are good."
        )
    zoomed = _off(own_focal, own_sigma, ZOOM_WARNED)
    if len(zoomed):
        named = ", ".join(f"{views[i].name} ({100 * own_focal[i]:+.1f} %)" for i in zoomed)
        found.append(f"The focal length may have changed between photographs: {named}. Keep zoom and focus still.")
    if two is not None and two.ratio > TWO_CAMERAS_RATIO:
        named = ", ".join(view.name for view, other in zip(views, two.second, strict=True) if other)
        found.append(
            f"Two cameras, or one with two lenses or settings, seem to have taken these photographs: {named} differ from the "
            f"others by {100 * two.focal_share:.1f} % in focal length and {two.centre_px:.0f} px in principal point. "
            "Calibrate each camera by itself."
        )
    if bent is not None and looks_bent(bent, chosen):
        found.append(
            f"The board looks bent by {bent.sag_mm:.2g} mm on {2 * bent.reach_mm:.3g} mm "
            f"(the focal length moves by {100 * bent.focal_shift:+.2f} % with it, which its uncertainty holds). "
            "Fix it to something flat and repeat."
        )
    corners = frame_corners_px(size_px)
    if chosen.folds:
        found.append(
            "The distortion found is not one-to-one where corners were seen: the lens is too wide for this model."
        )
    elif folds_within(chosen.solved.intrinsics, corners):
        found.append("Nothing was seen in the corners of the frame, and there the distortion found is not one-to-one.")
    return tuple(found)


def _off(own_focal: Array, own_sigma: Array, share: float) -> NDArray[np.intp]:
    off = np.abs(own_focal - np.median(own_focal))
    return np.nonzero((off > share) & (off > ZOOM_SIGMAS * own_sigma) & (own_sigma < KNOWN_FOCAL_U))[0]


def looks_bent(bent: Flatness, chosen: Candidate) -> bool:
    """Whether a bend is to be warned of: by its size, or by what it does to the focal length."""
    u = math.sqrt(max(float(chosen.solved.covariance[0, 0]), 0.0))
    harms = abs(float(bent.shift[0])) > BEND_FOCAL_SIGMAS * u
    return _is_bent(bent, 0.0 if harms else BEND_WARNED)


def _is_bent(bent: Flatness, share: float) -> bool:
    return bent.sag_mm > share * bent.reach_mm and bent.sag_mm > BEND_SIGMAS * bent.u_mm and bent.rms_ratio < 0.95
