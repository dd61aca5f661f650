"""Printed pages as textures: a raster of the kit's PDF, cut as the instructions say, or a drawn chequer."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray

from .camera import FloatArray
from .scene import PlacedSheet
from .surfaces import Plane, frame

POINTS_PER_MM = 72.0 / 25.4
FINER = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintedSheet:
    """A piece of a printed page.

    texture:       (rows, columns) uint8, row 0 at the top.
    mm_per_texel:  along x and y, as designed.
    corner_mm:     page coordinates (x right, y up) of the texture's bottom-left corner.
    anchor_mm:     page coordinates of the point that is put in place: middle of the foot line, or a tag's centre.
    """

    texture: NDArray[np.uint8]
    mm_per_texel: tuple[float, float]
    corner_mm: tuple[float, float] = (0.0, 0.0)
    anchor_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width, height."""
        rows, columns = self.texture.shape
        return columns * self.mm_per_texel[0], rows * self.mm_per_texel[1]

    def cut(self, left_mm: float, bottom_mm: float, right_mm: float, top_mm: float) -> PrintedSheet:
        """The piece between page coordinates, to the nearest whole texel outwards; ValueError where it is empty."""
        mx, my = self.mm_per_texel
        rows, columns = self.texture.shape
        x0, y0 = self.corner_mm
        first, last = max(_down((left_mm - x0) / mx), 0), min(-_down(-(right_mm - x0) / mx), columns)
        low, high = max(_down((bottom_mm - y0) / my), 0), min(-_down(-(top_mm - y0) / my), rows)
        if first >= last or low >= high:
            raise ValueError("nothing is left of the page")
        piece = np.ascontiguousarray(self.texture[rows - high : rows - low, first:last])
        return replace(self, texture=piece, corner_mm=(x0 + first * mx, y0 + low * my))

    def placed(
        self,
        role: str,
        anchor_world_mm: FloatArray,
        right: FloatArray,
        up: FloatArray,
        *,
        print_scale: tuple[float, float] = (1.0, 1.0),
        reflectance: tuple[float, float] = (0.04, 0.85),
    ) -> tuple[Plane, PlacedSheet]:
        """The sheet with its anchor at a world point, x along right and y along up, printed at a scale."""
        sx, sy = print_scale
        world_from_page = frame(anchor_world_mm, right, up) @ np.diag([sx, sy, 1.0, 1.0])
        world_from_page[:3, 3] -= world_from_page[:3, :2] @ np.array(self.anchor_mm)
        corner = world_from_page[:3, :2] @ np.array(self.corner_mm) + world_from_page[:3, 3]
        plane = Plane(
            texture=self.texture,
            mm_per_texel=(self.mm_per_texel[0] * sx, self.mm_per_texel[1] * sy),
            world_from_plane=frame(corner, right, up),
            reflectance=reflectance,
        )
        return plane, PlacedSheet(role=role, world_from_page=world_from_page)


def _down(value: float) -> int:
    """Floor, with a millionth of a texel forgiven."""
    return int(np.floor(value + 1e-6))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintedKit:
    """What a person printed and cut out; sheets that were left away are None or empty. bars_mm: of the check bars as drawn."""

    upright: PrintedSheet
    ground: PrintedSheet | None = None
    centre_tags: tuple[PrintedSheet, ...] = ()
    bar_tags: tuple[PrintedSheet, ...] = ()
    bars_mm: tuple[float, float] = (150.0, 150.0)


def sheet_texture(pdf: bytes | Path, page: int, px_per_mm: float = 10.0) -> PrintedSheet:
    """Raster of one page (1-based) of a PDF; mm_per_texel says how large its texels are.

    The rasteriser snaps upright rectangles to whole pixels, so it draws four times as fine and the mean is taken: an
    edge is then within an eighth of a texel of its place.
    """
    document = pypdfium2.PdfDocument(pdf)
    try:
        sheet = document[page - 1]
        width_pt, height_pt = sheet.get_size()
        # A millionth less: a page of whole texels is not rounded up by one.
        scale = FINER * px_per_mm / POINTS_PER_MM * (1.0 - 1e-6)
        bitmap = sheet.render(scale=scale, grayscale=True).to_numpy()
    finally:
        document.close()
    rows, columns = (max(round(n / FINER), 1) for n in bitmap.shape[:2])
    fine = bitmap.reshape(bitmap.shape[:2])
    texture = np.asarray(cv2.resize(fine, (columns, rows), interpolation=cv2.INTER_AREA), dtype=np.uint8)
    per_texel = (width_pt / POINTS_PER_MM / columns, height_pt / POINTS_PER_MM / rows)
    return PrintedSheet(texture=texture, mm_per_texel=per_texel)


