"""An invented phone: its lens, where it is held, and what it makes of the light."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from . import conditions as c
from .camera import FloatArray
from .conditions import Condition
from .light import Light, irradiance
from .sensor import Look

FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))


def draw_lens(rng: np.random.Generator, size_px: tuple[int, int]) -> tuple[FloatArray, Mapping[str, str | float | int]]:
    """(9,) intrinsics, and the EXIF that such a phone writes: nominal, rounded, by the diagonal.

    The residual distortion is a mix of k1 and k2 whose largest shift within 80 % of the half diagonal is drawn from the
    published spread; the principal point is Laplace.
    """
    width, height = size_px
    long_side, diagonal = max(size_px), float(np.hypot(width, height))
    nominal_mm = rng.uniform(*c.FOCAL_35MM)
    focal = nominal_mm / FULL_FRAME_DIAGONAL_MM * diagonal * (1.0 + c.FOCAL_UNITS * rng.standard_normal())
    cx, cy = 0.5 * (np.array(size_px) - 1.0) + rng.laplace(scale=c.PRINCIPAL_SCALE * long_side, size=2)
    largest_px = c.DISTORTION_MEDIAN_PX * np.exp(c.DISTORTION_LOG_SD * rng.standard_normal()) * long_side / 4000.0
    r = np.linspace(0.0, 0.8 * 0.5 * diagonal / focal, 200)
    mix = rng.standard_normal(2) * [1.0, 0.5]
    shape = mix[0] * (r / r[-1]) ** 3 + mix[1] * (r / r[-1]) ** 5
    mix *= largest_px / focal / np.abs(shape).max()
    k1, k2 = mix[0] / r[-1] ** 3, mix[1] / r[-1] ** 5
    p1, p2 = c.TANGENTIAL * rng.standard_normal(2)
    exif: dict[str, str | float | int] = {
        "Make": "Ferncombe",
        "Model": "Yard phone 1",
        "FocalLength": round(nominal_mm * 0.22, 2),
        "FocalLengthIn35mmFilm": round(nominal_mm),
    }
    return np.array([focal, focal, cx, cy, k1, k2, p1, p2, 0.0]), exif


def draw_light(rng: np.random.Generator, condition: Condition) -> Light:
    """Overcast or sunny; the sun stands somewhere before the sheet where it must shine on it."""
    sunny = bool(rng.random() < 0.5) if condition.sun is None else condition.sun
    azimuth = rng.uniform(-1.2, 1.2) if condition.sun else rng.uniform(-np.pi, np.pi)
    altitude = rng.uniform(0.45, 1.1)
    flat = np.cos(altitude)
    sun_direction = np.array([flat * np.sin(azimuth), -flat * np.cos(azimuth), np.sin(altitude)])
    sky = rng.uniform(0.25, 0.45) if sunny else 1.0
    return Light(sun_direction=sun_direction, sun=rng.uniform(0.7, 1.2) if sunny else 0.0, sky=sky)


def draw_look(rng: np.random.Generator, condition: Condition, light: Light, size_px: tuple[int, int]) -> Look:
    """Sensor and processing; white paper facing the viewer comes out just below white, or far above it."""
    on_sheet = float(irradiance(light, np.array([[0.0], [-1.0], [0.0]]), 1.0)[0])
    level = rng.uniform(1.8, 3.5) if condition.overexposed else rng.uniform(0.55, 0.9)
    per_4000 = max(size_px) / 4000.0
    return Look(
        exposure=level / (0.85 * on_sheet),
        vignetting=rng.uniform(0.05, 0.3),
        blur_px=rng.uniform(0.6, 1.1) * max(per_4000, 0.6),
        halo=rng.uniform(0.08, 0.2) if condition.overexposed else rng.uniform(0.0, 0.04),
        halo_px=rng.uniform(6.0, 14.0) * per_4000,
        motion_px=rng.uniform(0.3, 1.5) * per_4000 if rng.random() < 0.3 else 0.0,
        motion_rad=rng.uniform(0.0, np.pi),
        shot=rng.uniform(1e-4, 4e-4),
        read=rng.uniform(0.002, 0.005),
        gamma=2.2,
        contrast=rng.uniform(0.1, 0.5),
        sharpen=rng.uniform(0.2, 0.9),
        sharpen_px=rng.uniform(0.9, 1.5),
        long_side_px=1600 if condition.shrunk else None,
        jpeg_quality=70 if condition.shrunk else int(rng.integers(88, 96)),
    )
