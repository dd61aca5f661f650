"""A wheel: tyre with tread, rim, hub and nuts."""

from __future__ import annotations

import numpy as np

from scene.mesh import Array, Mesh, box, joined, shift, turn
from scene.shapes import bolt, cylinder, lathe
from scene.stage import Stage


def add_wheel(
    stage: Stage,
    world_from_rig: Array,
    *,
    x_mm: float,
    y_mm: float,
    radius_mm: float = 365.0,
    width_mm: float = 235.0,
    rim: str = "rim",
) -> None:
    """Tyre, rim with holes, hub and nuts; the outer side looks away from y = 0."""
    r, w, rim_r = radius_mm, width_mm / 2, radius_mm * 0.56
    groove = 8.0
    tread: list[tuple[float, float]] = []
    for centre in (-0.5, 0.0, 0.5):
        at = centre * w
        tread += [
            (r, at - 0.13 * w),
            (r - groove, at - 0.09 * w),
            (r - groove, at + 0.09 * w),
            (r, at + 0.13 * w),
        ]
    side = [
        (rim_r, 0.72 * w),
        (rim_r + 12, 0.86 * w),
        (rim_r + 0.5 * (r - rim_r), w),
        (r - 26, 0.93 * w),
        (r - 6, 0.80 * w),
    ]
    profile = [(radius, -z) for radius, z in side] + tread + list(reversed(side))
    tyre = lathe(profile, segments=120, crease_deg=28)
    lugs = _lugs(r, w)
    dish = [
        (rim_r + 3, 0.80 * w),
        (rim_r - 6, 0.80 * w),
        (rim_r - 10, 0.45 * w),
        (rim_r * 0.86, 0.30 * w),
        (rim_r * 0.62, 0.42 * w),
        (rim_r * 0.36, 0.46 * w),
        (rim_r * 0.34, 0.62 * w),
        (0, 0.62 * w),
    ]
    inner = [
        (0.0, -0.2 * w),
        (rim_r, -0.2 * w),
        (rim_r, -0.75 * w),
        (rim_r + 3, -0.80 * w),
        (rim_r + 3, 0.80 * w),
    ]
    outward = turn("x", -90) if y_mm > 0 else turn("x", 90)
    to_rig = shift(x_mm, y_mm, radius_mm) @ outward @ turn("z", 17.0)
    stage.add("rubber", tyre.moved(to_rig), lugs.moved(to_rig), world_from=world_from_rig)
    stage.add(
        rim,
        lathe(dish, segments=72).moved(to_rig),
        lathe(inner, segments=72).moved(to_rig),
        world_from=world_from_rig,
    )
    holes, nuts = [], []
    for angle in np.arange(8) * np.pi / 4:
        x, y = 0.72 * rim_r * np.cos(angle), 0.72 * rim_r * np.sin(angle)
        holes.append(cylinder((x, y, 0.2 * w), (x, y, 0.395 * w), 0.10 * rim_r, segments=24))
    for angle in np.arange(6) * np.pi / 3:
        nuts.append(
            bolt(
                (0.46 * rim_r * np.cos(angle), 0.46 * rim_r * np.sin(angle), 0.44 * w), (0, 0, 1), size_mm=21
            )
        )
    stage.add("chassis", *[hole.moved(to_rig) for hole in holes], world_from=world_from_rig)
    stage.add("zinc", *[nut.moved(to_rig) for nut in nuts], world_from=world_from_rig)


def _lugs(radius_mm: float, half_mm: float) -> Mesh:
    """Shoulder blocks of the tread."""
    blocks = []
    for number in range(52):
        block = box(
            (radius_mm - 22, -11, 0.62 * half_mm), (radius_mm + 0.5, 11, 0.90 * half_mm), radius_mm=3, steps=1
        )
        for mirror in (1, -1):
            turned = block.moved(turn("z", number * 360 / 52 + (3.4 if mirror < 0 else 0)))
            blocks.append(turned if mirror > 0 else turned.moved(turn("x", 180)))
    return joined(blocks)
