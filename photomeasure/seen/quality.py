"""Is the picture good enough to measure in? Judged on the sheet's own edges, with a reason and a remedy."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import Finding, FoundSheet, cell_axes_px
from calib.outcome.refusal import Refusal
from calib.words.said import said

MIN_CELL_PX = 3.5
# Gaussian sigma of the edges: of a cell at most, less where that is many pixels, for ball and tag are smaller than the sheet.
MAX_BLUR_CELLS, BLUR_CELLS, SHARP_PX = 0.32, 0.15, 2.2
SMEARED = 1.7  # blur along over across, from which the phone moved; 1.0-1.2 out of focus (`tests/seen/test_blur.py`)
MIN_CONTRAST = 12.0
MAX_OBLIQUITY = 3.2  # length of a cell along against across; 1/cos of about 70 degrees


def judge_quality(grey: NDArray[np.uint8], finding: Finding) -> Refusal | None:
    """Refuse a picture in which the upright sheet is missing, too small, too blurred, too faint or too oblique."""
    upright = finding.of_role("upright")
    if upright is None:
        return Refusal(
            code="no-upright-sheet",
            reason=said("Only the ground sheet was found; the upright sheet is not in the picture."),
            remedy=said(
                "Stand the upright sheet under or beside the coupling, its foot line on the ground, facing the camera."
            ),
        )
    if upright.cell_px < MIN_CELL_PX:
        return Refusal(
            code="sheet-too-small",
            reason=said(
                "The sheet is too small in the picture: a square is {cell_px:.1f} pixels, {min_cell_px:g} are needed.",
                cell_px=upright.cell_px,
                min_cell_px=MIN_CELL_PX,
            ),
            remedy=said("Go nearer (1.5 to 2.5 m), or send the photograph at its full size."),
        )
    if upright.blur_px > min(MAX_BLUR_CELLS * upright.cell_px, max(BLUR_CELLS * upright.cell_px, SHARP_PX)):
        return _blurred(grey, upright)
    if upright.contrast < MIN_CONTRAST:
        return Refusal(
            code="too-faint",
            reason=said(
                "Black and white of the sheet differ by only {contrast:.0f} of 255 grey levels.",
                contrast=2 * upright.contrast,
            ),
            remedy=said(
                "Photograph in better light, or turn the sheet out of the glare, and tap on the sheet so that "
                "the phone exposes for it."
            ),
        )
    if _obliquity(upright) > MAX_OBLIQUITY:
        return Refusal(
            code="too-oblique",
            reason=said("The sheet is seen too much from the side."),
            remedy=said("Stand square to the sheet, within about 30 degrees, and photograph again."),
        )
    return None


def _obliquity(found: FoundSheet) -> float:
    middle = found.sheet.points_mm.mean(axis=0, keepdims=True)
    axes = cell_axes_px(found.px_from_page, middle, found.sheet.cell_mm)[0]
    stretch = np.linalg.svd(axes, compute_uv=False)
    return float(stretch[0] / max(stretch[1], 1e-9))


def _blurred(grey: NDArray[np.uint8], upright: FoundSheet) -> Refusal:
    """What blurred the picture: a phone that moved smears one way, a lens out of focus all ways alike."""
    along, across = smear_px(grey, upright)
    wide = said(
        "edges of the sheet are {blur_px:.0f} pixels wide where a square has {cell_px:.0f}",
        blur_px=2.35 * upright.blur_px,
        cell_px=upright.cell_px,
    )
    if along > SMEARED * across:
        return Refusal(
            code="too-blurred",
            reason=said(
                "The picture is smeared in one direction: the phone moved while it was taken ({wide}).", wide=wide
            ),
            remedy=said(
                "Rest the phone on something or hold it with both hands, in better light, and photograph again."
            ),
        )
    return Refusal(
        code="too-blurred",
        reason=said(
            "The picture is too blurred: the sheet is out of focus, or the lens is smeared ({wide}).", wide=wide
        ),
        remedy=said("Wipe the lens, tap on the sheet to focus, wait until it is sharp, and photograph again."),
    )


def smear_px(grey: NDArray[np.uint8], upright: FoundSheet) -> tuple[float, float]:
    """Standard deviations of the blur along its longest direction and across, from the sheet's own edges.

    Edges of both directions tell two of three moments; the third is the grey level in the middle of each saddle. With a blur of
    correlation r between the two directions that level is (2 / pi) asin(r) of the half step off the middle, towards one side at
    saddles of one polarity and to the other at the others (two normal variables have the same sign with a probability of
    1/2 + asin(r) / pi).
    """
    first, second = upright.edges_px
    px = np.rint(upright.points_px).astype(int)
    height, width = grey.shape
    inside = (px >= 1).all(axis=1) & (px[:, 0] < width - 1) & (px[:, 1] < height - 1)
    sign = upright.sheet.polarity[upright.index][inside]
    px = px[inside]
    middle = np.mean(
        [grey[px[:, 1] + dy, px[:, 0] + dx].astype(np.float64) for dy in (-1, 0, 1) for dx in (-1, 0, 1)], axis=0
    )
    if not ((sign > 0).any() and (sign < 0).any()):
        return max(first, second), min(first, second)
    off = 0.5 * (np.median(middle[sign > 0]) - np.median(middle[sign < 0])) / max(upright.contrast, 1.0)
    r = float(np.sin(np.clip(0.5 * np.pi * off, -1.5, 1.5)))
    moments = np.array([[first**2, r * first * second], [r * first * second, second**2]])
    low, high = np.linalg.eigvalsh(moments)
    return float(np.sqrt(max(high, 0.0))), float(np.sqrt(max(low, 0.05)))
