"""What was found of the kit (or of a bay's markers) in one photograph, as pixels to draw."""

from __future__ import annotations

import numpy as np

from calib.finding.sheets import Finding, apply_homography
from calib.kit.kit import Sheet
from photomeasure.seen.look import View
from photomeasure.shown.picture.ink import Array


def corners_px(view: View) -> Array:
    """(N, 2) measured corners of all sheets and markers."""
    found = [sheet.points_px for sheet in view.finding.all]
    if view.markers is not None:
        found.append(view.markers.px.reshape(-1, 2))
    return np.concatenate([np.empty((0, 2)), *found])


def sheet_outlines_px(finding: Finding) -> list[Array]:
    """(4, 2) the box around each sheet's print, clockwise from its top-left corner."""
    return [apply_homography(found.px_from_page, _print_mm(found.sheet)) for found in finding.all]


def _print_mm(sheet: Sheet) -> Array:  # (4, 2) page mm
    dark = sheet.dark_mm.reshape(-1, 2)  # lower left and upper right corners
    ink = np.concatenate([dark, *(code.corners_mm() for code in sheet.codes)])
    (left, bottom), (right, top) = ink.min(axis=0), ink.max(axis=0)
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
