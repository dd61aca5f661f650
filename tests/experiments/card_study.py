"""Does a card on the sheet give the print's scale, as well as it says? Rendered close-ups with known truth.

Run by hand: python -m tests.experiments.card_study [--pictures 40] [--seed 1] [--jobs 2] [--keep FOLDER]

The shipped page, printed at a drawn scale on each axis, lies on a table; a card of any size that ISO/IEC 7810 allows lies on it,
hollow by up to 0.3 mm, its edges and its shadow drawn; the lens has a distortion, stands 330-500 mm above and is told by EXIF to 3 %;
blur, tone curve, sharpening, noise and JPEG as in `boxes_pictures`. Light, hands and cards are judgement, no source.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from calib.camera.camera import project, unproject
from calib.kit.kit import Paper, kit
from calib.kit.sheets import target_pdf
from calib.outcome.refusal import Refusal
from photomeasure.seen.card.scale import LONG_MM, SHORT_MM, card_scale

Array = NDArray[np.float64]
PX_PER_MM = 14.0
SIZE_PX = (3200, 2400)
FINE = 2
NUMBER = 468_779
CORNER_MM = (2.88, 3.48)
HOLLOW_MM = 0.3  # by which a card may stand off the paper (judgement)
INK_GAIN_MM = 0.04  # by which printed black grows on each side (judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUp:
    """grey; intrinsics (9,) as EXIF tells them; scale: of the print, x and y, true."""

    grey: NDArray[np.uint8]
    intrinsics: Array
    scale: tuple[float, float]
    long_is_x: bool
    distance_mm: float


@cache
def page(paper: Paper) -> NDArray[np.uint8]:
    import pypdfium2

    document = pypdfium2.PdfDocument(target_pdf(kit(paper), NUMBER))
    picture = document[kit(paper).upright.page - 1].render(scale=PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return np.ascontiguousarray(picture.reshape(picture.shape[:2]))


def close_up(paper: Paper, rng: np.random.Generator, *, card: bool = True) -> CloseUp:
    """One picture."""
    sheet = kit(paper).upright
    width, height = SIZE_PX
    focal = 26.0 / 36.0 * width * rng.uniform(0.97, 1.03)
    middle_px = np.array([width / 2, height / 2]) + rng.normal(0, 8, 2)
    lens = np.array([focal, focal, *middle_px, rng.normal(0, 0.007), 0, 0, 0, 0])
    even = rng.uniform(0.955, 1.005)
    scale = np.array([even, even]) * (1 + rng.uniform(-0.003, 0.003, 2))
    middle = sheet.points_mm.mean(axis=0) * scale
    distance = rng.uniform(330, 500)
    eye = np.array([*(middle + rng.normal(0, 15, 2)), distance])
    rotation = _looking(rng)

    light = _table(paper, lens, rotation, eye, scale, rng)
    long_is_x = bool(rng.random() < 0.5)
    if card:
        centre = middle + rng.uniform(-12, 12, 2) + [0, rng.uniform(-30, 30)]
        _lay(light, _window(lens, rotation, eye, centre), centre, long_is_x, rng)
    small = cv2.GaussianBlur(cv2.resize(light, SIZE_PX, interpolation=cv2.INTER_AREA), (0, 0), rng.uniform(0.6, 1.3))
    shown: NDArray[np.float32] = np.asarray(small, dtype=np.float32)
    shown *= np.float32(rng.uniform(0.5, 0.95))
    shown += rng.standard_normal(shown.shape, dtype=np.float32) * np.float32(0.008) * np.sqrt(np.maximum(shown, 0.02))
    tone = np.clip(shown, 0, 1) ** (1 / 2.2)
    tone += np.float32(rng.uniform(0.1, 0.4)) * (tone * tone * (3 - 2 * tone) - tone)
    tone += np.float32(rng.uniform(0.2, 0.8)) * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2))
    grey = np.clip(np.rint(255 * tone), 0, 255).astype(np.uint8)
    packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(85, 96))])[1]
    told = np.zeros(9)
    told[:4] = 26.0 / 36.0 * width, 26.0 / 36.0 * width, (width - 1) / 2, (height - 1) / 2
    return CloseUp(
        grey=np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), dtype=np.uint8),
        intrinsics=told,
        scale=(float(scale[0]), float(scale[1])),
        long_is_x=long_is_x,
        distance_mm=float(distance),
    )


def _looking(rng: np.random.Generator) -> Array:
    """Down at the page, its x up or down the picture's long side, tilted by a few degrees."""
    turn = np.deg2rad(rng.choice([90.0, -90.0]) + rng.normal(0, 3))
    down = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, -1]])
    spin = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]])
    tilt, _ = cv2.Rodrigues(np.append(np.deg2rad(rng.normal(0, 3, 2)), 0.0))
    return np.asarray(tilt @ spin @ down)


