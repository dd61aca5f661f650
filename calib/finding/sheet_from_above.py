"""A sheet that lies too flat to be read directly: looked for in a view straight from above, then measured in the picture.

At a low camera the ground sheet's codes are only a few pixels deep. Once the upright sheet has told where the ground is,
the ground's part of the picture is warped to a view from above, in which codes are square again; the saddles are then
measured in the original picture, so the warp's interpolation never enters a measurement.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.codes import FoundCode, find_codes
from calib.finding.sheets import FoundSheet, apply_homography, measure_sheet
from calib.kit.kit import Sheet

PX_PER_MM = 0.6  # of the view: a code is about 40 px wide (`tests/experiments/kit_windows.py`)
LEAST_ROUND = 0.4  # of the way round a code, which is shorter turned by an eighth: what is smaller is gravel


def find_sheet_from_above(
    grey: NDArray[np.uint8],
    sheet: Sheet,
    px_from_ground: NDArray[np.float64],
    window_mm: tuple[float, float, float, float],
) -> FoundSheet | None:
    """The sheet in the picture, or None.

    px_from_ground: (3, 3) homography, ground mm (x right, y away) to pixels; window_mm: (left, near, right, far), mm.
    """
    left, near, right, far = window_mm
    size = (round((right - left) * PX_PER_MM), round((far - near) * PX_PER_MM))
    # pixel (0, 0) of the view from above is (left, far): y away is up in it
    ground_from_view = np.array([[1 / PX_PER_MM, 0.0, left], [0.0, -1 / PX_PER_MM, far], [0.0, 0.0, 1.0]])
    px_from_view = px_from_ground @ ground_from_view
    least_share = LEAST_ROUND * 4 * min(code.size_mm for code in sheet.codes) * PX_PER_MM / max(size)
    view = cv2.warpPerspective(grey, px_from_view, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    codes = tuple(
        FoundCode(id=code.id, corners_px=apply_homography(px_from_view, code.corners_px))
        for code in find_codes(np.asarray(view, dtype=np.uint8), quick=True, least_share=least_share)
        if code.id in sheet.code_ids
    )
    if not codes or len({code.id for code in codes}) < len(codes):
        return None
    return measure_sheet(grey, grey, np.ones(2), sheet, codes)
