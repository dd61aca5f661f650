"""Is this the ball? What could be it, each in a small picture with a ring of the ball's size, to be answered with yes or no."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import apply_homography
from photomeasure.asked.limits import PICK_U_PX
from photomeasure.asked.request import PICK_SIGMA_PX
from photomeasure.seen.full_colours import FullColours
from photomeasure.seen.look import Refused, View
from photomeasure.shown.picture.refusal import MOST_CANDIDATES

SHOWN_PX = 640
_DIAMETERS = 6.0  # of the ball, across the picture
# What nobody sees of a ring that sits beside its ball: 2 of the 340 CSS pixels that the picture has on a phone (judgement)
_UNSEEN_SHARE = 2.0 / 340.0
_RING_OUTSIDE_PX = 4.0  # so that the ball's edge can be seen within it
_QUALITY = 88
_MARGIN_PX = 8  # for what a smaller picture is made of


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """photo: number from 1; px: what could be the ball's middle; u_px: standard uncertainty of a yes; picture: JPEG."""

    photo: int
    px: tuple[float, float]
    u_px: float
    picture: bytes


def asks(refused: Refused) -> tuple[Ask, ...]:
    """The likeliest of every photograph first; none where the ball is not what is looked for, or is said to be covered."""
    if refused.request.coupling == "pin" or refused.request.state.coupled is True:
        return ()
    found = [
        (rank, number, np.asarray(px, dtype=np.float64))
        for number, (_, some) in enumerate(zip(refused.views, refused.candidates_px, strict=False), start=1)
        for rank, px in enumerate(some[:MOST_CANDIDATES])
    ]
    colours = {number: FullColours(refused.views[number - 1].photo) for number in {number for _, number, _ in found}}
    made = (_ask(refused, number, px, colours[number]) for _, number, px in sorted(found, key=lambda one: one[:2]))
    return tuple(ask for ask in made if ask is not None)


def _ask(refused: Refused, number: int, px: NDArray[np.float64], colours: FullColours) -> Ask | None:
    view = refused.views[number - 1]
    radius_px = 0.5 * refused.request.ball_diameter_mm * _px_per_mm(view, px)
    if not np.isfinite(radius_px) or radius_px < 1.0:
        return None
    side_px = 2.0 * _DIAMETERS * radius_px
    u_px = min(max(PICK_SIGMA_PX, _UNSEEN_SHARE * side_px), PICK_U_PX.high)
    return Ask(
        photo=number,
        px=(float(px[0]), float(px[1])),
        u_px=u_px,
        picture=_ringed(*_around(colours, px, side_px), radius_px, side_px),
    )


def _px_per_mm(view: View, px: NDArray[np.float64]) -> float:
    """The picture's scale in the upright sheet's plane, where the ball nearly is; nan where no such sheet is seen."""
    sheet = next((found for found in view.finding.sheets if found.sheet.role == "upright"), None)
    if sheet is None:
        return float("nan")
    around = px + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    page_from_px = np.asarray(np.linalg.inv(sheet.px_from_page), dtype=np.float64)
    middle, right, lower = apply_homography(page_from_px, around)
    mm2_per_px2 = abs(float(np.linalg.det(np.array([right - middle, lower - middle]))))
    return float("nan") if mm2_per_px2 <= 0.0 else mm2_per_px2**-0.5


def _around(
    colours: FullColours, px: NDArray[np.float64], side_px: float
) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """A part of the photograph in which a square of that side lies, and where its middle is in it."""
    left, top = (max(0, int(middle - side_px / 2.0) - _MARGIN_PX) for middle in px)
    side = int(side_px) + 2 * _MARGIN_PX + 2
    return colours.part(left, top, side, side), px - [left, top]


def _ringed(colour: NDArray[np.uint8], px: NDArray[np.float64], radius_px: float, side_px: float) -> bytes:
    scale = SHOWN_PX / side_px
    shift = SHOWN_PX / 2.0 - 0.5 - scale * px
    cut = cv2.warpAffine(
        colour,
        np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]]),
        (SHOWN_PX, SHOWN_PX),
        flags=cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR,
    )
    middle = round(16 * (SHOWN_PX / 2.0 - 0.5))
    ring = round(16 * (scale * radius_px + _RING_OUTSIDE_PX))
    for width, said in ((6, (0, 0, 0)), (3, (63, 210, 255))):  # light on dark, to be seen on anything
        cv2.circle(cut, (middle, middle), ring, said, width, cv2.LINE_AA, shift=4)
    done, data = cv2.imencode(".jpg", cut, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return bytes(data.tobytes()) if done else b""
