"""The kit's own printed pages in one picture: rasters of the PDF, laid in by known homographies."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import apply_homography
from calib.kit.kit import Paper, Sheet, kit
from calib.kit.sheets import target_pdf
from tests.scenes.printed import sheet_texture

SIZE_PX = (1600, 1200)
RAYS = 3  # on each axis of a pixel
TEXELS_PER_MM = 6.0


@cache
def page_texture(paper: Paper, page: int) -> NDArray[np.uint8]:
    """Raster of one page of the kit's PDF, row 0 at the top."""
    return sheet_texture(_pdf(paper), page, TEXELS_PER_MM).texture


@cache
def _pdf(paper: Paper) -> bytes:
    return target_pdf(kit(paper))


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A page in the picture: its corners there, bottom-left, bottom-right, top-right, top-left."""

    sheet: Sheet
    corners_px: NDArray[np.float64]  # (4, 2)

    @property
    def px_from_page(self) -> NDArray[np.float64]:
        w, h = self.sheet.width_mm, self.sheet.height_mm
        page = np.array([[0, 0], [w, 0], [w, h], [0, h]], dtype=np.float64)
        return np.asarray(cv2.findHomography(page, self.corners_px, 0)[0], dtype=np.float64)

    def truth_px(self) -> NDArray[np.float64]:  # (N, 2)
        return apply_homography(self.px_from_page, self.sheet.points_mm)


def laid(sheet: Sheet, *, at: tuple[float, float], px_per_mm: float, turn_rad: float = 0.0, yaw: float = 0.0) -> Laid:
    """A page with its middle at a pixel; yaw shortens the right side by that share, as seen from the left."""
    w, h = sheet.width_mm / 2 * px_per_mm, sheet.height_mm / 2 * px_per_mm
    x = w * np.sqrt(1 - yaw)
    corners = np.array([[-x, h], [x, h * (1 - yaw)], [x, -h * (1 - yaw)], [-x, -h]])
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    return Laid(sheet=sheet, corners_px=corners @ np.array([[c, s], [-s, c]]) + at)


def photograph(
    pages: tuple[Laid, ...],
    rng: np.random.Generator,
    *,
    cover_px: tuple[tuple[int, int, int, int], ...] = (),
    quality: int = 70,
) -> NDArray[np.uint8]:
    """(1200, 1600) picture of the pages before clutter: blur, tone curve, noise, JPEG.

    cover_px: grey patches over it (left, top, right, bottom).
    """
    width, height = SIZE_PX
    rough = cv2.resize(rng.random((height // 12, width // 12)), SIZE_PX, interpolation=cv2.INTER_LINEAR)
    canvas = cv2.resize((60 + 110 * rough).astype(np.float32), (width * RAYS, height * RAYS))
    for page in pages:
        texture = page_texture(page.sheet.paper, page.sheet.page)
        rows, columns = texture.shape
        source = np.array([[0, rows], [columns, rows], [columns, 0], [0, 0]]) - 0.5
        matrix, _ = cv2.findHomography(source, (page.corners_px + 0.5) * RAYS - 0.5, 0)
        light = (15 + 0.85 * texture).astype(np.float32)
        size = (width * RAYS, height * RAYS)
        cv2.warpPerspective(light, matrix, size, canvas, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    seen = cv2.resize(canvas, SIZE_PX, interpolation=cv2.INTER_AREA)
    for left, top, right, bottom in cover_px:
        seen[top:bottom, left:right] = 90.0
    curved = 255 * (cv2.GaussianBlur(seen, (0, 0), 0.7) / 255) ** 0.8
    grey = np.clip(np.rint(curved + rng.normal(0.0, 1.5, curved.shape)), 0, 255).astype(np.uint8)
    coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
