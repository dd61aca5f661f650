"""Turned, extruded and bent parts: what a yard is made of besides boxes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scene.mesh import Array, Mesh, creased, grid_faces, joined, shift, turn


def lathe(profile_mm: list[tuple[float, float]], *, segments: int = 64, crease_deg: float = 35.0) -> Mesh:
    """A turned part about the z axis from (radius, z) pairs."""
    profile = np.array(profile_mm, dtype=float)
    angle = np.linspace(0, 2 * np.pi, segments + 1)
    ring = np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=1)
    points = profile[:, None, :1] * ring[None] + profile[:, None, 1:] * np.array([0.0, 0.0, 1.0])
    faces = grid_faces(len(profile), segments + 1)
    mesh = creased(points.reshape(-1, 3), faces, crease_deg=crease_deg)
    around = np.arctan2(mesh.points_mm[:, 1], mesh.points_mm[:, 0]) * max(1.0, float(profile[:, 0].max()))
    return Mesh(
        points_mm=mesh.points_mm,
        normals=mesh.normals,
        uv_mm=np.stack([around, mesh.points_mm[:, 2]], axis=1),
        faces=mesh.faces,
    )


def cylinder(
    start_mm: Array | tuple[float, float, float],
    end_mm: Array | tuple[float, float, float],
    radius_mm: float,
    *,
    bevel_mm: float = 1.0,
    segments: int = 40,
) -> Mesh:
    """A round bar between two points, with bevelled ends."""
    start, end = np.array(start_mm, dtype=float), np.array(end_mm, dtype=float)
    length = float(np.linalg.norm(end - start))
    bevel = min(bevel_mm, radius_mm / 2, length / 2)
    profile = [
        (0.0, 0.0),
        (radius_mm - bevel, 0.0),
        (radius_mm, bevel),
        (radius_mm, length - bevel),
        (radius_mm - bevel, length),
        (0.0, length),
    ]
    return lathe(profile, segments=segments).moved(standing_on(start, end - start))


def standing_on(origin_mm: Array, axis: Array) -> Array:
    """(4, 4) transform that lays the z axis along `axis` (3,) at `origin_mm` (3,)."""
    z = axis / np.linalg.norm(axis)
    helper = np.array([1.0, 0.0, 0.0]) if abs(z[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = np.cross(helper, z)
    x /= np.linalg.norm(x)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2], matrix[:3, 3] = x, np.cross(z, x), z, origin_mm
    return matrix


def rounded_outline(
    corners_mm: list[tuple[float, float]], radii_mm: float | list[float], *, steps: int = 6
) -> Array:
    """A closed outline (N, 2), counter-clockwise, with its corners replaced by arcs."""
    corners = np.array(corners_mm, dtype=float)
    following = np.roll(corners, -1, axis=0)
    if np.sum(corners[:, 0] * following[:, 1] - corners[:, 1] * following[:, 0]) < 0:
        corners = corners[::-1]
        radii_mm = radii_mm[::-1] if isinstance(radii_mm, list) else radii_mm
    radii = [radii_mm] * len(corners) if isinstance(radii_mm, (int, float)) else radii_mm
    outline: list[Array] = []
    for index, corner in enumerate(corners):
        back, ahead = corners[index - 1] - corner, corners[(index + 1) % len(corners)] - corner
        a, b = back / np.linalg.norm(back), ahead / np.linalg.norm(ahead)
        half = np.arccos(np.clip(a @ b, -1, 1)) / 2
        if radii[index] <= 0 or half > np.pi / 2 - 1e-3:
            outline.append(corner)
            continue
        reach = min(radii[index] / np.tan(half), 0.49 * np.linalg.norm(back), 0.49 * np.linalg.norm(ahead))
        radius = reach * np.tan(half)
        middle = corner + (a + b) / np.linalg.norm(a + b) * (radius / np.sin(half))
        first, last = corner + a * reach - middle, corner + b * reach - middle
        sweep = np.arctan2(first[0] * last[1] - first[1] * last[0], first @ last)
        for part in np.linspace(0, sweep, steps + 1):
            cos, sin = np.cos(part), np.sin(part)
            outline.append(
                middle + np.array([cos * first[0] - sin * first[1], sin * first[0] + cos * first[1]])
            )
    return np.array(outline)


def extruded(outline_mm: Array, depth_mm: float, *, bevel_mm: float = 1.5) -> Mesh:
    """A plate: the outline (N, 2) in x and y, from z = 0 to `depth_mm`, edges bevelled."""
    back, ahead = outline_mm - np.roll(outline_mm, 1, axis=0), np.roll(outline_mm, -1, axis=0) - outline_mm
    normal = _right_of(back) + _right_of(ahead)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    inset = outline_mm - normal * bevel_mm
    soft = outline_mm - normal * (0.29 * bevel_mm)
    levels = [(inset, 0.0), (soft, 0.29 * bevel_mm), (outline_mm, bevel_mm)]
    levels += [(outline_mm, depth_mm - bevel_mm), (soft, depth_mm - 0.29 * bevel_mm), (inset, depth_mm)]
    closed = [
        np.column_stack([np.vstack([flat, flat[:1]]), np.full(len(flat) + 1, height)])
        for flat, height in levels
    ]
    sides = grid_faces(len(closed), len(outline_mm) + 1)
    cap = _ears(inset)
    count = len(outline_mm) + 1
    faces = np.vstack([sides, cap[:, ::-1], cap + count * (len(levels) - 1)])
    return creased(np.vstack(closed), faces)


def _right_of(direction: Array) -> Array:
    """Unit outward normals of the edges of a counter-clockwise outline."""
    out = np.stack([direction[:, 1], -direction[:, 0]], axis=1)
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9))


def _ears(outline: Array) -> NDArray[np.int64]:
    """Triangles (M, 3) of a simple counter-clockwise polygon, by clipping ears."""
    left = list(range(len(outline)))
    triangles: list[tuple[int, int, int]] = []
    while len(left) > 3:
        for place in range(len(left)):
            i, j, k = left[place - 1], left[place], left[(place + 1) % len(left)]
            if _is_ear(outline, i, j, k, left):
                triangles.append((i, j, k))
                left.pop(place)
                break
        else:  # only rounding can bring us here: close what is left as a fan
            triangles += [(left[0], left[n], left[n + 1]) for n in range(1, len(left) - 1)]
            return np.array(triangles)
    triangles.append((left[0], left[1], left[2]))
    return np.array(triangles)


def _is_ear(outline: Array, i: int, j: int, k: int, left: list[int]) -> bool:
    a, b, c = outline[i], outline[j], outline[k]
    if (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) <= 1e-12:
        return False
    others = outline[[n for n in left if n not in (i, j, k)]]
    inside = np.ones(len(others), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= (q[0] - p[0]) * (others[:, 1] - p[1]) - (q[1] - p[1]) * (others[:, 0] - p[0]) >= -1e-9
    return not bool(inside.any())


def tube(
    path_mm: Array | Sequence[tuple[float, float, float]],
    radius_mm: float,
    *,
    segments: int = 20,
    bend_mm: float = 0.0,
) -> Mesh:
    """A round bar along a polyline (N, 3); `bend_mm` rounds the polyline's corners."""
    path = _softened(np.array(path_mm, dtype=float), bend_mm)
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.cross(tangent[0], [0.3, 0.5, 0.81])
    rings = []
    for point, along in zip(path, tangent, strict=True):
        side = side - along * (side @ along)
        side /= np.linalg.norm(side)
        angle = np.linspace(0, 2 * np.pi, segments + 1)[:, None]
        rings.append(point + radius_mm * (np.cos(angle) * side + np.sin(angle) * np.cross(along, side)))
    start, end = np.tile(path[0], (segments + 1, 1)), np.tile(path[-1], (segments + 1, 1))
    points = np.vstack([start, *rings, end])
    return creased(points, grid_faces(len(rings) + 2, segments + 1), crease_deg=50)


