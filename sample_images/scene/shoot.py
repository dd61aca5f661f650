"""Taking the picture: few rays everywhere, many on the prints and the ball, then what the phone makes of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scene.clean import cleaned
from scene.lens import Lens, aimed, focal_px
from scene.mesh import Array
from scene.noise import Bitmap
from scene.phone import Phone, developed
from scene.rigs import Shot
from scene.sky import Daylight
from scene.staging import Staged, window
from scene.tracer import trace, trace_window


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One phone: what its maker says (35 mm-equivalent) and how this unit differs from it. Landscape sensor."""

    width_px: int = 4000
    height_px: int = 3000
    focal_35mm: int = 26
    focal_factor: float = 1.012
    off_centre: tuple[float, float] = (0.0022, -0.0016)  # principal point off the middle, shares of the width
    k1: float = 0.0042
    k2: float = -0.001

    def lens(self, shot: Shot) -> Lens:
        """Its lens where the shot is taken from, portrait if the shot is."""
        width, height = self.width_px, self.height_px
        lens = Lens(
            width_px=width,
            height_px=height,
            focal_px=self.focal_factor * focal_px(self.focal_35mm, width, height),
            cx_px=(width - 1) / 2 + self.off_centre[0] * width,
            cy_px=(height - 1) / 2 + self.off_centre[1] * width,
            k1=self.k1,
            k2=self.k2,
            cam_from_world=aimed(shot.place_mm, shot.at_mm, roll_deg=shot.roll_deg),
        )
        return lens.upright() if shot.portrait else lens


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Rays for each pixel: everywhere, on the prints, on the ball."""

    everywhere: int = 8
    prints: int = 40
    ball: int = 96


def exposed(
    scene: Any,
    staged: Staged,
    lens: Lens,
    light: Daylight,
    effort: Effort,
    *,
    seed: int,
    tell: Callable[[float], None] | None = None,
) -> Bitmap:
    """Radiance (H, W, 3) of the whole picture."""
    picture = cleaned(trace(scene, lens, light, samples=effort.everywhere, seed=seed, tell=tell))
    for number, corners in enumerate(staged.prints_mm):
        _retaken(
            picture,
            scene,
            lens,
            light,
            window(lens, corners, 0.06),
            effort.prints,
            seed + 7001 + number,
            levels=2,
        )
    ball_mm = staged.centre_mm + np.array(
        [[x, y, z] for x in (-26, 26) for y in (-26, 26) for z in (-50, 26)], float
    )
    _retaken(picture, scene, lens, light, window(lens, ball_mm, 0.25), effort.ball, seed + 9001, levels=1)
    return picture


def _retaken(
    picture: Bitmap,
    scene: Any,
    lens: Lens,
    light: Daylight,
    part: tuple[int, int, int, int],
    samples: int,
    seed: int,
    *,
    levels: int,
) -> None:
    """Replace a part of the picture by a better rendering of it."""
    left, top, right, bottom = part
    if samples > 0 and right > left and bottom > top:
        layers = trace_window(scene, lens, light, part, samples=samples, seed=seed)
        picture[top:bottom, left:right] = cleaned(layers, levels=levels, sharpness=3.0)


def photographed(radiance: Bitmap, phone: Phone, seed: int) -> NDArray[np.uint8]:
    """(H, W, 3) 8-bit picture as a person sees it."""
    return developed(radiance, phone, np.random.default_rng(seed))


def pointed_at(lens: Lens, point_mm: Array) -> tuple[float, float]:
    """Where a world point is in the picture as a person sees it."""
    x, y = lens.project(point_mm[None])[0]
    return float(x), float(y)
