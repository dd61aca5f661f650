"""A scene with its truth, and the picture of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .camera import Camera, FloatArray, project, read_only
from .ground import Backdrop, Ground
from .light import Light
from .sensor import Look, delivered_px, develop
from .surfaces import Surface
from .trace import Stage, trace


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedSheet:
    """Where a printed page lies in the world.

    role:             "upright", "ground" or "centre-tag".
    world_from_page:  (4, 4) from page coordinates as designed (mm, x right, y up from the page's bottom-left
                      corner, z towards the viewer) to the world; the print's scale is inside.
    """

    role: str
    world_from_page: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "world_from_page", read_only(self.world_from_page, (4, 4)))

    def world_mm(self, page_mm: ArrayLike) -> FloatArray:
        """(N, 2) points of the page -> (N, 3) in the world."""
        page = np.asarray(page_mm, dtype=np.float64).reshape(-1, 2)
        return page @ self.world_from_page[:3, :2].T + self.world_from_page[:3, 3]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What a measurement should find.

    height_mm:   coupling centre above the ground straight below it.
    centre_mm:   (3,) in the world.
    nuisance:    every other value drawn, unit in the name.
    """

    height_mm: float
    centre_mm: FloatArray
    coupled: bool = False
    condition: str = ""
    nuisance: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything in front of the lens, one camera per photograph, and the truth about it.

    look is the phone that took the photographs; exif what it wrote into them, None if that was stripped.
    """

    cameras: tuple[Camera, ...]
    surfaces: tuple[Surface, ...]
    light: Light
    ground: Ground | None = None
    backdrop: Backdrop | None = None
    sheets: tuple[PlacedSheet, ...] = ()
    truth: Truth | None = None
    look: Look = field(default_factory=Look)
    exif: Mapping[str, str | float | int] | None = None

    def sheet(self, role: str) -> PlacedSheet:
        """The sheet of a role; KeyError if the scene has none."""
        for placed in self.sheets:
            if placed.role == role:
                return placed
        raise KeyError(role)

    def picture_px(self, points_mm: ArrayLike, *, photo: int = 0, look: Look | None = None) -> FloatArray:
        """(N, 3) world points -> (N, 2) pixels of the delivered picture."""
        camera = self.cameras[photo]
        return delivered_px(project(camera, points_mm), camera.size_px, look or self.look)

    def centre_px(self, *, photo: int = 0, look: Look | None = None) -> FloatArray:
        """(2,) coupling centre in the delivered picture."""
        if self.truth is None:
            raise ValueError("this scene has no coupling")
        return np.asarray(self.picture_px(self.truth.centre_mm, photo=photo, look=look)[0])


def light_on_sensor(scene: Scene, *, photo: int = 0, grey: bool = True, samples: int = 25) -> NDArray[np.float32]:
    """(h, w, channels) linear light, averaged over each pixel, before any lens or sensor."""
    stage = Stage(scene.cameras[photo], scene.surfaces, scene.light, scene.ground, scene.backdrop, grey=grey)
    return trace(stage, samples=samples)


def render(scene: Scene, look: Look | None, rng: np.random.Generator, *, photo: int = 0) -> NDArray[np.uint8]:
    """The picture: (h, w, 3) blue, green, red, or (h, w) where the look is grey.

    look None takes the scene's own.
    """
    look = look or scene.look
    light = light_on_sensor(scene, photo=photo, grey=look.grey, samples=look.samples)
    return develop(light, look, rng)
