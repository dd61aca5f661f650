"""Other sheets in a sample photograph: its own are painted over, and pages are laid in as its camera would see them.

The samples' cameras are known exactly (their .toml), so that a sheet that is uncut, rolled, leaning, folded, shrunk or off
the ground is where it is said to be; ball, vehicle and yard stay as they were traced.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageOps

from calib.camera.camera import project
from calib.kit.kit import kit
from calib.kit.sheets import target_pdf

from .camera import FloatArray
from .printed import PrintedSheet, sheet_texture
from .surfaces import frame

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
PAPER_GREY, INK_GREY = 236.0, 42.0  # as the samples show them
_PAGE_OF = {"upright": 2, "ground": 3}
_FINER = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """What a person did with the upright sheet; all of it zero is as asked.

    gap_mm: the foot line stands that much off the ground. uncut: the strip below the foot line was left on, and the page's
    own edge stands on the ground. folded_mm: so much above the foot line was folded under. lean_rad > 0: back. roll_rad: one
    corner stays on the ground. side: it lies on its left side. behind_mm: it stands that far behind its place.
    aside_mm: so far to the right.
    print_scale: of all pages. off_mm: the page's middle lies that far to the right of the paper's. ground_sheet: one lies
    before it.
    """

    gap_mm: float = 0.0
    uncut: bool = False
    folded_mm: float = 0.0
    lean_rad: float = 0.0
    roll_rad: float = 0.0
    side: bool = False
    behind_mm: float = 0.0
    aside_mm: float = 0.0
    print_scale: float = 1.0
    off_mm: float = 0.0
    ground_sheet: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A piece of a page in the world: world_from_page (4, 4), the print's scale inside."""

    sheet: PrintedSheet
    world_from_page: FloatArray


@cache
def page(role: str, number: int | None = None) -> PrintedSheet:
    """A page of the kit on A4, uncut, 6 texels a millimetre; number: of the print."""
    return sheet_texture(target_pdf(kit("a4"), number), _PAGE_OF[role], 6.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One sample photograph: grey (h, w), intrinsics (9,), cam_from_world (3, 4), and what its scene's truth file says."""

    grey: FloatArray = field(repr=False)
    intrinsics: FloatArray
    cam_from_world: FloatArray
    truth: dict[str, object]

    def px(self, world_mm: FloatArray) -> FloatArray:
        in_cam = world_mm @ self.cam_from_world[:, :3].T + self.cam_from_world[:, 3]
        return np.asarray(project(self.intrinsics, in_cam)[0])


@cache
def shots(name: str, folder: Path = SAMPLES) -> tuple[Shot, ...]:
    """The photographs of a sample, or of another traced rig; nobody writes into their pixels."""
    truth = tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))
    found = []
    for photo in truth["photo"]:
        grey = np.asarray(ImageOps.exif_transpose(Image.open(folder / photo["file"])).convert("L"))
        cx, cy = photo["principal_px"]
        f = photo["focal_px"]
        intrinsics = np.array([f, f, cx, cy, photo["k1"], photo["k2"], 0.0, 0.0, 0.0])
        found.append(
            Shot(
                grey=np.asarray(grey, dtype=np.float64),
                intrinsics=intrinsics,
                cam_from_world=np.array(photo["cam_from_world"]),
                truth=truth,
            )
        )
    return tuple(found)


def upright_piece(stance: Stance, number: int | None = None) -> Laid:
    """The upright page as it was cut and stood, its lowest corner on the ground (z = 0) or `gap_mm` above it."""
    whole, foot = page("upright", number), kit("a4").upright.foot_line_mm or 0.0
    width, height = whole.size_mm
    s = stance.print_scale
    # the paper keeps its size, so that a smaller print has wider margins about the page's middle
    edge_x, top = 0.5 * width * (1.0 / s - 1.0), height + 0.5 * height * (1.0 / s - 1.0)
    bottom = -0.5 * height * (1.0 / s - 1.0) if stance.uncut else foot + stance.folded_mm
    lean, roll = stance.lean_rad, stance.roll_rad + (0.5 * np.pi if stance.side else 0.0)
    right = np.array([np.cos(roll), 0.0, -np.sin(roll)])
    up = np.array([np.sin(roll) * np.cos(lean), np.sin(lean), np.cos(roll) * np.cos(lean)])
    left, across = -edge_x - stance.off_mm / s, width + edge_x - stance.off_mm / s
    corners = np.array([[left, bottom], [across, bottom], [left, top], [across, top]])
    anchor = np.array([0.5 * width, foot])
    lowest = min(float(s * ((x - anchor[0]) * right[2] + (y - anchor[1]) * up[2])) for x, y in corners)
    world = frame([stance.aside_mm, stance.behind_mm, stance.gap_mm - lowest], right, up) @ np.diag([s, s, 1.0, 1.0])
    world[:3, 3] -= world[:3, :2] @ anchor
    return Laid(sheet=_on_paper(whole, left, bottom, across, top), world_from_page=world)


def ground_piece(stance: Stance) -> Laid:
    """The ground sheet flat before the upright one, cut along the same line, its top towards the viewer."""
    whole, foot = page("ground"), kit("a4").upright.foot_line_mm or 0.0
    width, height = whole.size_mm
    s, anchor = stance.print_scale, np.array([0.5 * width, foot])
    world = frame([8.0, -15.0, 0.2], [-1.0, 0.02, 0.0], [-0.02, -1.0, 0.0]) @ np.diag([s, s, 1.0, 1.0])
    world[:3, 3] -= world[:3, :2] @ anchor
    return Laid(sheet=_on_paper(whole, 0.0, foot, width, height), world_from_page=world)


