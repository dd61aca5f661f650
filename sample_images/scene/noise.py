"""Tileable noise from a shaped spectrum, and the bitmaps of the yard's surfaces made of it (linear reflectance)."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

Bitmap = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """rgb: (H, W, 3) linear reflectance; tile_mm: the side of the square that the bitmap covers and repeats."""

    rgb: Bitmap
    tile_mm: float


def fractal(rng: np.random.Generator, size: int, *, coarse: float, fine: float, slope: float = 1.0) -> Bitmap:
    """Noise of zero mean and unit deviation, (size, size), whose wavelengths lie between `fine` and `coarse` texels."""
    if fine >= 8 and size >= 1024:  # nothing small in it: a quarter of the size is enough
        small = fractal(rng, size // 4, coarse=coarse / 4, fine=fine / 4, slope=slope)
        wide = cv2.resize(np.pad(small, 2, mode="wrap"), None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
        return np.asarray(wide[8:-8, 8:-8], dtype=np.float32)
    spectrum = fft.rfft2(rng.standard_normal((size, size), dtype=np.float32))
    wave = np.hypot(fft.fftfreq(size)[:, None], fft.rfftfreq(size)[None, :]).astype(np.float32)
    wave[0, 0] = 1.0
    shape = wave ** (-slope) * np.exp(-((wave * fine) ** 2)) * (1 - np.exp(-((wave * coarse) ** 2)))
    shape[0, 0] = 0.0
    field = fft.irfft2(spectrum * shape.astype(np.float32), s=(size, size))
    return np.asarray(field / field.std(), dtype=np.float32)


def step(field: Bitmap, low: float, high: float) -> Bitmap:
    """Smooth 0..1 between two levels."""
    t = np.clip((field - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3 - 2 * t), dtype=np.float32)


def blend(base: Bitmap, other: tuple[float, float, float], amount: Bitmap) -> Bitmap:
    """`base` (H, W, 3) going over to one colour where `amount` (H, W) is 1."""
    return np.asarray(base + amount[..., None] * (np.array(other, np.float32) - base), dtype=np.float32)


def plain(colour: tuple[float, float, float], size: int) -> Bitmap:
    """One colour everywhere."""
    return np.tile(np.array(colour, np.float32), (size, size, 1))


def concrete(
    rng: np.random.Generator, *, size: int, tile_mm: float, joints: bool, tint: float = 1.0
) -> Surface:
    """A worn, broom-finished slab with stains, pores, a few cracks and (at the tile's edge) sawn joints."""
    texel = tile_mm / size
    grain = fractal(rng, size, coarse=14 / texel, fine=0.8, slope=0.25)
    blotch = fractal(rng, size, coarse=1800 / texel, fine=30 / texel, slope=1.3)
    broom = cv2.GaussianBlur(
        rng.standard_normal((size, size), dtype=np.float32), (0, 0), sigmaX=60 / texel, sigmaY=1.2
    )
    grey = 0.33 * tint * (1 + 0.08 * blotch + 0.15 * grain + 0.05 * broom / broom.std())
    rgb = grey[..., None] * np.array([1.03, 1.0, 0.94], np.float32)
    pores = step(fractal(rng, size, coarse=9 / texel, fine=2 / texel, slope=0.0), 2.7, 3.4)
    rgb = blend(rgb, (0.09, 0.085, 0.08), 0.8 * pores)
    damp = step(fractal(rng, size, coarse=2600 / texel, fine=60 / texel, slope=1.6), 1.1, 2.2)
    rgb = rgb * (1 - 0.25 * damp[..., None])
    rgb = _oil_spots(rng, rgb, texel)
    crack = np.abs(fractal(rng, size, coarse=2200 / texel, fine=6 / texel, slope=1.35))
    rgb = rgb * (1 - 0.5 * (1 - step(crack, 0.002, 0.012)) * step(blotch, 0.3, 1.2))[..., None]
    if joints:
        width = max(2, round(7 / texel))
        rgb[:width], rgb[:, :width] = rgb[:width] * 0.25, rgb[:, :width] * 0.25
    return Surface(rgb=np.clip(rgb, 0.02, 0.7).astype(np.float32), tile_mm=tile_mm)


def _oil_spots(rng: np.random.Generator, rgb: Bitmap, texel_mm: float) -> Bitmap:
    size = len(rgb)
    mask = np.zeros((size, size), np.float32)
    for _ in range(int(9 * (size * texel_mm / 4000) ** 2) + 2):
        x, y = rng.uniform(0, size, 2)
        radius = rng.gamma(2.0, 26.0) / texel_mm
        cv2.ellipse(
            mask,
            (int(x), int(y)),
            (int(radius) + 1, int(radius * rng.uniform(0.6, 1)) + 1),
            rng.uniform(0, 180),
            0,
            360,
            rng.uniform(0.3, 0.8),
            -1,
        )
    soft = cv2.GaussianBlur(mask, (0, 0), 9 / texel_mm)
    soft = soft * (1 + 0.35 * fractal(rng, size, coarse=70 / texel_mm, fine=4 / texel_mm))
    return blend(rgb, (0.07, 0.065, 0.06), np.asarray(np.clip(soft, 0, 0.85), dtype=np.float32))


def dusty(
    rng: np.random.Generator,
    colour: tuple[float, float, float],
    *,
    dust: float,
    tile_mm: float = 2500.0,
    size: int = 1024,
) -> Surface:
    """A painted or moulded surface under road dust, with a few scuffs."""
    texel = tile_mm / size
    film = 0.25 + 0.5 * step(fractal(rng, size, coarse=1400 / texel, fine=9 / texel, slope=1.6), -2.2, 3.2)
    film = film * (1 + 0.10 * fractal(rng, size, coarse=20 / texel, fine=1, slope=0.3))
    rgb = blend(plain(colour, size), (0.30, 0.26, 0.20), dust * film)
    scuff = step(fractal(rng, size, coarse=60 / texel, fine=4 / texel, slope=0.6), 2.6, 3.2)
    return Surface(rgb=blend(rgb, (0.2, 0.19, 0.18), 0.4 * dust * scuff), tile_mm=tile_mm)


def rusty(
    rng: np.random.Generator,
    colour: tuple[float, float, float],
    *,
    rust: float,
    tile_mm: float = 500.0,
    size: int = 1024,
) -> Surface:
    """Bare or painted steel with rust coming through; `rust` 0..1 is about the share that has gone."""
    texel = tile_mm / size
    field = fractal(rng, size, coarse=130 / texel, fine=2 / texel, slope=1.0)
    where = step(field, 1.4 - 2.6 * rust, 2.1 - 2.6 * rust)
    depth = fractal(rng, size, coarse=30 / texel, fine=1, slope=0.7)
    red = np.array([0.20, 0.085, 0.035], np.float32) * (1 + 0.35 * depth[..., None])
    worn = plain(colour, size) * (1 + 0.06 * depth[..., None])
    rgb = worn + where[..., None] * (red - worn)
    return Surface(rgb=np.clip(rgb, 0.01, 0.9).astype(np.float32), tile_mm=tile_mm)


def galvanised(rng: np.random.Generator, *, tile_mm: float = 300.0, size: int = 1024) -> Surface:
    """Zinc spangle: cells of slightly different grey."""
    seeds = rng.uniform(0, size, (420, 2))
    tones = rng.uniform(0.42, 0.60, 420).astype(np.float32)
    seeds = np.vstack([seeds + np.array([dx, dy]) for dx in (-size, 0, size) for dy in (-size, 0, size)])
    from scipy.spatial import cKDTree

    grid = np.stack(np.meshgrid(np.arange(size), np.arange(size)), axis=-1).reshape(-1, 2)
    warp = 9 * np.stack([fractal(rng, size, coarse=60, fine=4).ravel() for _ in range(2)], axis=1)
    cell = cKDTree(seeds).query(grid + warp)[1] % 420
    grey = tones[cell].reshape(size, size)
    white = step(fractal(rng, size, coarse=500, fine=6, slope=1.2), 0.9, 2.4)
    rgb = grey[..., None] * np.array([0.97, 1.0, 1.03], np.float32)
    return Surface(rgb=blend(rgb, (0.62, 0.62, 0.6), 0.6 * white), tile_mm=tile_mm)


def timber(rng: np.random.Generator, *, tile_mm: float = 400.0, size: int = 1024) -> Surface:
    """Plywood or sawn pine, grain along v."""
    ring = cv2.GaussianBlur(fractal(rng, size, coarse=300, fine=14), (0, 0), sigmaX=1.0, sigmaY=70)
    fibre = cv2.GaussianBlur(
        rng.standard_normal((size, size)).astype(np.float32), (0, 0), sigmaX=0.8, sigmaY=40
    )
    band = 0.5 + 0.5 * np.sin(9 * ring / ring.std() + 0.7 * fibre / fibre.std())
    rgb = blend(plain((0.52, 0.36, 0.20), size), (0.33, 0.19, 0.09), (0.55 * band).astype(np.float32))
    grey = step(fractal(rng, size, coarse=400, fine=5, slope=1.2), 0.2, 2.2)
    return Surface(rgb=blend(rgb, (0.30, 0.27, 0.23), 0.5 * grey), tile_mm=tile_mm)
