"""Path tracing through our own lens: every ray leaves through the exact distorted pixel, box-filtered.

The sun is tried at every vertex of a path (a shadow ray into a random point of its disc); the sky is found by the
paths that leave the scene. Light that comes straight from the sun is kept apart from the rest: it carries the sharp
shadows and is nearly free of noise, while the rest is smooth and may be cleaned (`clean.py`).
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from scene.lens import Lens
from scene.noise import Bitmap
from scene.sky import SUN_COLOUR, SUN_RADIUS_RAD, Daylight, direction

_BATCH_PX = 1_500_000
_BRIGHTEST = (
    12.0  # one path's indirect light is cut here, or a single glint would sparkle over its neighbours
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """What one rendering yields, all (H, W, 3) but depth (H, W): means over each pixel's square.

    sun:     light that came straight from the sun (and the sky itself where nothing is hit).
    rest:    everything else.
    albedo:  diffuse reflectance of what is seen; normal: its unit normal; depth: its distance in mm.
    """

    sun: Bitmap
    rest: Bitmap
    albedo: Bitmap
    normal: Bitmap
    depth: Bitmap

    @property
    def radiance(self) -> Bitmap:
        """All the light."""
        return np.asarray(self.sun + self.rest)


def start(variant: str = "llvm_ad_rgb") -> None:
    """Choose the tracer's variant; raises RuntimeError with what to install where LLVM or a graphics card is missing."""
    if variant == "cuda_ad_rgb":
        mi.set_variant(variant)
        return
    usual = "/usr/lib/x86_64-linux-gnu/libLLVM.so.19.1"
    if "DRJIT_LIBLLVM_PATH" not in os.environ and Path(usual).exists():
        os.environ["DRJIT_LIBLLVM_PATH"] = usual
    mi.set_variant(variant)
    try:
        dr.eval(mi.Float(1.0) + mi.Float(2.0))
    except Exception as error:
        raise RuntimeError(
            "the path tracer needs LLVM 19 (Debian: apt install libllvm19; DRJIT_LIBLLVM_PATH names it)"
        ) from error


def trace(
    scene: Any,
    lens: Lens,
    light: Daylight,
    *,
    samples: int,
    seed: int,
    depth: int = 4,
    tell: Callable[[float], None] | None = None,
) -> Layers:
    """The scene through the lens; `samples` rays for each pixel, spread over a grid of cells in it."""
    return trace_window(
        scene,
        lens,
        light,
        (0, 0, lens.width_px, lens.height_px),
        samples=samples,
        seed=seed,
        depth=depth,
        tell=tell,
    )


