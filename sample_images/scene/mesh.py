"""Triangle meshes as plain arrays: positions, normals and texture coordinates in millimetres.

Every builder returns a `Mesh` whose vertices are not shared across creases, so that shading is flat where the
part is flat and smooth where it is round.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """points_mm, normals: (N, 3); uv_mm: (N, 2) in mm along the surface; faces: (M, 3) indices."""

    points_mm: Array
    normals: Array
    uv_mm: Array
    faces: NDArray[np.int64]

    def moved(self, to_from: Array) -> Mesh:
        """The mesh under a rigid (4, 4) transform."""
        rotation = to_from[:3, :3]
        return Mesh(
            points_mm=self.points_mm @ rotation.T + to_from[:3, 3],
            normals=self.normals @ rotation.T,
            uv_mm=self.uv_mm,
            faces=self.faces,
        )

    def stretched(self, factors: tuple[float, float, float]) -> Mesh:
        """Scaled along the three axes (normals by the inverse)."""
        scale = np.array(factors)
        normals = self.normals / scale
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return Mesh(points_mm=self.points_mm * scale, normals=normals, uv_mm=self.uv_mm, faces=self.faces)


def joined(meshes: list[Mesh]) -> Mesh:
    """Several meshes as one."""
    offsets = np.cumsum([0] + [len(mesh.points_mm) for mesh in meshes[:-1]])
    return Mesh(
        points_mm=np.vstack([mesh.points_mm for mesh in meshes]),
        normals=np.vstack([mesh.normals for mesh in meshes]),
        uv_mm=np.vstack([mesh.uv_mm for mesh in meshes]),
        faces=np.vstack([mesh.faces + start for mesh, start in zip(meshes, offsets, strict=True)]),
    )


def shift(x_mm: float, y_mm: float, z_mm: float) -> Array:
    """(4, 4) translation."""
    matrix = np.eye(4)
    matrix[:3, 3] = x_mm, y_mm, z_mm
    return matrix


def turn(axis: str, degrees: float) -> Array:
    """(4, 4) right-handed rotation about the x, y or z axis."""
    angle = np.deg2rad(degrees)
    first, second = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    matrix = np.eye(4)
    matrix[first, first] = matrix[second, second] = np.cos(angle)
    matrix[first, second], matrix[second, first] = -np.sin(angle), np.sin(angle)
    return matrix


def grid_faces(rows: int, columns: int) -> NDArray[np.int64]:
    """Two triangles for every cell of a rows x columns lattice of vertices."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    lower = np.stack([corner, corner + 1, corner + columns + 1], axis=1)
    upper = np.stack([corner, corner + columns + 1, corner + columns], axis=1)
    return np.vstack([lower, upper])


def rectangle(corner_mm: Array, along_u_mm: Array, along_v_mm: Array, *, uv_mm: Array | None = None) -> Mesh:
    """A flat parallelogram; uv runs 0..|u|, 0..|v| unless four texture corners (4, 2) are given."""
    points = np.stack(
        [corner_mm, corner_mm + along_u_mm, corner_mm + along_u_mm + along_v_mm, corner_mm + along_v_mm]
    )
    normal = np.cross(along_u_mm, along_v_mm)
    normal = normal / np.linalg.norm(normal)
    width, height = np.linalg.norm(along_u_mm), np.linalg.norm(along_v_mm)
    flat = np.array([[0, 0], [width, 0], [width, height], [0, height]]) if uv_mm is None else uv_mm
    return Mesh(
        points_mm=points,
        normals=np.tile(normal, (4, 1)),
        uv_mm=flat.astype(float),
        faces=np.array([[0, 1, 2], [0, 2, 3]]),
    )


def _edge_coordinates(half_mm: float, radius_mm: float, steps: int) -> Array:
    """Coordinates across one face whose normals turn evenly through the rounded edge."""
    bend = (half_mm - radius_mm) + radius_mm * np.tan(np.linspace(0, np.pi / 4, steps + 1))
    return np.concatenate([-bend[::-1], bend])


def box(
    low_mm: tuple[float, float, float],
    high_mm: tuple[float, float, float],
    *,
    radius_mm: float = 3.0,
    steps: int = 3,
) -> Mesh:
    """A box between two opposite corners, its edges rounded with `radius_mm`; uv is box-mapped."""
    low, high = np.minimum(low_mm, high_mm).astype(float), np.maximum(low_mm, high_mm).astype(float)
    centre, half = (low + high) / 2, (high - low) / 2
    radius = min(radius_mm, 0.999 * float(half.min()))
    parts = []
    for axis in range(3):
        first, second = (axis + 1) % 3, (axis + 2) % 3
        u = _edge_coordinates(float(half[first]), radius, steps)
        v = _edge_coordinates(float(half[second]), radius, steps)
        for side in (-1.0, 1.0):
            raw = np.zeros((len(v), len(u), 3))
            raw[..., axis] = side * half[axis]
            raw[..., first], raw[..., second] = u[None, :], v[:, None]
            flat = raw.reshape(-1, 3)
            inner = np.clip(flat, -(half - radius), half - radius)
            normals = (flat - inner) / np.linalg.norm(flat - inner, axis=1, keepdims=True)
            points = centre + inner + radius * normals
            faces = grid_faces(len(v), len(u))
            parts.append(
                Mesh(
                    points_mm=points,
                    normals=normals,
                    uv_mm=_box_mapped(points, axis),
                    faces=faces if side > 0 else faces[:, ::-1],
                )
            )
    return joined(parts)


def _box_mapped(points_mm: Array, axis: int) -> Array:
    """Texture coordinates with v up wherever the face stands."""
    columns = {0: (1, 2), 1: (0, 2), 2: (0, 1)}[axis]
    return points_mm[:, columns]


def creased(points_mm: Array, faces: NDArray[np.int64], *, crease_deg: float = 35.0) -> Mesh:
    """A mesh from bare triangles: normals averaged over neighbours that meet at less than the crease angle."""
    corners = points_mm[faces]  # (M, 3, 3)
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(area, axis=1)
    keep = length > 1e-9
    corners, area, length = corners[keep], area[keep], length[keep]
    unit = area / length[:, None]
    _, place = np.unique(np.round(corners.reshape(-1, 3), 4), axis=0, return_inverse=True)
    place = place.ravel()
    face_of = np.repeat(np.arange(len(corners)), 3)
    order = np.argsort(place, kind="stable")
    starts = np.searchsorted(place[order], np.arange(place.max() + 2))
    normals = np.zeros((len(place), 3))
    limit = np.cos(np.deg2rad(crease_deg))
    for start, stop in pairwise(starts):
        mine = order[start:stop]
        around = unit[face_of[mine]]
        alike = (around @ around.T > limit).astype(float)
        normals[mine] = alike @ area[face_of[mine]]
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    points = corners.reshape(-1, 3)
    main_axis = np.repeat(np.argmax(np.abs(unit), axis=1), 3)
    uv = np.empty((len(points), 2))
    for axis in range(3):
        chosen = main_axis == axis
        uv[chosen] = _box_mapped(points[chosen], axis)
    return Mesh(points_mm=points, normals=normals, uv_mm=uv, faces=np.arange(len(points)).reshape(-1, 3))