def _on_paper(whole: PrintedSheet, left: float, bottom: float, right: float, top: float) -> PrintedSheet:
    """The page's raster on white paper between page coordinates, which may lie outside the page."""
    mx, my = whole.mm_per_texel
    width, height = whole.size_mm
    above, below, beside, after = (
        max(0, round(over)) for over in ((top - height) / my, -bottom / my, -left / mx, (right - width) / mx)
    )
    padded = cv2.copyMakeBorder(whole.texture, above, below, beside, after, cv2.BORDER_CONSTANT, value=255)
    spread = replace(whole, texture=np.asarray(padded, dtype=np.uint8), corner_mm=(-beside * mx, -below * my))
    return spread.cut(left, bottom, right, top)


def picture(shot: Shot, pieces: tuple[Laid, ...], rng: np.random.Generator, *, blur_px: float = 0.9) -> FloatArray:
    """(h, w) grey: the sample without its own sheet and its backing, the pieces in their places."""
    seen = shot.grey.copy()
    seen = _painted_over(seen, shot, rng)
    for piece in pieces:
        _lay_in(seen, shot, piece, rng, blur_px)
    return np.asarray(np.clip(np.rint(seen), 0, 255))


def _painted_over(seen: FloatArray, shot: Shot, rng: np.random.Generator) -> FloatArray:
    """The upright sheet of the sample and what it is taped to give way to plain ground."""
    corners = np.array([[-122.0, 0.0, 0.0], [122.0, 0.0, 0.0], [122.0, 0.0, 296.0], [-122.0, 0.0, 296.0]])
    mask = cv2.fillConvexPoly(np.zeros(seen.shape, np.uint8), np.rint(shot.px(corners)).astype(np.int32), 1)
    before = np.rint(shot.px(np.array([[-80.0, -20.0, 0.0], [80.0, -40.0, 0.0]]))).astype(int)
    (x0, y0), (x1, y1) = before.min(axis=0), before.max(axis=0) + 4
    ground = float(np.median(seen[y0:y1, x0:x1]))
    x, y, width, height = cv2.boundingRect(mask)
    part = np.s_[y : y + height, x : x + width]
    plain = ground + rng.normal(0.0, 3.0, (height, width))
    seen[part] = np.where(mask[part] > 0, cv2.GaussianBlur(plain, (0, 0), 0.8), seen[part])
    return seen


def _lay_in(seen: FloatArray, shot: Shot, piece: Laid, rng: np.random.Generator, blur_px: float) -> None:
    """Each pixel's rays meet the page's plane: a homography of undistorted pixels, sampled `_FINER` times a pixel."""
    (x0, y0), (w, h) = piece.sheet.corner_mm, piece.sheet.size_mm
    edge = np.array([[x0, y0], [x0 + w, y0], [x0 + w, y0 + h], [x0, y0 + h]])
    world = edge @ piece.world_from_page[:3, :2].T + piece.world_from_page[:3, 3]
    outline = shot.px(world)
    low, high = np.floor(outline.min(axis=0)).astype(int) - 8, np.ceil(outline.max(axis=0)).astype(int) + 8
    low, high = np.maximum(low, 0), np.minimum(high, np.array(seen.shape[::-1]) - 1)
    columns, rows = high - low
    fine = (np.arange(_FINER) - 0.5 * (_FINER - 1)) / _FINER
    x = (low[0] + np.arange(columns)[:, None] + fine).ravel()
    y = (low[1] + np.arange(rows)[:, None] + fine).ravel()
    page_xy = _page_at(shot, piece, np.stack(np.meshgrid(x, y), axis=2))
    mx, my = piece.sheet.mm_per_texel
    map_x = ((page_xy[..., 0] - x0) / mx - 0.5).astype(np.float32)
    map_y = ((y0 + h - page_xy[..., 1]) / my - 0.5).astype(np.float32)
    values = INK_GREY + (PAPER_GREY - INK_GREY) / 255.0 * piece.sheet.texture.astype(np.float32)
    ink = cv2.remap(values, map_x, map_y, cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT, borderValue=0.0)
    there = cv2.remap(
        np.ones_like(values), map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0.0
    )
    size = (int(columns), int(rows))
    cover = cv2.resize(there, size, interpolation=cv2.INTER_AREA)
    light = cv2.resize(ink * (there > 0), size, interpolation=cv2.INTER_AREA)
    cover, light = (cv2.GaussianBlur(part, (0, 0), blur_px) for part in (cover, light))
    light = light + cover * rng.normal(0.0, 1.2, cover.shape)
    window = seen[low[1] : high[1], low[0] : high[0]]
    window[:] = light + (1.0 - np.clip(cover, 0.0, 1.0)) * window


def _page_at(shot: Shot, piece: Laid, px: FloatArray) -> FloatArray:
    """(rows, columns, 2) page coordinates under pixels; distortion is taken off by two rounds, to a thousandth of a pixel."""
    fx, fy, cx, cy, k1, k2 = shot.intrinsics[:6]
    seen = (px - [cx, cy]) / [fx, fy]
    ray = seen.copy()
    for _ in range(3):
        r2 = (ray**2).sum(axis=2, keepdims=True)
        ray = seen / (1.0 + k1 * r2 + k2 * r2 * r2)
    cam_from_page = shot.cam_from_world[:, :3] @ piece.world_from_page[:3]
    cam_from_page[:, 3] += shot.cam_from_world[:, 3]
    back = np.linalg.inv(cam_from_page[:, [0, 1, 3]])
    found = np.concatenate([ray, np.ones_like(ray[..., :1])], axis=2) @ back.T
    return np.asarray(found[..., :2] / found[..., 2:])
