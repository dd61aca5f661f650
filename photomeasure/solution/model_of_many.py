"""The residuals of `rows` at many parameter vectors at once, without derivatives: what Monte Carlo calls most.

It is the reference, one vector at a time; the tests hold this against it for every kind of view. Shapes: n vectors
of P parameters, N points of a view.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import distorted
from photomeasure.scene.scene import CENTRE, LineView, MarkerView, OutlineView, PlaneName, PlaneView, Scene, edge_of
from photomeasure.solution.model import LINE_PARAMETERS, Layout, parameters_of
from photomeasure.solution.rows import prior_rows

Array = NDArray[np.float64]

_ROUNDS = 60
_SAME_RAY = 1e-11  # of the focal length: far below a millionth of a pixel


def residuals(scene: Scene, where: Layout, x: Array) -> Array:
    """(n, R) whitened residuals at the parameters x (n, P), in the order of `rows.rows`."""
    poses = [_pose(where, x, photo) for photo in range(scene.n_photos)]
    cameras = [_intrinsics(scene, where, x, photo) for photo in range(scene.n_photos)]

    def misses(photo: int, world: Array, px: Array, sigma: Array) -> Array:
        turn, move = poses[photo]
        in_camera = world @ turn.transpose(0, 2, 1) + move[:, None, :]
        seen = _pixels(cameras[photo], in_camera[:, :, :2] / in_camera[:, :, 2:])
        return ((px - seen) / sigma[:, None]).reshape(len(x), -1)

    parts = [
        misses(view.photo, plane_points_of_many(scene, where, x, view), view.px, view.sigma_px) for view in scene.planes
    ]

    def centre(before: bool) -> Array:
        return x[:, where.at(*scene.names(CENTRE, before=before))]

    for point in scene.points:
        seen_at = centre(point.before)[:, None, :]
        parts.append(misses(point.photo, seen_at, point.px[None], np.array([point.sigma_px])))
    for seen in scene.markers:
        parts.append(misses(seen.photo, _marker_points(where, x, seen), seen.px, seen.total_px))
    for outline in scene.outlines:
        turn, move = poses[outline.photo]
        in_camera = (turn @ centre(outline.before)[:, :, None])[:, :, 0] + move
        parts.append(_outline(where, x, outline, cameras[outline.photo], in_camera))
    parts += [misses(line.photo, _line_points(where, x, line), line.px, line.sigma_px) for line in scene.lines]
    at_zero, slope, _ = prior_rows(scene, where, np.zeros(x.shape[1]))  # linear
    return np.concatenate([*parts, at_zero + x @ slope.T], axis=1)


def _pose(where: Layout, x: Array, photo: int) -> tuple[Array, Array]:
    """Rotations (n, 3, 3) and translations (n, 3) of a photograph, camera from world."""
    pose = x[:, where.pose(photo)]
    return turns_of(pose[:, :3]), pose[:, 3:]


def turns_of(vectors: Array) -> Array:
    """(n, 3, 3) rotations of rotation vectors (n, 3): `cv2.Rodrigues` of each, to the last bit.

    scipy's Rotation goes through quaternions, which moves the last digits of what is drawn; this is thirty times as fast
    as OpenCV one by one. Source: OpenCV's documentation of Rodrigues.
    """
    angle = np.sqrt(vectors[:, 0] * vectors[:, 0] + vectors[:, 1] * vectors[:, 1] + vectors[:, 2] * vectors[:, 2])
    turning = angle >= np.finfo(np.float64).eps
    axis = vectors * np.where(turning, 1.0 / np.where(turning, angle, 1.0), 0.0)[:, None]
    cos, sin = np.cos(angle), np.sin(angle)
    turns = np.empty((len(vectors), 3, 3))
    for i in range(3):
        for j in range(3):
            outer = (1.0 - cos) * (axis[:, i] * axis[:, j])
            k = 3 - i - j  # the third axis, where i and j are two
            turns[:, i, j] = cos + outer if i == j else outer + sin * (axis[:, k] if (j - i) % 3 == 2 else -axis[:, k])
    return turns


def _intrinsics(scene: Scene, where: Layout, x: Array, photo: int) -> Array:
    """(n, 9) intrinsics of a photograph."""
    camera = scene.cameras[scene.camera_of[photo]]
    result: Array = camera.mean + x[:, where.camera(scene, photo)] @ camera.basis.T
    return result


def _pixels(intrinsics: Array, rays: Array) -> Array:
    """(n, N, 2) pixels of rays (n, N, 2), x / z and y / z, each row with its own intrinsics (n, 9): `calib.camera.camera`'s model."""
    fx, fy, cx, cy = (column[:, None] for column in intrinsics[:, :4].T)
    across, down, _ = distorted(intrinsics[:, 4:].T[:, :, None], rays[:, :, 0], rays[:, :, 1])
    return np.stack([fx * across + cx, fy * down + cy], axis=2)


def _rays(intrinsics: Array, px: Array) -> Array:
    """(n, N, 3) rays, z = 1, of the same pixels (N, 2) in each row: the distortion is small, so it is taken off in rounds."""
    focal = intrinsics[:, None, :2]
    rays = np.ones((len(intrinsics), len(px), 3))
    rays[:, :, :2] = (px - intrinsics[:, None, 2:4]) / focal
    for _ in range(_ROUNDS):
        miss = (_pixels(intrinsics, rays[:, :, :2]) - px) / focal
        rays[:, :, :2] -= miss
        if np.abs(miss).max() < _SAME_RAY:
            break
    return rays


