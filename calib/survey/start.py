"""A start for a survey: photographs joined one by one to the markers already placed, refined as it grows.

The first photograph's camera frame is the frame here, and the assumed marker side the scale; both are replaced later.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix
from calib.finding.marker_edges import inward_shift
from calib.survey.data import Sighting
from calib.survey.network import LinearRow, Observed, Seen, Unknowns, adjust_network

Array = NDArray[np.float64]
Sightings = Mapping[str, Mapping[int, Array]]  # photo -> marker -> (4, 2)

LEAST_SHARED = 1  # markers a photograph must share with those placed
JOIN_MISS_PX = 25.0  # a photograph that joins worse than this (median) has to wait for more markers
REFINE_AT = (2, 3, 4, 6, 8, 11, 15, 20, 28, 40, 60, 90, 130, 200, 300)


@dataclass(slots=True, kw_only=True)
class Placed:
    """What is placed so far: markers (4, 3) each, and camera poses (6,) by photograph."""

    markers: dict[int, Array]
    poses: dict[str, Array]


def by_photo(sightings: Sequence[Sighting]) -> dict[str, dict[int, Array]]:
    """Sightings grouped by photograph and marker: corners (4, 2), px."""
    grouped: dict[str, dict[int, Array]] = defaultdict(dict)
    for sighting in sightings:
        grouped[sighting.photo][sighting.marker] = np.asarray(sighting.corners_px, dtype=np.float64).reshape(4, 2)
    return dict(grouped)


def place_all(sightings: Sightings, lens_mean: Array, side_mm: float, sigma_px: float) -> Placed:
    """Place as many photographs and markers as hang together; those that do not are missing from the result. lens_mean: (9,)."""
    waiting = set(sightings)
    first = max(sorted(waiting), key=lambda photo: _worth(sightings[photo]))
    placed = Placed(markers={}, poses={first: np.zeros(6)})
    _add_markers(placed, sightings, first, lens_mean, side_mm)
    waiting.discard(first)
    while waiting:
        ranked = sorted(waiting, key=lambda photo: (-len(sightings[photo].keys() & placed.markers.keys()), photo))
        joined = next((photo for photo in ranked if _join(placed, sightings[photo], photo, lens_mean)), None)
        if joined is None:
            break
        waiting.discard(joined)
        _add_markers(placed, sightings, joined, lens_mean, side_mm)
        if len(placed.poses) in REFINE_AT:
            refine(placed, sightings, lens_mean, side_mm, sigma_px)
    refine(placed, sightings, lens_mean, side_mm, sigma_px)
    return placed


def _worth(seen: Mapping[int, Array]) -> float:
    """How good a photograph is to start from: many markers, and large."""
    return sum(math.sqrt(min(cv2.contourArea(np.asarray(corners, np.float32)), 1e4)) for corners in seen.values())


def _square_mm(side_mm: float) -> Array:
    half = side_mm / 2
    return np.array([[-half, half, 0], [half, half, 0], [half, -half, 0], [-half, -half, 0]])


def _add_markers(placed: Placed, sightings: Sightings, photo: str, lens_mean: Array, side_mm: float) -> None:
    pose = placed.poses[photo]
    rotation = cv2.Rodrigues(pose[:3])[0]
    for marker, corners in sightings[photo].items():
        if marker in placed.markers:
            continue
        square = _square_mm(side_mm)
        found, turn, shift = cv2.solvePnP(
            square, corners, matrix(lens_mean), lens_mean[4:], flags=cv2.SOLVEPNP_IPPE_SQUARE
        )
        if found:
            in_camera = square @ cv2.Rodrigues(turn)[0].T + shift.ravel()
            placed.markers[marker] = (in_camera - pose[3:]) @ rotation


def _join(placed: Placed, seen: Mapping[int, Array], photo: str, lens_mean: Array) -> bool:
    shared = sorted(seen.keys() & placed.markers.keys())
    if len(shared) < LEAST_SHARED:
        return False
    object_mm = np.concatenate([placed.markers[marker] for marker in shared])
    image_px = np.concatenate([seen[marker] for marker in shared])
    best: tuple[float, Array] | None = None
    for start in _pose_starts(object_mm, image_px, lens_mean):
        miss = _miss_px(object_mm, image_px, start, lens_mean)
        if best is None or miss < best[0]:
            best = (miss, start)
    if best is None or best[0] > JOIN_MISS_PX:
        return False
    placed.poses[photo] = best[1]
    return True


def _pose_starts(object_mm: Array, image_px: Array, lens_mean: Array) -> list[Array]:
    camera, distortion = matrix(lens_mean), lens_mean[4:]
    starts = []
    for flag in (cv2.SOLVEPNP_SQPNP, cv2.SOLVEPNP_EPNP, cv2.SOLVEPNP_IPPE):
        try:
            _, turns, shifts, _ = cv2.solvePnPGeneric(object_mm, image_px, camera, distortion, flags=flag)
        except cv2.error:
            continue
        for turn, shift in zip(turns, shifts, strict=True):
            refined = cv2.solvePnPRefineLM(object_mm, image_px, camera, distortion, turn.copy(), shift.copy())
            starts.append(np.concatenate([refined[0].ravel(), refined[1].ravel()]))
    return starts


def _miss_px(object_mm: Array, image_px: Array, pose: Array, lens_mean: Array) -> float:
    if not np.isfinite(pose).all() or (object_mm @ cv2.Rodrigues(pose[:3])[0][2] + pose[5] <= 0).any():
        return float("inf")
    seen = cv2.projectPoints(object_mm, pose[:3], pose[3:], matrix(lens_mean), lens_mean[4:])[0].reshape(-1, 2)
    return float(np.median(np.linalg.norm(seen - image_px, axis=1)))


def triangulate(lines: Sequence[tuple[Array, Array]]) -> Array | None:
    """The point (3,) nearest to all lines (origin (3,), direction (3,)); None where they are too nearly parallel."""
    origins, directions = (np.array([line[part] for line in lines]) for part in (0, 1))
    units = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    across = np.eye(3) - units[:, :, None] * units[:, None, :]
    normal, rhs = across.sum(axis=0), (across @ origins[..., None]).sum(axis=0)[:, 0]
    values = np.linalg.eigvalsh(normal)
    if values[0] <= 2e-3 * values[2]:
        return None
    return np.asarray(np.linalg.solve(normal, rhs), dtype=np.float64)


def rays(px: Array, pose: Array, lens_mean: Array) -> list[tuple[Array, Array]]:
    """Camera centre and direction of each pixel (N, 2), in the frame of the poses."""
    plane = cv2.undistortPoints(px.reshape(-1, 1, 2), matrix(lens_mean), lens_mean[4:]).reshape(-1, 2)
    rotation = cv2.Rodrigues(pose[:3])[0]
    centre = -rotation.T @ pose[3:]
    return [(centre, rotation.T @ np.array([x, y, 1.0])) for x, y in plane]


def _retriangulate(placed: Placed, sightings: Sightings, lens_mean: Array) -> None:
    """Markers that a single view placed mirrored or at the wrong distance come right once two views see them."""
    for marker, held in list(placed.markers.items()):
        photos = [photo for photo in placed.poses if marker in sightings[photo]]
        if len(photos) < 2:
            continue
        towards = [rays(sightings[photo][marker], placed.poses[photo], lens_mean) for photo in photos]
        corners = [triangulate(of_corner) for of_corner in zip(*towards, strict=True)]
        if any(corner is None for corner in corners):
            continue
        fresh = np.array(corners)
        if _total(fresh, marker, photos, placed, sightings, lens_mean) < _total(
            held, marker, photos, placed, sightings, lens_mean
        ):
            placed.markers[marker] = fresh


def _total(
    corners: Array, marker: int, photos: Sequence[str], placed: Placed, sightings: Sightings, lens_mean: Array
) -> float:
    return sum(_miss_px(corners, sightings[photo][marker], placed.poses[photo], lens_mean) for photo in photos)


def network_of(
    placed: Placed,
    sightings: Sightings,
    lens_mean: Array,
    lens_basis: Array,
    sigma_px: float,
    inset_u_px: float = 0.0,
) -> tuple[Unknowns, Observed, list[int], list[str]]:
    """The placed part as a network: marker k has points 4 k to 4 k + 3; ids and photographs in the lists' order.

    lens_mean: (9,); lens_basis: (9, k), a standard uncertainty a column.
    """
    ids, photos = sorted(placed.markers), sorted(placed.poses)
    row = {marker: 4 * number for number, marker in enumerate(ids)}
    seen = []
    for photo in photos:
        markers = [marker for marker in sightings[photo] if marker in row]
        points = np.concatenate([row[marker] + np.arange(4) for marker in markers])
        px = np.concatenate([sightings[photo][marker] for marker in markers])
        inwards = np.zeros_like(px)
        if inset_u_px > 0:
            inwards = np.concatenate([inward_shift(sightings[photo][marker]) for marker in markers])
        sigmas, scaled = np.full(len(px), sigma_px), np.ones(len(px), dtype=np.bool_)
        seen.append(Seen(points=points, px=px, sigma_px=sigmas, inwards=inwards, scaled=scaled))
    points_mm = np.concatenate([placed.markers[marker] for marker in ids])
    quads = points_mm.reshape(-1, 4, 3)
    state = Unknowns(
        points=points_mm,
        sides=np.linalg.norm(quads - np.roll(quads, 1, axis=1), axis=2).mean(axis=1),
        poses=np.array([placed.poses[photo] for photo in photos]),
        lens=np.zeros(lens_basis.shape[1] + (inset_u_px > 0)),
    )
    observed = Observed(photos=tuple(seen), lens_mean=lens_mean, lens_basis=lens_basis, inset_u_px=inset_u_px)
    return state, observed, ids, photos


def refine(placed: Placed, sightings: Sightings, lens_mean: Array, side_mm: float, sigma_px: float) -> None:
    """Adjust what is placed so far, the frame held by the first camera and the scale by the mean side. lens_mean: (9,)."""
    _retriangulate(placed, sightings, lens_mean)
    state, observed, ids, photos = network_of(placed, sightings, lens_mean, np.zeros((9, 0)), sigma_px)
    held = state.poses[0].copy()
    first = state.points.size + state.sides.size

    def gauge(now: Unknowns) -> list[LinearRow]:
        lines = [
            LinearRow(
                residual=float(held[i] - now.poses[0, i]) * 1e3, columns=np.array([first + i]), slopes=np.full(1, 1e3)
            )
            for i in range(6)
        ]
        count = len(now.sides)
        columns = now.points.size + np.arange(count)
        lines.append(
            LinearRow(
                residual=(side_mm - float(now.sides.mean())) * 10.0,
                columns=columns,
                slopes=np.full(count, 10.0 / count),
            )
        )
        return lines

    loose = Observed(
        photos=observed.photos, lens_mean=lens_mean, lens_basis=observed.lens_basis, extra=(gauge,), sigma=3.0
    )
    adjusted = adjust_network(state, loose, steps=15, tolerance=1e-4)
    for number, marker in enumerate(ids):
        placed.markers[marker] = adjusted.state.points[4 * number : 4 * number + 4]
    for photo, pose in zip(photos, adjusted.state.poses, strict=True):
        placed.poses[photo] = pose
