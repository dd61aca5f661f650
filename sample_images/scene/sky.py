"""Sun, sky and clouds as one environment picture: world x right, y away, z up; azimuth clockwise from y."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import mitsuba as mi
import numpy as np

from scene.mesh import Array
from scene.noise import Bitmap, fractal, step

SUN_RADIUS_RAD = float(np.deg2rad(0.30))  # the real disc has 0.27
SUN_COLOUR = (1.06, 1.0, 0.90)


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """Where the sun stands, how strong it is against the sky, and how much cloud there is (0 clear .. 1 overcast)."""

    sun_azimuth_deg: float = 215.0
    sun_elevation_deg: float = 48.0
    sun_irradiance: float = 12.0  # against a zenith sky radiance of about 1
    cloud: float = 0.35
    seed: int = 1


def direction(azimuth_deg: float, elevation_deg: float) -> Array:
    """Unit vector (3,) towards a point of the sky."""
    azimuth, elevation = np.deg2rad(azimuth_deg), np.deg2rad(elevation_deg)
    return np.array(
        [np.sin(azimuth) * np.cos(elevation), np.cos(azimuth) * np.cos(elevation), np.sin(elevation)]
    )


def sky_picture(light: Daylight, *, height: int = 1024) -> Bitmap:
    """(height, 2 height, 3) radiance, row 0 at the zenith, column 0 at azimuth 0."""
    width = 2 * height
    polar = (np.arange(height) + 0.5) / height * np.pi
    azimuth = (np.arange(width) + 0.5) / width * 2 * np.pi
    up = np.cos(polar)[:, None] * np.ones(width)
    look = np.stack(
        [np.sin(polar)[:, None] * np.sin(azimuth), np.sin(polar)[:, None] * np.cos(azimuth), up], axis=-1
    )
    sun = direction(light.sun_azimuth_deg, light.sun_elevation_deg)
    off_sun = np.arccos(np.clip(look @ sun, -1, 1))
    haze = np.exp(-np.maximum(up, 0) / 0.16)[..., None]
    blue, pale = np.array([0.34, 0.62, 1.18]), np.array([1.25, 1.42, 1.60])
    rgb = blue * (1 - haze) + pale * haze
    rgb = rgb * (1 + 1.6 * np.exp(-off_sun / 0.28) + 0.4 * np.cos(off_sun) ** 2)[..., None]
    rgb = _with_clouds(rgb, light, off_sun, up)
    below = step((-up).astype(np.float32), 0.0, 0.02)[..., None]
    return np.asarray(rgb * (1 - below) + below * np.array([0.30, 0.29, 0.27]), dtype=np.float32)


def _with_clouds(rgb: Array, light: Daylight, off_sun: Array, up: Array) -> Array:
    height = len(rgb)
    rng = np.random.default_rng(light.seed)
    field = np.hstack([fractal(rng, height, coarse=height / 3, fine=3, slope=1.45)] * 2)
    level = 1.9 - 3.4 * light.cloud
    cover = step(field, level, level + 0.9)
    if light.cloud >= 0.95:
        cover = 0.9 + 0.1 * cover
    shade = 1.75 - 0.45 * step(field, level + 0.4, level + 2.2) + 0.6 * np.exp(-off_sun / 0.4)
    white = shade[..., None] * np.array([1.0, 1.0, 1.03]) * (0.62 if light.cloud >= 0.95 else 1.0)
    amount = (cover * np.clip(up / 0.12, 0.25, 1.0) * 0.92)[..., None]
    return np.asarray(rgb * (1 - amount) + white * amount)


def emitters(light: Daylight) -> dict[str, Any]:
    """The sky as an environment (its own y is our z); the sun is no part of it, the tracer aims at it."""
    return {
        "sky": {
            "type": "envmap",
            "bitmap": mi.Bitmap(sky_picture(light)),
            "to_world": mi.ScalarTransform4f().rotate([1, 0, 0], 90),
        }
    }
