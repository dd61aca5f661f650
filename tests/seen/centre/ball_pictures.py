"""A bare ball on its tongue from a stated place, rendered in the part of the picture that holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from photomeasure.seen.centre.ball.ball import Ball, find_ball, view_of
from tests.scenes import Ball as Sphere
from tests.scenes import (
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

Array = NDArray[np.float64]
CENTRE = np.array([40.0, 0.0, 450.0])
FRONT = (300.0, -2000.0, 510.0)
LOOK = Look(exposure=0.5, blur_px=0.9, gamma=2.2, read=0.002, shot=2e-4, grey=True)
SIZE_PX = (660, 500)


def hitch(centre: Array, finish: str = "matt", neck: float = 14.0, diameter_mm: float = 50.0) -> list[Surface]:
    """Ball, neck, flange and tongue."""

    def upright(at: Array) -> Array:
        return frame(at, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])

    return [
        Sphere(centre_mm=centre, diameter_mm=diameter_mm, finish=finish),
        Cylinder(
            world_from_cylinder=upright(centre + np.array([0.0, 0.0, -25.0])),
            radius_mm=neck,
            half_length_mm=24.0,
            finish=finish,
        ),
        Cylinder(
            world_from_cylinder=upright(centre + np.array([0.0, 0.0, -53.0])),
            radius_mm=27.0,
            half_length_mm=5.0,
            finish="steel",
        ),
        Box(
            world_from_box=upright(centre + np.array([60.0, 0.0, -66.0])), half_mm=(100.0, 30.0, 8.0), finish="painted"
        ),
    ]


def backdrop(left: float, right: float) -> Plane:
    """A wall behind, two brightnesses side by side, meeting behind the ball; the ball's own is 1."""
    texture = np.zeros((2, 2), dtype=np.uint8)
    texture[:, 1] = 255
    return Plane(
        texture=np.kron(texture, np.ones((64, 64), dtype=np.uint8)),
        mm_per_texel=(40.0, 40.0),
        world_from_plane=frame([CENTRE[0] - 64 * 40.0, 600.0, -1500.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        reflectance=(left, right),
        exact=False,  # smooth over many pixels: one ray tells each, but beside what stands before it
    )


class Picture:
    """A rendered picture, 660 x 500 pixels about the ball, and the search's view of it."""

    def __init__(self, surfaces: Sequence[Surface], lens_mm: Sequence[float] = FRONT) -> None:
        pose = pose_looking_at(list(lens_mm), [0.0, 0.0, 380.0])
        whole = np.array([3000.0, 3000.0, 2000.0, 1500.0, 0.01, -0.01, 0.0, 0.0, 0.0])
        px = project(Camera(intrinsics=whole, size_px=(4000, 3000), cam_from_world=pose), CENTRE)[0]
        whole[2:4] -= np.floor(px - 0.5 * np.array(SIZE_PX))
        self.camera = Camera(intrinsics=whole, size_px=SIZE_PX, cam_from_world=pose)
        scene = Scene(cameras=(self.camera,), surfaces=tuple(surfaces), light=ambient_only())
        light_map = light_on_sensor(scene, samples=16)
        self.view = view_of(
            develop(light_map, LOOK, np.random.default_rng(7)).reshape(SIZE_PX[::-1]),
            intrinsics=self.camera.intrinsics,
            rotation=self.camera.rotation,
            translation=pose[:3, 3],
            diameter_mm=50.0,
        )
        self.centre_px = project(self.camera, CENTRE)[0]

    def search(self, **changes: object) -> Ball | Refusal:
        """What is found, with fields of the view changed."""
        return find_ball(replace(self.view, **changes))  # type: ignore[arg-type]
