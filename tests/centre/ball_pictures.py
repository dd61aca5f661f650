"""A bare ball on its tongue from a stated place, rendered in the part of the picture that holds it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from photomeasure.centre.ball import view_of
from photomeasure.centre.ball_search import View
from tests.scenes import (
    Ball,
    Box,
    Camera,
    Cylinder,
    Look,
    Plane,
    Scene,
    ambient_only,
    frame,
    light_on_sensor,
    pose_looking_at,
    project,
)
from tests.scenes.sensor import develop
from tests.scenes.surfaces import Surface

CENTRE = np.array([40.0, 0.0, 450.0])
LOOK = Look(exposure=0.5, blur_px=0.9, gamma=2.2, read=0.002, shot=2e-4, grey=True)
SIZE_PX = (660, 500)


def bare_hitch(*, neck: bool = True) -> list[Surface]:
    """Ball first; then neck, flange and tongue, or none of them."""

    def upright(at: np.ndarray) -> np.ndarray:
        return frame(at, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])

    below = np.array([0.0, 0.0, -1.0])
    parts: list[Surface] = [Ball(centre_mm=CENTRE, diameter_mm=50.0, finish="matt")]
    if neck:
        for depth, radius, half in ((25.0, 14.0, 24.0), (53.0, 27.0, 5.0)):
            parts.append(
                Cylinder(
                    world_from_cylinder=upright(CENTRE + depth * below),
                    radius_mm=radius,
                    half_length_mm=half,
                    finish="matt",
                )
            )
        at = CENTRE + np.array([60.0, 0.0, -66.0])
        parts.append(Box(world_from_box=upright(at), half_mm=(100.0, 30.0, 8.0), finish="painted"))
    parts.append(
        Plane(
            texture=np.full((128, 128), 90, dtype=np.uint8),
            mm_per_texel=(40.0, 40.0),
            world_from_plane=frame([CENTRE[0] - 64 * 40.0, 600.0, -1500.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
            reflectance=(0.1, 0.8),
        )
    )
    return parts


def view_from(lens_mm: Sequence[float], surfaces: Sequence[Surface]) -> View:
    """The picture from a place, cropped to 660 x 500 pixels about the ball, with its camera."""
    pose = pose_looking_at(list(lens_mm), [0.0, 0.0, 380.0])
    whole = np.array([3000.0, 3000.0, 2000.0, 1500.0, 0.01, -0.01, 0.0, 0.0, 0.0])
    px = project(Camera(intrinsics=whole, size_px=(4000, 3000), cam_from_world=pose), CENTRE)[0]
    whole[2:4] -= np.floor(px - 0.5 * np.array(SIZE_PX))
    camera = Camera(intrinsics=whole, size_px=SIZE_PX, cam_from_world=pose)
    scene = Scene(cameras=(camera,), surfaces=tuple(surfaces), light=ambient_only())
    grey = develop(light_on_sensor(scene, samples=16), LOOK, np.random.default_rng(7)).reshape(SIZE_PX[::-1])
    return view_of(grey, camera.intrinsics, camera.rotation, pose[:3, 3], 50.0, ())
