"""Is the picture good enough to measure in? Judged on the sheet's own edges, with a reason and a remedy."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import Finding, FoundSheet, cell_axes_px
from calib.outcome.refusal import Refusal

MIN_CELL_PX = 3.5
MAX_BLUR_CELLS = 0.32
MIN_CONTRAST = 12.0
MAX_OBLIQUITY = 3.2  # length of a cell along against across; 1/cos of about 70 degrees


def judge_quality(grey: NDArray[np.uint8], finding: Finding) -> Refusal | None:
    """Refuse a picture in which the upright sheet is missing, too small, too blurred, too faint or too oblique."""
    upright = finding.of_role("upright")
    if upright is None:
        return Refusal(
            code="no-upright-sheet",
            reason="Only the ground sheet was found; the upright sheet is not in the picture.",
            remedy="Stand the upright sheet under or beside the coupling, its foot line on the ground, facing the camera.",
        )
    if upright.cell_px < MIN_CELL_PX:
        return Refusal(
            code="sheet-too-small",
            reason=f"The sheet is too small in the picture: a square is {upright.cell_px:.1f} pixels, {MIN_CELL_PX:g} are needed.",
            remedy="Go nearer (1.5 to 2.5 m), or send the photograph at its full size.",
        )
    if upright.blur_px > MAX_BLUR_CELLS * upright.cell_px:
        return Refusal(
            code="too-blurred",
            reason=f"The picture is too blurred: edges of the sheet are {2.35 * upright.blur_px:.0f} pixels wide "
            f"where a square has {upright.cell_px:.0f}.",
            remedy="Hold the phone still (rest it on something), tap on the sheet to focus, clean the lens, and photograph again.",
        )
    if upright.contrast < MIN_CONTRAST:
        return Refusal(
            code="too-faint",
            reason=f"Black and white of the sheet differ by only {2 * upright.contrast:.0f} of 255 grey levels.",
            remedy="Photograph in better light, or turn the sheet out of the glare, and tap on the sheet so that the phone exposes for it.",
        )
    if _obliquity(upright) > MAX_OBLIQUITY:
        return Refusal(
            code="too-oblique",
            reason="The sheet is seen too much from the side.",
            remedy="Stand square to the sheet, within about 30 degrees, and photograph again.",
        )
    return None


def _obliquity(found: FoundSheet) -> float:
    middle = found.sheet.points_mm.mean(axis=0, keepdims=True)
    axes = cell_axes_px(found.px_from_page, middle, found.sheet.cell_mm)[0]
    stretch = np.linalg.svd(axes, compute_uv=False)
    return float(stretch[0] / max(stretch[1], 1e-9))