def _table(
    paper: Paper, lens: Array, rotation: Array, eye: Array, scale: Array, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Light from table and page, FINE samples a pixel along each axis."""
    sheet, raster = kit(paper).upright, page(paper)
    width, height = SIZE_PX
    coarse = 8  # the mapping is smooth: every eighth fine sample, and between them interpolated
    v, u = np.mgrid[0 : height * FINE + coarse : coarse, 0 : width * FINE + coarse : coarse]
    px = (np.column_stack([u.ravel(), v.ravel()]) + 0.5) / FINE - 0.5
    rays = unproject(lens, px) @ rotation
    ground = eye[:2] + rays[:, :2] * (-eye[2] / rays[:, 2:])
    at = np.column_stack([ground[:, 0] / scale[0], sheet.height_mm - ground[:, 1] / scale[1]]) * PX_PER_MM - 0.5
    maps = at.reshape(*v.shape, 2).astype(np.float32)
    whole = (maps.shape[1] * coarse, maps.shape[0] * coarse)
    # cv2.resize puts sample i at (i + 0.5) coarse - 0.5: moved back by half a coarse step
    move = np.array([[1, 0, -(coarse / 2 - 0.5)], [0, 1, -(coarse / 2 - 0.5)]], dtype=np.float64)
    full = []
    for axis in (0, 1):
        large = cv2.resize(maps[..., axis], whole, interpolation=cv2.INTER_LINEAR)
        full.append(
            cv2.warpAffine(
                large, move, (width * FINE, height * FINE), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            )
        )
    gain = rng.uniform(0.0, INK_GAIN_MM) * PX_PER_MM  # ink runs: black grows
    soft = cv2.GaussianBlur(raster, (0, 0), 1.0).astype(np.float32) / 255.0
    raster = (255 * np.clip(4.0 * (soft - ndtr(gain)) + 0.5, 0, 1)).astype(np.uint8)
    around = int(255 * rng.uniform(0.15, 0.5))
    shown = cv2.remap(raster, full[0], full[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=around)
    return (0.05 + 0.95 / 255.0 * shown).astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """Rays through the fine samples around the card, page axes; slice of the whole; eye_mm; samples a millimetre there."""

    rays: Array
    rows: slice
    columns: slice
    eye_mm: Array
    per_mm: float


def _window(lens: Array, rotation: Array, eye: Array, centre: Array) -> _Window:
    corners = np.array([[centre[0] + sx * 75, centre[1] + sy * 75, 0] for sx in (-1, 1) for sy in (-1, 1)])
    px = (project(lens, (corners - eye) @ rotation.T)[0] + 0.5) * FINE - 0.5
    low = np.maximum(np.floor(px.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(px.max(axis=0)).astype(int), np.array(SIZE_PX) * FINE)
    v, u = np.mgrid[low[1] : high[1], low[0] : high[0]]
    rays = unproject(lens, (np.column_stack([u.ravel(), v.ravel()]) + 0.5) / FINE - 0.5) @ rotation
    return _Window(
        rays=rays.reshape(*v.shape, 3),
        rows=slice(int(low[1]), int(high[1])),
        columns=slice(int(low[0]), int(high[0])),
        eye_mm=eye,
        per_mm=FINE * lens[0] / eye[2],
    )


def _lay(light: NDArray[np.float32], window: _Window, centre: Array, long_is_x: bool, rng: np.random.Generator) -> None:
    """A card on the page: its shadow, its walls, its face; every edge is shared out by the part of a sample that it covers."""
    half = np.array([rng.uniform(*LONG_MM), rng.uniform(*SHORT_MM)]) / 2
    turn = np.deg2rad(rng.normal(0, 3) + (0 if long_is_x else 90))
    radius = rng.uniform(*CORNER_MM)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])

    def covered(height_mm: float, shift: Array) -> NDArray[np.float32]:
        rays = window.rays
        ground = window.eye_mm[:2] + rays[..., :2] * ((height_mm - window.eye_mm[2]) / rays[..., 2:])
        off = np.abs((ground - centre - shift) @ axes.T) - (half - radius)
        outside = (
            np.hypot(np.maximum(off[..., 0], 0), np.maximum(off[..., 1], 0)) + np.minimum(off.max(axis=-1), 0) - radius
        )
        return np.asarray(np.clip(0.5 - outside * window.per_mm, 0, 1), dtype=np.float32)

    low = rng.uniform(0.0, HOLLOW_MM)
    top = low + rng.uniform(0.68, 0.84)
    away = rng.uniform(0, 2 * np.pi)
    sun = rng.uniform(0.0, 1.5) * np.array([np.cos(away), np.sin(away)])
    part = light[window.rows, window.columns]
    shade = np.max([covered(0.0, sun * height) for height in (low, (low + top) / 2, top)], axis=0)
    part *= 1 - np.float32(rng.uniform(0.1, 0.7)) * cv2.GaussianBlur(shade, (0, 0), rng.uniform(1.0, 8.0))
    bright = rng.uniform(0.55, 0.98)
    wall = np.max([covered(height, np.zeros(2)) for height in (low, (low + top) / 2, top)], axis=0)
    face = covered(top, np.zeros(2))
    for share, value in ((wall, bright * rng.uniform(0.6, 1.0)), (face, bright)):
        part += share * (np.float32(value) - part)


def one(paper: Paper, seed: int, card: bool) -> tuple[str, bool, tuple[float, ...]]:
    """(outcome, long side along x, (error x, error y, u x, u y))."""
    cv2.setNumThreads(1)
    shown = close_up(paper, np.random.default_rng([seed, 5]), card=card)
    read = card_scale(shown.grey, shown.intrinsics)
    if isinstance(read, Refusal):
        return read.code, shown.long_is_x, (np.nan,) * 4
    number = "" if read.number == NUMBER else ", number unread" if read.number is None else ", WRONG NUMBER"
    axes = "" if None not in read.scale else ", one axis"
    error = [np.nan if got is None else got - true for got, true in zip(read.scale, shown.scale, strict=True)]
    return f"read{axes}{number}", shown.long_is_x, (*error, *(np.nan if u is None else u for u in read.u))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--paper", default="a4")
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    seeds = range(options.seed * 100_000, options.seed * 100_000 + options.pictures)
    if options.keep:
        for seed in seeds:
            cv2.imwrite(
                str(options.keep / f"card-{seed}.jpg"), close_up(options.paper, np.random.default_rng([seed, 5])).grey
            )
        return
    for card in (True, False):
        with ProcessPoolExecutor(options.jobs) as pool:
            count = options.pictures if card else max(1, options.pictures // 4)
            found = list(pool.map(one, [options.paper] * count, seeds, [card] * count))
        print("with a card:" if card else "without one:", dict(Counter(outcome for outcome, _, _ in found)))
        values = np.array([value for _, _, value in found])
        along = np.array([long for _, long, value in found], dtype=bool)
        for name, column, which in (("x", 0, along), ("y", 1, along), ("x", 0, ~along), ("y", 1, ~along)):
            which = which & np.isfinite(values[:, column])
            if not which.any():
                continue
            error, u = values[which, column], values[which, column + 2]
            side = "long" if (name == "x") == bool(along[which][0]) else "short"
            print(
                f"scale {name}, card's {side} side along it, {len(error)} pictures: mean error {100 * error.mean():+.3f} %, "
                f"RMS {100 * np.sqrt((error**2).mean()):.3f} %, u {100 * u.mean():.3f} %, z {np.sqrt(((error / u) ** 2).mean()):.2f}, "
                f"within 2 u {100 * (np.abs(error) < 2 * u).mean():.0f} %"
            )


if __name__ == "__main__":
    main()