def _about(axis: int, angle: Array) -> Array:
    """(n, 3, 3) right-handed rotations about a world axis by angles (n,)."""
    i, j = (axis + 1) % 3, (axis + 2) % 3
    turn = np.zeros((len(angle), 3, 3))
    turn[:, axis, axis] = 1.0
    turn[:, i, i] = turn[:, j, j] = np.cos(angle)
    turn[:, j, i] = np.sin(angle)
    turn[:, i, j] = -turn[:, j, i]
    return turn


def _printed(local: Array, sx: Array, sy: Array) -> Array:
    """(n, N, 3) points of an upright print in its own plane, scaled."""
    flat = np.zeros((len(sx), len(local), 3))
    flat[:, :, 0], flat[:, :, 2] = sx[:, None] * local[:, 0], sy[:, None] * local[:, 1]
    return flat


def _upright(local: Array, p: Array) -> Array:
    lean, roll, gap, sx, sy = p.T
    turn = _about(0, -lean) @ _about(1, roll)
    world: Array = _printed(local, sx, sy) @ turn.transpose(0, 2, 1)
    world[:, :, 2] += gap[:, None]
    return world


def _upright_in_bay(local: Array, p: Array) -> Array:
    world: Array = _upright(local, p[:, 3:]) @ _about(2, p[:, 2]).transpose(0, 2, 1)
    world[:, :, :2] += p[:, None, :2]
    return world


def _ground(local: Array, p: Array) -> Array:
    x0, y0, yaw, tilt_x, tilt_y, lift, sx, sy = (column[:, None] for column in p.T)
    u, v = sx * local[:, 0], sy * local[:, 1]
    flat = np.stack([u, v, lift + tilt_x * u + tilt_y * v], axis=2)
    world: Array = flat @ _about(2, yaw[:, 0]).transpose(0, 2, 1)
    world[:, :, 0] += x0
    world[:, :, 1] += y0
    return world


def _tag(local: Array, p: Array) -> Array:
    turn_rad, lean, roll, sx, sy = p[:, 3:].T
    turn = _about(2, turn_rad) @ _about(0, -lean) @ _about(1, roll)
    world: Array = _printed(local, sx, sy) @ turn.transpose(0, 2, 1) + p[:, None, :3]
    return world


def _bar_tag(local: Array, p: Array) -> Array:
    turn = _about(2, p[:, 3]) @ _about(0, -p[:, 4]) @ _about(1, p[:, 5])
    from_centre = _printed(local, p[:, 6], p[:, 7]) - p[:, None, 8:]
    world: Array = from_centre @ turn.transpose(0, 2, 1) + p[:, None, :3]
    return world


def _further_bar_tag(local: Array, p: Array) -> Array:
    turn = _about(2, p[:, 3]) @ _about(0, -p[:, 4]) @ _about(1, p[:, 5])
    mount = _about(2, p[:, 11]) @ _about(0, -p[:, 12]) @ _about(1, p[:, 13])
    from_centre = _printed(local, p[:, 6], p[:, 7]) @ mount.transpose(0, 2, 1) - p[:, None, 8:11]
    world: Array = from_centre @ turn.transpose(0, 2, 1) + p[:, None, :3]
    return world


_PLANES: dict[PlaneName, Callable[[Array, Array], Array]] = {
    "upright": _upright,
    "upright-in-bay": _upright_in_bay,
    "second-upright": _upright_in_bay,
    "ground": _ground,
    "tag": _tag,
    "bar-tag": _bar_tag,
    "further-bar-tag": _further_bar_tag,
}


def plane_points_of_many(scene: Scene, where: Layout, x: Array, view: PlaneView) -> Array:
    """(n, N, 3) world points of a view's printed plane."""
    return _PLANES[view.plane](view.local_mm, x[:, where.at(*parameters_of(scene, view))])


def _line_points(where: Layout, x: Array, view: LineView) -> Array:
    """(n, N, 3) points of a line along the trailer's side. See `model.line_points`."""
    rail = view.line == "rail"
    p, u = x[:, where.at(*LINE_PARAMETERS[view.line])].T, x[:, where.at(*view.along)]
    angle = p[2] + (p[5] if rail else 0.0)
    back, up = (p[1] + p[3], p[4]) if rail else (p[1], p[3])
    cos, sin, climb = (part[:, None] for part in (np.cos(p[0]), np.sin(p[0]), np.tan(angle)))
    return np.stack([u * cos, back[:, None] + u * sin, up[:, None] + u * climb], axis=2)


def _marker_points(where: Layout, x: Array, view: MarkerView) -> Array:
    """(n, N, 3) surveyed points, moved where their survey error is an unknown."""
    points = np.repeat(view.world_mm[None], len(x), axis=0)
    for i, name in enumerate(view.names):
        if f"{name}.x" in where.index:
            points[:, i] += x[:, where.at(*(f"{name}.{axis}" for axis in "xyz"))]
    return points


def _outline(where: Layout, x: Array, view: OutlineView, intrinsics: Array, centre: Array) -> Array:
    """(n, N) whitened residuals of outline pixels; centre (n, 3) in the camera frame. See `outlines.write_outlines`."""
    rays = _rays(intrinsics, view.px)
    radius, edge = x[:, where.at("ball.radius", edge_of(view.photo))].T
    length = np.linalg.norm(centre, axis=1)
    unit_c = (centre / length[:, None])[:, None, :]
    unit_d = rays / np.linalg.norm(rays, axis=2, keepdims=True)
    angle = np.arctan2(np.linalg.norm(np.cross(unit_d, unit_c), axis=2), (unit_d * unit_c).sum(axis=2))
    limit = np.arcsin(np.clip(radius / length, -1.0, 1.0))
    focal = np.sqrt(intrinsics[:, 0] * intrinsics[:, 1])
    outside = focal[:, None] * (angle - limit[:, None]) - edge[:, None]
    result: Array = -outside / view.sigma_px
    return result