def _softened(path_mm: Array, bend_mm: float) -> Array:
    if bend_mm <= 0:
        return path_mm
    out = [path_mm[0]]
    for before, corner, after in zip(path_mm[:-2], path_mm[1:-1], path_mm[2:], strict=True):
        back, ahead = before - corner, after - corner
        reach = min(bend_mm, 0.49 * float(np.linalg.norm(back)), 0.49 * float(np.linalg.norm(ahead)))
        a, b = corner + back / np.linalg.norm(back) * reach, corner + ahead / np.linalg.norm(ahead) * reach
        for t in np.linspace(0, 1, 9):
            out.append((1 - t) ** 2 * a + 2 * t * (1 - t) * corner + t**2 * b)
    return np.array([*out, path_mm[-1]])


def chain(
    path_mm: Array | Sequence[tuple[float, float, float]], *, wire_mm: float = 4.5, link_mm: float = 34.0
) -> Mesh:
    """A chain hung along a polyline, every second link turned by a quarter."""
    path = np.array(path_mm, dtype=float)
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    pitch = link_mm - 2 * wire_mm
    places = np.arange(pitch / 2, run[-1], pitch)
    links = []
    for number, place in enumerate(places):
        at = np.array([np.interp(place, run, path[:, i]) for i in range(3)])
        ahead = np.array([np.interp(min(place + pitch / 2, run[-1]), run, path[:, i]) for i in range(3)])
        behind = np.array([np.interp(place - pitch / 2, run, path[:, i]) for i in range(3)])
        links.append(
            _link(wire_mm, link_mm).moved(standing_on(at, ahead - behind) @ turn("z", 90.0 * (number % 2)))
        )
    return joined(links)


def _link(wire_mm: float, link_mm: float) -> Mesh:
    angle = np.linspace(0, 2 * np.pi, 25)
    half, reach = link_mm * 0.30, link_mm / 2 - wire_mm / 2
    straight = np.sign(np.cos(angle)) * (reach - half)
    loop = np.stack([half * np.sin(angle), np.zeros(25), half * np.cos(angle) + straight], axis=1)
    return tube(loop, wire_mm / 2, segments=10)


def bolt(
    at_mm: tuple[float, float, float], axis: tuple[float, float, float], *, size_mm: float = 18.0
) -> Mesh:
    """A hexagon head on a washer."""
    head = extruded(
        rounded_outline(
            [(size_mm / 2 * np.cos(a), size_mm / 2 * np.sin(a)) for a in np.arange(6) * np.pi / 3],
            0.8,
            steps=2,
        ),
        size_mm * 0.45,
        bevel_mm=1.0,
    )
    washer = lathe([(0, 0), (size_mm * 0.62, 0), (size_mm * 0.62, 2.0), (0, 2.0)], segments=32)
    both = joined([washer, head.moved(shift(0, 0, 2.0))])
    return both.moved(standing_on(np.array(at_mm, dtype=float), np.array(axis, dtype=float)))