def trace_window(
    scene: Any,
    lens: Lens,
    light: Daylight,
    window: tuple[int, int, int, int],
    *,
    samples: int,
    seed: int,
    depth: int = 4,
    tell: Callable[[float], None] | None = None,
) -> Layers:
    """A part of the picture: window = (left, top, right, bottom), right and bottom excluded."""
    left, top, right, bottom = window
    rows = max(1, _BATCH_PX // (right - left))
    strips = []
    for first in range(top, bottom, rows):
        last = min(first + rows, bottom)
        strips.append(_strip(scene, lens, light, (left, first, right, last), samples, seed + first, depth))
        if tell is not None:
            tell((last - top) / (bottom - top))
    whole = np.vstack(strips)
    return Layers(
        sun=whole[..., 0:3],
        rest=whole[..., 3:6],
        albedo=whole[..., 6:9],
        normal=whole[..., 9:12],
        depth=whole[..., 12],
    )


def _strip(
    scene: Any,
    lens: Lens,
    light: Daylight,
    window: tuple[int, int, int, int],
    samples: int,
    seed: int,
    depth: int,
) -> Bitmap:
    left, top, right, bottom = window
    width, height = right - left, bottom - top
    sampler = mi.load_dict({"type": "independent"})
    sampler.seed(seed, width * height)
    index = dr.arange(mi.UInt32, width * height)
    column, row = mi.Float(index % width + left), mi.Float(index // width + top)
    across = int(np.sqrt(samples))
    down = samples // across
    totals = [dr.zeros(mi.Float, width * height) for _ in range(13)]
    for number in range(samples):
        spot = _spot(number, across, down, sampler.next_2d())
        seen = _seen(scene, sampler, _ray(lens, column + spot.x, row + spot.y), light, depth)
        totals = [total + value for total, value in zip(totals, seen, strict=True)]
        dr.eval(totals)
        sampler.schedule_state()
    planes = [np.array(total, dtype=np.float32).reshape(height, width) / samples for total in totals]
    return np.stack(planes, axis=-1)


def _spot(number: int, across: int, down: int, sample: Any) -> Any:
    """Where in the pixel (-0.5..0.5) a sample falls: its own cell of a full grid, or anywhere once the grid is full.

    A grid with empty cells would move the whole picture by a few hundredths of a pixel. The cell is kept opaque to the
    compiler, so that one kernel serves all samples.
    """
    gridded = number < across * down
    cell = (number % across, number // across) if gridded else (0, 0)
    size = (1 / across, 1 / down) if gridded else (1.0, 1.0)
    values = [mi.Float(value) for value in (*cell, *size)]
    dr.make_opaque(values)
    return (mi.Point2f(values[0], values[1]) + sample) * mi.Point2f(values[2], values[3]) - 0.5


def _ray(lens: Lens, x_px: Any, y_px: Any) -> Any:
    bent_x, bent_y = (x_px - lens.cx_px) / lens.focal_px, (y_px - lens.cy_px) / lens.focal_px
    flat_x, flat_y = bent_x, bent_y
    for _ in range(8):  # a contraction: the residual falls by about |3 k1 r^2| each time
        square = flat_x * flat_x + flat_y * flat_y
        swell = 1 + lens.k1 * square + lens.k2 * square * square
        flat_x, flat_y = bent_x / swell, bent_y / swell
    across, down, forward = (mi.Vector3f(*(float(v) for v in axis)) for axis in lens.cam_from_world[:3, :3])
    place = mi.Point3f(*(float(v) for v in lens.place_mm))
    ray = mi.RayDifferential3f()
    ray.o, ray.d = place, dr.normalize(across * flat_x + down * flat_y + forward)
    ray.maxt, ray.time, ray.wavelengths = dr.largest(mi.Float), 0.0, []
    return ray


def _to_sun(light: Daylight, sample: Any) -> Any:
    """A direction into a random point of the sun's disc."""
    towards = mi.Vector3f(*(float(v) for v in direction(light.sun_azimuth_deg, light.sun_elevation_deg)))
    disc = mi.warp.square_to_uniform_disk_concentric(sample) * float(np.tan(SUN_RADIUS_RAD))
    return dr.normalize(mi.Frame3f(towards).to_world(mi.Vector3f(disc.x, disc.y, 1.0)))


def _seen(scene: Any, sampler: Any, ray: Any, light: Daylight, depth: int) -> list[Any]:
    """Thirteen planes: sun, rest, albedo, normal (three each) and depth of one ray for each pixel.

    The surface that is seen has its full reflection; those that light it are taken as matt, which costs a fraction.
    """
    power = mi.Color3f(*(light.sun_irradiance * c for c in SUN_COLOUR))
    sky = scene.environment()
    hit = scene.ray_intersect(ray)
    found = hit.is_valid()
    bsdf = hit.bsdf(ray)
    towards = _to_sun(light, sampler.next_2d())
    value, _, chosen, weight = bsdf.eval_pdf_sample(
        mi.BSDFContext(), hit, hit.to_local(towards), sampler.next_1d(), sampler.next_2d(), found
    )
    sun = dr.select(found, value * power, sky.eval(hit, ~found))
    hidden = found & (dr.max(value) > 0)
    hidden &= scene.ray_test(hit.spawn_ray(towards), hidden)
    sun = dr.select(hidden, 0, sun)
    albedo = dr.select(found, dr.clip(bsdf.eval_diffuse_reflectance(hit, found), 0.0, 1.0), 1)
    normal = dr.select(found, hit.sh_frame.n, 0)
    distance = dr.select(found, hit.t, 1e5)
    weight = dr.select(found, weight, 0)
    rest = _gathered(scene, sampler, hit.spawn_ray(hit.to_world(chosen.wo)), weight, light, depth)
    sun, rest = dr.select(dr.isfinite(sun), sun, 0), dr.select(dr.isfinite(rest), rest, 0)
    return [*sun, *rest, *albedo, *normal, distance]


def _gathered(scene: Any, sampler: Any, ray: Any, weight: Any, light: Daylight, depth: int) -> Any:
    """What comes along a ray from the sky and from matt surfaces, over `depth` - 1 more of them."""
    power = mi.Color3f(*(light.sun_irradiance * c for c in SUN_COLOUR))
    sky = scene.environment()
    rest = mi.Color3f(0)
    for vertex in range(1, depth):
        active = dr.max(weight) > 0
        hit = scene.ray_intersect(ray, active)
        out = active & ~hit.is_valid()
        active &= hit.is_valid()
        towards = _to_sun(light, sampler.next_2d())
        normal = dr.select(dr.dot(hit.sh_frame.n, ray.d) > 0, -hit.sh_frame.n, hit.sh_frame.n)
        colour = dr.clip(hit.bsdf(ray).eval_diffuse_reflectance(hit, active), 0.0, 0.9)
        slope = dr.dot(normal, towards)
        lit = active & (slope > 0)
        lit &= ~scene.ray_test(hit.spawn_ray(towards), lit)
        shine = dr.select(lit, colour * power * (slope / dr.pi), 0)
        rest += dr.minimum(weight * dr.select(out, sky.eval(hit, out), shine), _BRIGHTEST)
        weight = dr.select(active, weight * colour, 0)
        if vertex < depth - 1:
            ray = hit.spawn_ray(
                mi.Frame3f(normal).to_world(mi.warp.square_to_cosine_hemisphere(sampler.next_2d()))
            )
    return rest
