"""Finding the kit's codes in a picture: OpenCV's marker detector with the kit's own frozen dictionary."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import CODE_BITS, CODE_CELLS, CODE_MIN_DISTANCE

# A quick look: the side of its one threshold window, and by how many grey levels a pixel is darker than those around it there:
# a share of what the picture spans, for gravel and leaves have smaller edges than print (`tests/experiments/kit_windows.py`)
QUICK_WINDOW_PX, EDGE_SHARE, LEAST_EDGE, MOST_EDGE = 13, 0.08, 3, 10


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCode:
    """A code in a picture: corners_px (4, 2), top-left of the printed code first, clockwise as printed."""

    id: int
    corners_px: NDArray[np.float64]

    @property
    def side_px(self) -> float:
        return float(np.linalg.norm(self.corners_px - np.roll(self.corners_px, 1, axis=0), axis=1).mean())

    def enlarged(self, factor: NDArray[np.float64]) -> FoundCode:
        """The same in the picture of which that one was shrunk by the factors (x, y)."""
        return FoundCode(id=self.id, corners_px=(self.corners_px + 0.5) * factor - 0.5)


@cache
def dictionary() -> cv2.aruco.Dictionary:
    """The kit's codes as an OpenCV dictionary; the bits are frozen in `calib.kit.kit`, not taken from OpenCV."""
    rows = []
    for bits in CODE_BITS:
        square = np.array([int(bit) for bit in bits], dtype=np.uint8).reshape(CODE_CELLS, CODE_CELLS)
        rows.append(cv2.aruco.Dictionary.getByteListFromBits(square).reshape(1, -1, 4))
    return cv2.aruco.Dictionary(np.concatenate(rows), CODE_CELLS, (CODE_MIN_DISTANCE - 1) // 2)


def detector_settings() -> cv2.aruco.DetectorParameters:
    """How OpenCV's detector is set; chosen in `tests/experiments/kit_candidates.py`."""
    settings = cv2.aruco.DetectorParameters()
    settings.adaptiveThreshWinSizeMin = 7
    settings.adaptiveThreshWinSizeMax = 39
    settings.adaptiveThreshWinSizeStep = 16
    settings.minMarkerPerimeterRate = 0.02
    # blooming and blur leave the middle of a module: look at the inner 40 % of it, in finer steps than the default
    settings.perspectiveRemovePixelPerCell = 8
    settings.perspectiveRemoveIgnoredMarginPerCell = 0.3
    settings.errorCorrectionRate = 0.5
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    return settings


@cache
def _detector(*, keen: bool, quick_edge: int | None, least_share: float | None = None) -> cv2.aruco.ArucoDetector:
    settings = detector_settings()
    if least_share is not None:
        settings.minMarkerPerimeterRate = least_share
    if keen:
        settings.errorCorrectionRate = 1.0
    if quick_edge is not None:
        settings.adaptiveThreshWinSizeMin = settings.adaptiveThreshWinSizeMax = QUICK_WINDOW_PX
        settings.adaptiveThreshConstant = quick_edge
    return cv2.aruco.ArucoDetector(dictionary(), settings)


def edge_of_print(grey: NDArray[np.uint8], most: int = MOST_EDGE) -> int:
    """Grey levels that part black print from paper in a picture (h, w) at least: EDGE_SHARE of what it spans, up to `most`."""
    counts = np.bincount(grey[::8, ::8].ravel()).cumsum()
    dark, light = np.searchsorted(counts, np.array([0.01, 0.99]) * counts[-1])
    return int(np.clip(EDGE_SHARE * (light - dark), LEAST_EDGE, most))


def find_codes(
    grey: NDArray[np.uint8], *, keen: bool = False, quick: bool = False, least_share: float | None = None
) -> tuple[FoundCode, ...]:
    """Every code of the kit in a grey picture (h, w), as the detector finds them at this resolution.

    keen corrects up to four wrong bits instead of two. One random square in twenty then reads as some code, so that
    only a caller who has another proof (the sheet's chequer) may ask for it.
    quick tries one threshold window instead of three, and leaves out small steps of grey, in a quarter of the time: it reads
    the same codes but where they are far out of focus, or in the deepest shadow of a bright picture (`tests/experiments/kit_windows.py`).
    least_share: pixels around the smallest code that is looked for, over the picture's longer side; 0.02 where nothing is known of it.
    """
    corners, ids, _ = _detector(
        keen=keen, quick_edge=edge_of_print(grey) if quick else None, least_share=least_share
    ).detectMarkers(grey)
    if ids is None or len(ids) == 0:
        return ()
    return tuple(
        FoundCode(id=int(code_id), corners_px=np.asarray(quad, dtype=np.float64).reshape(4, 2))
        for quad, code_id in zip(corners, np.asarray(ids).ravel(), strict=True)
    )
