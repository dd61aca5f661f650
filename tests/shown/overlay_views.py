"""Photographs for the tests of the drawing: the printed sheet seen by a pinhole camera, painted by a homography.

The camera is built from cross products and OpenCV's own projection, so that nothing of the project's model is in it.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import ExifTags, Image

from calib.kit.kit import kit
from calib.kit.sheets import target_pdf

Array = NDArray[np.float64]
FOCAL_35MM = 26
DOTS_PER_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """One picture of a sheet stood under a ball; centre_mm: (3,) world, foot line y = z = 0."""

    data: bytes
    centre_mm: Array
    rotation: Array
    translation: Array
    matrix: Array

    def px(self, world_mm: Array) -> Array:
        """(N, 3) to (N, 2) by OpenCV."""
        turn, _ = cv2.Rodrigues(self.rotation)
        px, _ = cv2.projectPoints(world_mm.reshape(-1, 1, 3), turn, self.translation, self.matrix, None)
        return np.asarray(px, dtype=np.float64).reshape(-1, 2)

    @property
    def centre_px(self) -> tuple[float, float]:
        x, y = self.px(self.centre_mm)[0]
        return float(x), float(y)


@cache
def _page() -> NDArray[np.uint8]:
    document = pypdfium2.PdfDocument(target_pdf(kit("a4")))
    picture = document[kit("a4").upright.page - 1].render(scale=DOTS_PER_MM * 25.4 / 72).to_pil().convert("L")
    return np.asarray(picture, dtype=np.uint8)


def yard(
    height_mm: float = 412.0,
    *,
    lens_mm: tuple[float, float, float] = (150.0, -1500.0, 500.0),
    size_px: tuple[int, int] = (1600, 1200),
    x_mm: float = 40.0,
    sheet: bool = True,
) -> Yard:
    """Paint one picture."""
    lens, target = np.array(lens_mm), np.array([0.0, 0.0, 260.0])
    forward = (target - lens) / np.linalg.norm(target - lens)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    # 35 mm equivalent by the diagonal, 43.27 mm (CIPA DCG-001, from memory)
    focal = FOCAL_35MM * float(np.hypot(*size_px)) / float(np.hypot(36.0, 24.0))
    matrix = np.array([[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]])
    centre = np.array([x_mm, 0.0, height_mm])
    made = Yard(data=b"", centre_mm=centre, rotation=rotation, translation=-rotation @ lens, matrix=matrix)
    picture = np.full((size_px[1], size_px[0]), 95, dtype=np.uint8)
    if sheet:
        _paint_sheet(picture, made)
    middle, edge = made.px(np.stack([centre, centre + 25.0 * right]))
    cv2.circle(
        picture, (round(middle[0]), round(middle[1])), round(float(np.linalg.norm(edge - middle))), 40, -1, cv2.LINE_AA
    )
    return Yard(data=_jpeg(picture), centre_mm=centre, rotation=rotation, translation=made.translation, matrix=matrix)


def _paint_sheet(picture: NDArray[np.uint8], seen: Yard) -> None:
    upright = kit("a4").upright
    foot, width, height = float(upright.foot_line_mm or 0.0), upright.width_mm, upright.height_mm
    world = np.array(
        [[-width / 2, 0, height - foot], [width / 2, 0, height - foot], [width / 2, 0, 0], [-width / 2, 0, 0]]
    )
    page = _page()
    cut = page[: round((height - foot) * page.shape[0] / height)]
    rows, columns = cut.shape
    corners = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]]) - 0.5
    onto = cv2.getPerspectiveTransform(corners.astype(np.float32), seen.px(world).astype(np.float32))
    big = (picture.shape[1], picture.shape[0])
    warped = cv2.warpPerspective(cv2.GaussianBlur(cut, (0, 0), 1.6), onto, big, flags=cv2.INTER_LINEAR)
    cover = cv2.warpPerspective(np.full_like(cut, 255), onto, big)
    picture[cover > 127] = (30 + 0.75 * warped[cover > 127]).astype(np.uint8)


def _jpeg(picture: NDArray[np.uint8]) -> bytes:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = FOCAL_35MM
    stream = io.BytesIO()
    Image.fromarray(cv2.cvtColor(picture, cv2.COLOR_GRAY2RGB)).save(stream, "JPEG", quality=92, exif=exif)
    return stream.getvalue()
