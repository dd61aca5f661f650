"""A photograph's camera as it was solved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import unproject


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedCamera:
    """Where a camera stood: x_cam = cam_from_world @ x_world + world_in_cam_mm.

    intrinsics: (9,) as in `calib.camera.camera`. cam_from_world: (3, 3) rotation. world_in_cam_mm: (3,) the world's origin
    in the camera's frame.
    """

    intrinsics: NDArray[np.float64]
    cam_from_world: NDArray[np.float64]
    world_in_cam_mm: NDArray[np.float64]

    @property
    def lens_mm(self) -> NDArray[np.float64]:
        """(3,) the lens in the world."""
        return np.asarray(-self.cam_from_world.T @ self.world_in_cam_mm)

    def ray(self, px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(3,) direction in the world, of unit depth, in which a pixel (2,) looks."""
        return np.asarray(unproject(self.intrinsics, px[None])[0] @ self.cam_from_world)

    def in_camera_mm(self, world_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 3) points of the world in the camera's frame."""
        return np.asarray(world_mm @ self.cam_from_world.T + self.world_in_cam_mm)
