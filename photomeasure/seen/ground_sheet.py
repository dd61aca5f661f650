"""Looking again for the ground sheet where the picture was taken from low down and its codes were too flat to read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix
from calib.finding.sheet_from_above import find_sheet_from_above
from calib.finding.sheets import Finding
from calib.kit.kit import kit
from photomeasure.scene.solved_camera import SolvedCamera

REACH_MM = 130.0  # sideways beyond the sheet, and in front of it
MIN_VISIBLE_RATIO = 0.06  # a cell's depth over its width in the picture; flatter than this tells nothing


def with_ground_sheet(
    finding: Finding,
    grey: NDArray[np.uint8],
    camera: SolvedCamera,
) -> Finding:
    """The finding with the ground sheet added, where it can be found in front of the upright sheet."""
    upright = finding.of_role("upright")
    if upright is None or finding.of_role("ground") is not None:
        return finding
    lens = camera.lens_mm
    if lens[2] / max(float(np.hypot(lens[0], lens[1])), 1.0) < MIN_VISIBLE_RATIO:
        return finding
    sheet = kit(upright.sheet.paper).ground
    px_from_ground = matrix(camera.intrinsics) @ np.column_stack([*camera.cam_from_world.T[:2], camera.world_in_cam_mm])
    half, depth = sheet.width_mm / 2 + REACH_MM, sheet.height_mm + REACH_MM
    found = find_sheet_from_above(grey, sheet, px_from_ground, (-half, -depth, half, 20.0))
    return finding if found is None else replace(finding, sheets=(*finding.sheets, found))
