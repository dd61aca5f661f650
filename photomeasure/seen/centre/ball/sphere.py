"""The picture of a sphere: its exact outline, and the closed formulas of the ellipse that a pinhole camera makes of it.

All rays that touch a sphere of radius R about C make the same angle alpha = asin(R / |C|) with C: a circular cone.
With f the focal length in pixels and theta the angle between C and the optical axis, the cone's two rays in the
plane through C and the axis meet the picture at f tan(theta - alpha) and f tan(theta + alpha), measured from the
principal point. Half their sum and half their difference are the ellipse's middle and its radial semi-axis; with
tan(t + a) +- tan(t - a) = sin 2t, sin 2a over cos(t + a) cos(t - a) and cos(t + a) cos(t - a) = cos^2 a - sin^2 t =
D:

    middle = f sin theta cos theta / D      radial semi-axis = f sin alpha cos alpha / D
    tangential semi-axis = f sin alpha / sqrt(D)
    middle - f tan theta = f tan theta sin^2 alpha / D      (how far the middle lies outside the picture of C)

The tangential one follows from the cone (d . c)^2 = cos^2 alpha |d|^2 with c = (sin theta, 0, cos theta) at d = (m,
y, 1), m = middle / f. The conic itself is the dual of a quadric's: Hartley and Zisserman, Multiple View Geometry,
2nd ed., 8.3 (from memory). Lengths in one unit, pixels as in `calib.camera.camera`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import distorted

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineEllipse:
    """The outline of a sphere in a picture without distortion.

    middle_px (2,): of the ellipse, which is not the picture of the sphere's centre: centre_px (2,). The radial
    semi-axis points at the principal point along radial_direction (2,), the tangential one lies across it.
    """

    middle_px: Array
    centre_px: Array
    radial_px: float
    tangential_px: float
    radial_direction: Array


def outline_ellipse(focal_px: float, principal_px: Array, centre_cam: Array, radius: float) -> OutlineEllipse:
    """Closed formulas of the module for a sphere about centre_cam (3,) in front of a pinhole; ValueError where the
    outline is no ellipse (the sphere reaches the plane of the lens)."""
    distance = float(np.linalg.norm(centre_cam))
    off_axis = float(np.hypot(centre_cam[0], centre_cam[1]))
    sin_a, sin_t, cos_t = radius / distance, off_axis / distance, float(centre_cam[2]) / distance
    d = 1.0 - sin_a**2 - sin_t**2
    if sin_a >= 1.0 or d <= 0.0 or cos_t <= 0.0:
        raise ValueError("the sphere reaches the plane of the lens: its outline is no ellipse")
    outward = centre_cam[:2] / off_axis if off_axis > 0.0 else np.array([1.0, 0.0])
    return OutlineEllipse(
        middle_px=principal_px + outward * (focal_px * sin_t * cos_t / d),
        centre_px=principal_px + outward * (focal_px * sin_t / cos_t),
        radial_px=focal_px * sin_a * float(np.sqrt(1.0 - sin_a**2)) / d,
        tangential_px=focal_px * sin_a / float(np.sqrt(d)),
        radial_direction=outward,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SightLine:
    """The direction to a sphere's centre and two directions across it; unit vectors (3,) in the camera frame.

    up is the world's vertical as it appears across the line of sight; right x up points at the camera.
    """

    forward: Array
    right: Array
    up: Array


def sight_line(centre_cam: Array, vertical_cam: Array) -> SightLine:
    """Frame about a point centre_cam (3,), with the world's vertical vertical_cam (3,) up."""
    forward = centre_cam / np.linalg.norm(centre_cam)
    up = vertical_cam - forward * float(forward @ vertical_cam)
    up = up / np.linalg.norm(up)
    return SightLine(forward=forward, right=np.cross(forward, up), up=up)


def cone_rays(line: SightLine, opening_rad: Array, around_rad: Array) -> Array:
    """Rays (..., 3) at the angle opening_rad from the line of sight, around_rad from right towards up, broadcast (...)."""
    across = np.cos(around_rad)[..., None] * line.right + np.sin(around_rad)[..., None] * line.up
    rays: Array = np.cos(opening_rad)[..., None] * line.forward + np.sin(opening_rad)[..., None] * across
    return rays


def ray_px(intrinsics: Array, rays: Array) -> Array:
    """Pixels (..., 2) of rays (..., 3) in front of the lens; `calib.camera.camera.project` without its derivatives."""
    fx, fy, cx, cy = (float(value) for value in intrinsics[:4])
    xd, yd, _ = distorted(intrinsics[4:], rays[..., 0] / rays[..., 2], rays[..., 1] / rays[..., 2])
    return np.stack([fx * xd + cx, fy * yd + cy], axis=-1)


def outline_px(intrinsics: Array, line: SightLine, distance: float, radius: float, around_rad: Array) -> Array:
    """Exact outline (N, 2) of a sphere at `distance` along a line of sight, at the angles around_rad (N,)."""
    opening = np.full(np.shape(around_rad), np.arcsin(radius / distance))
    return ray_px(intrinsics, cone_rays(line, opening, np.asarray(around_rad, dtype=np.float64)))
