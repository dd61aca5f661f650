"""Where a second upright sheet stands, as a photograph of both tells before anything is solved."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from photomeasure.scene.scene import CameraPrior, PlaneView
from photomeasure.scene.second import Apart
from photomeasure.solution.model import rotation_matrix
from photomeasure.solution.pose_starts import planar_starts


def apart_of(cameras: Sequence[CameraPrior], camera_of: Sequence[int], planes: Collection[PlaneView]) -> Apart | None:
    """From foot to foot in the first photograph that shows both sheets, by their planar poses; None without a second one.

    As exact as the prints' scale: it only weighs how far ground may be from plane.
    """
    second = next((view for view in planes if view.plane == "second-upright"), None)
    first = None if second is None else next(v for v in planes if v.plane == "upright" and v.photo == second.photo)
    if first is None or second is None:
        return None
    intrinsics = cameras[camera_of[first.photo]].mean
    here, there = (planar_starts(view, intrinsics)[0][0] for view in (first, second))
    foot = rotation_matrix(here[:3]).T @ (there[3:] - here[3:])
    return Apart(right_mm=float(foot[0]), away_mm=float(foot[1]))
