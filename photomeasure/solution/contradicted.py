"""What the photographs contradict of what was assumed, in sentences for the person who took them.

Every prior is a statement that the photographs may speak against. Each one's residual at the optimum, over the standard
deviation that it would have were everything as assumed, is a test with one threshold (Baarda's w-test, the outlier test
of least squares; from memory, no page at hand). The largest is taken as the cause, its effect on the others is removed,
and the next is looked for. A prior that the photographs cannot check at all (nothing but the prior tells it) can never
be noticed: that is a limit of photographs, written in the study of coverage.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from calib.kit.kit import CHECK_BAR_MM
from photomeasure.scene.priors import PRINT_ANISOTROPY_U, SQRT3
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import intrinsics_of

NOTICE_SIGMAS = 3.5  # 0.05 % of honest statements each
MIN_REDUNDANCY = 0.02  # less than this is a prior that nothing else in the scene checks
MAX_NOTICES = 3
CAMERA_QUANTITIES = frozenset({"focal length", "principal point", "distortion", "camera profile"})
BAR_QUANTITIES = frozenset({"print scale", "print scale, x against y", "check bar x", "check bar y"})
# Photographs of different rigs bend what was stated of camera and sheet by 11 sigmas and more, those of one rig by less
# than 3.5 (path-traced sets and samples). What honest photographs of one rig do show together may go further.
APART_SIGMAS, APART_SIGMAS_OF = 6.0, {"depth": 8.0, "sheet lean": 8.0}


def contradicted(solved: Estimate) -> tuple[tuple[str, float], ...]:
    """Input quantities whose prior the photographs contradict, the worst first, each with its test value in sigmas.

    With whitened residuals r = (I - H) e, H the hat matrix of the Jacobian, cov(r) = I - H, so w = r / sqrt(1 - h).
    Once a cause is found, the rest are tested given that it is known: residuals and covariance are conditioned on it.
    """
    prior = np.flatnonzero(~solved.rows.observed)
    sparse = csr_array(solved.rows.jacobian[prior])  # (P, parameters): a prior names few of them
    covariance = np.eye(len(prior)) - sparse @ (sparse @ solved.covariance).T  # (P, P)
    residual = solved.rows.residual[prior].copy()  # (P,)
    names = [solved.rows.quantities[i] for i in prior]
    found: list[tuple[str, float]] = []
    for _ in range(MAX_NOTICES):
        w = _standardised(residual, covariance)
        worst = int(np.argmax(np.abs(w)))
        if abs(w[worst]) <= NOTICE_SIGMAS:
            break
        found.append((names[worst], float(abs(w[worst]))))
        column = covariance[:, worst].copy()
        residual -= column * (residual[worst] / column[worst])
        covariance -= np.outer(column, column) / column[worst]
    return tuple(found)


def only_together(solved: Estimate, alone: Sequence[Estimate]) -> tuple[str, ...]:
    """Input quantities that the photographs contradict plainly together and none of them by itself: they do not belong together."""
    by_one = {quantity for one in alone for quantity, _ in contradicted(one)}
    return tuple(
        dict.fromkeys(
            quantity
            for quantity, sigmas in contradicted(solved)
            if sigmas > APART_SIGMAS_OF.get(quantity, APART_SIGMAS) and quantity not in by_one
        )
    )


def _standardised(residual: NDArray[np.float64], covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    """(P,) residuals over their standard deviations; 0 where nothing checks them."""
    redundancy = np.diag(covariance)
    checked = redundancy > MIN_REDUNDANCY
    result: NDArray[np.float64] = np.where(checked, residual / np.sqrt(np.where(checked, redundancy, 1.0)), 0.0)
    return result


def _intrinsics(solved: Estimate, photo: int) -> NDArray[np.float64]:
    return intrinsics_of(solved.scene, solved.where, solved.x, photo)


_STATED = {"exif": "that the file states", "assumed": "of a phone's main camera", "profile": "of the camera profile"}


def _target(solved: Estimate) -> str:
    """What the camera was judged by."""
    return "sheet" if solved.scene.shows_sheets else "markers"


def _percent(value: float) -> str:
    return f"{abs(value):.0f} %" if abs(value) >= 1.5 else f"{abs(value):.1f} %"


def _focal_length(solved: Estimate) -> str:
    camera = solved.scene.cameras[0]
    change = 100.0 * float(_intrinsics(solved, 0)[0] / camera.mean[0] - 1.0)
    return (
        f"The perspective of the {_target(solved)} speaks for a focal length {_percent(change)} "
        f"{'longer' if change > 0 else 'shorter'} than the one {_STATED[camera.kind]}: the picture may have been "
        "zoomed, cropped or edited, or taken with another lens. Send the photograph as the camera wrote it, from the "
        "main camera without zoom, or calibrate the camera."
    )


def _principal_point(solved: Estimate) -> str:
    camera = solved.scene.cameras[0]
    off = [
        np.linalg.norm(_intrinsics(solved, photo)[2:4] - solved.scene.cameras[number].mean[2:4])
        for photo, number in enumerate(solved.scene.camera_of)
    ]
    share = 100.0 * float(max(off)) / max(camera.size_px)
    return (
        f"The lens's axis seems to lie {_percent(share)} of the picture's long side away from its middle: the picture "
        "looks cropped, zoomed or edited. Send the photograph whole, as the camera wrote it."
    )


def _distortion(solved: Estimate) -> str:
    if not solved.scene.shows_sheets:
        return (
            "The lens bends lines more than a phone's main camera does, or markers are not where the bay file has them. "
            "Calibrate the camera, which a bay deserves, or survey the bay's markers again."
        )
    return (
        "The lens bends lines more than a phone's main camera does, or the sheet is bowed. Use the main camera (1x) "
        "without an effect or filter, flatten the sheet on something stiff, or calibrate the camera."
    )


def _lean(solved: Estimate) -> str:
    lean = float(np.degrees(solved.value("sheet.lean")))
    way = "back" if lean > 0 else "forward"
    if any(view.plane == "ground" for view in solved.scene.planes):
        return (
            f"The upright sheet leans {way} by {abs(lean):.1f} degrees against the ground sheet; it was allowed for. "
            "Stand it against something square, on the same hard ground, and photograph again."
        )
    return (
        f"What is seen of the coupling fits better if the upright sheet leans {way}: it may lean, or the ball is not "
        "of the stated diameter. Stand the sheet against something square, measure the ball, and photograph again."
    )


def _depth(solved: Estimate) -> str:
    prior = next(prior for prior in solved.scene.priors if prior.quantity == "depth")
    stated = sum(coefficient * solved.value(name) for name, coefficient in prior.coefficients.items())
    off = abs(stated - prior.mean)
    if solved.scene.markers:
        return (
            f"The coupling's centre lies {off:.0f} mm from the bay's coupling plane. Place the rig where the bay's marks "
            "say, check what was measured and its size, and photograph again; or photograph from two sides and leave the "
            "plane out of the bay file."
        )
    if solved.scene.n_photos > 1:
        return (
            f"The coupling's centre lies {off:.0f} mm from where the sheet's place puts it in depth; these "
            "photographs show it and it was allowed for. Stand the sheet in the coupling's plane before a single "
            "photograph is relied on."
        )
    return (
        f"By its size in the picture the coupling lies {off:.0f} mm from where the sheet's place puts it in depth: "
        "the sheet stands out of the coupling's plane, or what is measured is not of the stated size. Stand the sheet "
        "in the coupling's plane, check the ball's diameter (--ball-diameter), and photograph again."
    )


def _said(sentence: str) -> Callable[[Estimate], str]:
    return lambda _: sentence


_CHECK_BARS = _said(
    "The readings of the check bars do not fit each other or the sheet in the picture. Measure both printed 150 mm "
    "bars again with a rule, each along its own direction, and make sure that the picture was neither stretched nor cropped."
)
_FOOT = _said(
    "The foot line of the upright sheet and the ground sheet do not lie in one plane. Cut the sheet along the foot "
    "line, stand it on the bare hard ground, lay the ground sheet flat beside it, and photograph again."
)
_SENTENCES: dict[str, Callable[[Estimate], str]] = {
    "focal length": _focal_length,
    "principal point": _principal_point,
    "distortion": _distortion,
    "camera profile": _said(
        "The camera profile does not fit this picture. Calibrate this very lens again with the zoom and focus that are "
        "used here, or measure without --camera."
    ),
    "print scale": _CHECK_BARS,
    "print scale, x against y": _CHECK_BARS,
    "check bar x": _CHECK_BARS,
    "check bar y": _CHECK_BARS,
    "sheet lean": _lean,
    "sheet roll": _said(
        "The upright sheet is turned against the ground by more than a foot line on hard ground should be. Press the "
        "whole foot line on the ground and photograph again."
    ),
    "foot gap": _FOOT,
    "ground sheet flatness": _FOOT,
    "depth": _depth,
    "ball diameter": _said(
        "The ball's outline does not fit the ball's stated diameter. Measure the ball with callipers and pass "
        "--ball-diameter, or mark the centre with --centre."
    ),
    "ball edge": _said(
        "The ball's outline is larger or smaller than the ball should look. Shade it from glare and tap on it to "
        "focus, check the ball's diameter and the check bars, or mark the centre with --centre."
    ),
    "tag lie": _said(
        "The centre tag does not lie as a tag on the coupling's side should. Press it flat on the side, upright, its "
        "middle at the height of the centre, and photograph again."
    ),
    "marker survey": _said(
        "Photographs and survey disagree about where the bay's markers are: one may have been moved or mistaken for "
        "another. Survey the bay's markers again, or leave the doubtful one out of the bay file."
    ),
}


def notices(solved: Estimate, *, told: Collection[str] = ()) -> tuple[str, ...]:
    """Plain sentences with a remedy for each input quantity that the photographs contradict; empty where none is.

    told: quantities that were spoken of before, by a solution that took them at their word.
    """
    return sentences_of([quantity for quantity, _ in contradicted(solved) if quantity not in told], solved)


def sentences_of(quantities: Iterable[str], solved: Estimate, *, camera: Estimate | None = None) -> tuple[str, ...]:
    """A sentence for each input quantity that is contradicted; camera: the solution that tells what the camera is."""
    sentences: dict[str, None] = {}
    for quantity in quantities:
        by = camera if camera is not None and quantity in CAMERA_QUANTITIES else solved
        sentence = _SENTENCES.get(quantity)
        sentences[sentence(by) if sentence is not None else _of_any(quantity)] = None
    if bars_apart(solved):
        sentences[_CHECK_BARS(solved)] = None
    return tuple(sentences)


def bars_apart(solved: Estimate) -> bool:
    """Whether the two check bars were read further apart than a printer's feed and both readings can make them."""
    bars = [prior for prior in solved.scene.priors if prior.quantity in ("check bar x", "check bar y")]
    if len(bars) < 2:
        return False
    readings = SQRT3 * sum(bar.u for bar in bars)  # half-widths of rectangles
    return abs(bars[0].mean - bars[1].mean) > SQRT3 * PRINT_ANISOTROPY_U * CHECK_BAR_MM + readings


def _of_any(quantity: str) -> str:
    return (
        f"The photographs contradict what was assumed of the {quantity}. Compare the instructions with what was done, "
        "and photograph again."
    )
