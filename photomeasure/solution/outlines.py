"""Outlines of the ball as whitened residuals with exact derivatives: of all photographs, and at several parameters, by one pass.

A ray d touches the sphere of radius r about C where the angle between d and C is asin(r / |C|): the exact cone, so an
ellipse's centre never enters. Angles are turned into pixels by the focal length. `ball.edge` is a common shift of all edge
points of one outline (blooming, tone curve, blur), which keeps the radius from claiming a depth it cannot know.

An outline is some dozens of points, and what its arithmetic costs is mostly the calling of it: so all of them go together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import unproject, unproject_slope
from photomeasure.scene.scene import CENTRE, OutlineView, Scene, edge_of
from photomeasure.solution.model import Layout, Photographed

Array = NDArray[np.float64]

_IN_THE_LENS = 1e-9  # mm: a step of the search may put the centre there


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlined:
    """One outline of N points at the parameters x (P,), and where it is written: residual (N,), jacobian zeros (N, P)."""

    view: OutlineView
    photo: Photographed
    x: Array
    residual: Array
    jacobian: Array


def write_outlines(scene: Scene, where: Layout, asked: Sequence[Outlined]) -> None:
    """Write how far the pixels of each outline lie inside the sphere's outline, in their standard uncertainties, and its derivative."""
    spheres = [_sphere(scene, where, one) for one in asked]
    counts = [len(one.view.px) for one in asked]
    table = np.array([sphere.shared for sphere in spheres])
    # of each point; of a single outline, of all points
    of_point = table[0] if len(asked) == 1 else np.repeat(table.T, counts, axis=1)
    lens, (right, down, ahead, length_c, focal, limit, by_limit, edge, half_x, half_y) = of_point[:9], of_point[9:]
    per_sigma = 1.0 / np.concatenate([one.view.sigma_px for one in asked])
    rays = unproject(lens, np.concatenate([one.view.px for one in asked]))
    across, below = rays[:, 0], rays[:, 1]
    per_length = 1.0 / np.sqrt(across * across + below * below + 1.0)
    cosine = (right * across + down * below + ahead) * per_length
    crossed = below * ahead - down, right - across * ahead, across * down - below * right  # d x C
    sine = np.sqrt(crossed[0] * crossed[0] + crossed[1] * crossed[1] + crossed[2] * crossed[2]) * per_length
    off = np.arctan2(sine, cosine) - limit
    residual = (edge - focal * off) * per_sigma

    per_sine = focal * per_sigma / sine
    turned, along, by_focal = per_sine * per_length, cosine * per_length, off * per_sigma
    # d angle / d C, minus d limit / d C: by how much along d, of z = 1, and along C
    by_c = np.empty((len(rays), 4))
    by_c[:, 2] = turned / length_c
    by_c[:, 0], by_c[:, 1] = by_c[:, 2] * across, by_c[:, 2] * below
    by_c[:, 3] = (cosine * per_sine + by_limit * per_sigma) / -length_c
    by_ray = np.empty((len(rays), 2))
    by_ray[:, 0], by_ray[:, 1] = (across * along - right) * turned, (below * along - down) * turned
    by_lens = unproject_slope(lens, rays, by_ray)
    by_lens[:, 0] += by_focal * half_x
    by_lens[:, 1] += by_focal * half_y

    end = 0
    for one, sphere, count in zip(asked, spheres, counts, strict=True):
        own, end = slice(end, end + count), end + count
        one.residual[:] = residual[own]
        photo, moved = one.view.photo, by_c[own] @ sphere.by_parameters
        one.jacobian[:, where.pose(photo)] = moved[:, :6]
        one.jacobian[:, sphere.at] = moved[:, 6:]
        one.jacobian[:, where.camera(scene, photo)] = by_lens[own] @ -scene.cameras[scene.camera_of[photo]].basis
        one.jacobian[:, where.index["ball.radius"]] = sphere.by_radius * per_sigma[own]
        one.jacobian[:, where.index[edge_of(photo)]] = per_sigma[own]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sphere:
    """What all points of one outline share.

    shared (19,): the lens and what `write_outlines` names. at (3,): where the centre stands in the parameters. by_parameters
    (4, 9): what a move of the centre in the camera's frame, right, down, ahead and along itself, is by pose and centre.
    by_radius: of the limit, in pixels.
    """

    shared: list[float]
    at: NDArray[np.int64]
    by_parameters: Array
    by_radius: float


def _sphere(scene: Scene, where: Layout, one: Outlined) -> _Sphere:
    photo, at = one.photo, where.at(*scene.names(CENTRE, before=one.view.before))
    centre = one.x[at]
    c = photo.turn @ centre + photo.move
    radius, edge = one.x[where.at("ball.radius", edge_of(one.view.photo))].tolist()
    lens = photo.intrinsics.tolist()
    length_c, focal = max(math.sqrt(c @ c), _IN_THE_LENS), math.sqrt(lens[0] * lens[1])
    limit = math.asin(min(max(radius / length_c, -1.0), 1.0))
    by_radius = focal / math.sqrt(max(length_c * length_c - radius * radius, 1e-12))
    halves = 0.5 * math.sqrt(lens[1] / lens[0]), 0.5 * math.sqrt(lens[0] / lens[1])
    by_move = np.concatenate([(photo.d_turn @ centre).T, np.eye(3), photo.turn], axis=1)
    unit_c = c / length_c
    return _Sphere(
        shared=[*lens, *unit_c.tolist(), length_c, focal, limit, radius * by_radius, edge, *halves],
        at=at,
        by_parameters=np.concatenate([by_move, unit_c[None] @ by_move]),
        by_radius=by_radius,
    )