def cut_at_foot_line(sheet: PrintedSheet, foot_line_mm: float) -> PrintedSheet:
    """The sheet above its foot line, whose middle becomes the anchor."""
    x0, y0 = sheet.corner_mm
    width, height = sheet.size_mm
    piece = sheet.cut(x0, foot_line_mm, x0 + width, y0 + height)
    return replace(piece, anchor_mm=(x0 + 0.5 * width, foot_line_mm))


def printed_kit(pdf: Path, facts: Path, *, px_per_mm: float = 10.0) -> PrintedKit:
    """The kit from its PDF and its target.json. The ground sheet is cut at the upright sheet's foot line."""
    told = json.loads(facts.read_text(encoding="utf-8"))
    sheets: list[Mapping[str, Any]] = told["sheets"]
    of_role = {sheet["role"]: sheet for sheet in sheets}
    upright = of_role["upright"]
    foot_mm = float(upright["foot_line_mm"])
    ground, tags, bars = of_role.get("ground"), of_role.get("centre-tag"), of_role.get("bar-tag")
    return PrintedKit(
        upright=cut_at_foot_line(sheet_texture(pdf, upright["page"], px_per_mm), foot_mm),
        ground=cut_at_foot_line(sheet_texture(pdf, ground["page"], px_per_mm), foot_mm) if ground else None,
        centre_tags=_tags(sheet_texture(pdf, tags["page"], px_per_mm), tags["tags"]) if tags else (),
        bar_tags=_tags(sheet_texture(pdf, bars["page"], px_per_mm), bars["tags"]) if bars else (),
        bars_mm=(float(told["bars"]["x_mm"]), float(told["bars"]["y_mm"])),
    )


def _tags(page: PrintedSheet, tags: list[Mapping[str, Any]]) -> tuple[PrintedSheet, ...]:
    """Each tag cut out along its quiet zone, anchored at its centre."""
    pieces = []
    for tag in tags:
        x, y = tag["centre_mm"]
        half = 0.5 * float(tag["size_mm"]) + float(tag["quiet_mm"])
        pieces.append(replace(page.cut(x - half, y - half, x + half, y + half), anchor_mm=(x, y)))
    return tuple(pieces)


def chequer_sheet(
    *,
    squares: tuple[int, int] = (8, 11),
    square_mm: float = 24.0,
    margin_mm: float = 10.0,
    px_per_mm: int = 10,
) -> PrintedSheet:
    """A plain chequer on white paper, foot line at the bottom edge: for tests that need no kit."""
    side, margin = round(square_mm * px_per_mm), round(margin_mm * px_per_mm)
    rows, columns = np.indices((squares[1] * side, squares[0] * side)) // side
    texture = np.pad(((rows + columns) % 2 * 255).astype(np.uint8), margin, constant_values=255)
    width_mm = texture.shape[1] / px_per_mm
    per_texel = 1.0 / px_per_mm
    return PrintedSheet(texture=texture, mm_per_texel=(per_texel, per_texel), anchor_mm=(0.5 * width_mm, 0.0))


def chequer_kit() -> PrintedKit:
    """Chequers in place of the kit's sheets, a small one as a tag."""
    tag = chequer_sheet(squares=(4, 4), square_mm=12.0, margin_mm=6.0)
    middle = (0.5 * tag.size_mm[0], 0.5 * tag.size_mm[1])
    return PrintedKit(upright=chequer_sheet(), ground=chequer_sheet(), centre_tags=(replace(tag, anchor_mm=middle),))
