"""The centre tag: found near the sheet, its corners measured, for a coupling whose head hides the ball."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.codes import FoundCode, find_codes
from calib.kit import tag_codes
from calib.outcome import Refusal

# Where a coupling can be, mm in the sheet's frame: sideways, and above the ground.
REACH_X_MM, REACH_Z_MM = 700.0, (150.0, 950.0)
CORNER_SIGMA_PX = 0.35  # independent part of a refined marker corner on phone pictures (see the experiments)


@dataclass(frozen=True, slots=True, kw_only=True)
class TagSeen:
    """One centre tag in one picture: side_mm as printed, corners_px (4, 2) as printed clockwise from the top-left."""

    id: int
    side_mm: float
    corners_px: NDArray[np.float64]
    sigma_px: float

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """(2,) crossing of the diagonals: a tone curve moves all corners alike, so it stays."""
        a, b, c, d = self.corners_px
        along, across = c - a, d - b
        t = np.linalg.solve(np.stack([along, -across], axis=1), b - a)[0]
        result: NDArray[np.float64] = a + t * along
        return result

    def local_mm(self) -> NDArray[np.float64]:
        half = self.side_mm / 2
        return np.array([[-half, half], [half, half], [half, -half], [-half, -half]])


def search_window(
    shape: tuple[int, ...], intrinsics: NDArray[np.float64], rotation: NDArray[np.float64], translation: NDArray[np.float64]
) -> tuple[int, int, int, int] | None:
    """Pixel window (left, top, right, bottom) in which a coupling beside or above the sheet can be; None: outside."""
    corners = np.array([[x, 0.0, z] for x in (-REACH_X_MM, REACH_X_MM) for z in REACH_Z_MM])
    in_camera = corners @ rotation.T + translation
    if (in_camera[:, 2] < 50.0).any():
        return 0, 0, shape[1], shape[0]
    px = project(intrinsics, in_camera)[0]
    left, top = np.maximum(np.floor(px.min(axis=0)), 0).astype(int)
    right, bottom = np.minimum(np.ceil(px.max(axis=0)), [shape[1], shape[0]]).astype(int)
    return (int(left), int(top), int(right), int(bottom)) if right - left > 40 and bottom - top > 40 else None


def find_tag(
    grey: NDArray[np.uint8],
    *,
    intrinsics: NDArray[np.float64],
    rotation: NDArray[np.float64],
    translation: NDArray[np.float64],
) -> TagSeen | Refusal | None:
    """The centre tag of a picture, or None where there is none.

    rotation (3, 3), translation (3,): camera from world. Refuses with `two-tags` where more than one is seen.
    """
    window = search_window(grey.shape, intrinsics, rotation, translation)
    if window is None:
        return None
    left, top, right, bottom = window
    crop = np.ascontiguousarray(grey[top:bottom, left:right])
    known = tag_codes()
    seen = [code for code in find_codes(crop) if code.id in known and _of_its_size(code, known[code.id].size_mm, intrinsics, translation)]
    if not seen:
        return None
    if len(seen) > 1:
        return Refusal(
            code="two-tags",
            reason=f"{len(seen)} centre tags are in the picture; which of them marks the coupling's centre cannot be told.",
            remedy="Leave one tag on the coupling, take the others (and the rest of the printed page) out of view.",
        )
    code = seen[0]
    corners = _refined(crop, code) + [left, top]
    return TagSeen(id=code.id, side_mm=known[code.id].size_mm, corners_px=corners, sigma_px=CORNER_SIGMA_PX)


def _of_its_size(code: FoundCode, side_mm: float, intrinsics: NDArray[np.float64], translation: NDArray[np.float64]) -> bool:
    """Whether a code is as large as its print would be about as far away as the sheet: a far-off one is a false reading."""
    expected = intrinsics[0] * side_mm / float(translation[2])
    return 0.4 * expected < code.side_px < 1.6 * expected


def _refined(crop: NDArray[np.uint8], code: FoundCode) -> NDArray[np.float64]:
    reach = int(np.clip(code.side_px / 7 * 0.6, 2, 8))
    corners = code.corners_px.astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    return np.asarray(cv2.cornerSubPix(crop, corners, (reach, reach), (-1, -1), stop), dtype=np.float64).reshape(4, 2)
