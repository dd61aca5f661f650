"""Where a picture reads like a centre tag or a bar tag: candidates of the code detector, read again where it could not.

The solved sheet says where a coupling can be and how large a tag would be there, so that this part of the picture is
first brought to the size at which codes are read fastest and surest. The detector's own reading takes one threshold for
a whole code, which a shadow's edge across it defeats; squares that it gave up are read against the white and black
around each module. What is read here is only a start: `tag` believes it when the whole pattern fits.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import project
from calib.finding.codes import dictionary, edge_of_print
from calib.kit.kit import CODE_MODULES, bar_tag_codes, tag_codes
from calib.kit.sheet import Code
from photomeasure.seen.centre.tag.pattern import black_modules

# Where a coupling can be, mm in the sheet's frame: sideways, and above the ground.
REACH_X_MM, REACH_Z_MM = 600.0, (200.0, 900.0)
# Side of the smallest tag for reading: shrunk by whole blocks to about the first, below the second grown to the third
SHRUNK_SIDE_PX, SMALL_SIDE_PX, GROWN_SIDE_PX = 28.0, 24.0, 32.0
LARGEST_GROWTH = 2.0
MOST_EDGE = 12  # grey levels that a pixel has to be darker than those around it, in a bright picture: gravel's edges are smaller
SIZE_RANGE = (0.5, 1.6)  # side over what it would be in the sheet's plane
MOST_WRONG = 4  # modules of 49 that may be misread
GROWTHS = (0.91, 1.0, 1.1)  # of a square's border: overexposed white eats it, a shadow on it widens it

Array = NDArray[np.float64]
PixelWindow = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A code read somewhere: corners_px (4, 2) in the whole picture, top-left of the print first, clockwise."""

    id: int
    corners_px: Array


@cache
def all_tags() -> dict[int, Code]:
    """Centre tags and bar tags, by id."""
    return {**tag_codes(), **bar_tag_codes()}


def search_window(shape: tuple[int, ...], intrinsics: Array, rotation: Array, translation: Array) -> PixelWindow | None:
    """Pixel window (left, top, right, bottom) in which a coupling beside or above the sheet can be; None: outside."""
    corners = np.array([[x, 0.0, z] for x in (-REACH_X_MM, REACH_X_MM) for z in REACH_Z_MM])
    in_camera = corners @ rotation.T + translation
    if (in_camera[:, 2] < 50.0).any():
        return 0, 0, shape[1], shape[0]
    px = project(intrinsics, in_camera)[0]
    left, top = np.maximum(np.floor(px.min(axis=0)), 0).astype(int)
    right, bottom = np.minimum(np.ceil(px.max(axis=0)), [shape[1], shape[0]]).astype(int)
    return (int(left), int(top), int(right), int(bottom)) if right - left > 40 and bottom - top > 40 else None


def read_tags(grey: NDArray[np.uint8], window: PixelWindow, px_per_mm: float) -> list[Reading]:
    """Everything in the window that reads like a tag of about the right size, one a place.

    px_per_mm: at the sheet's distance.
    """
    left, top, right, bottom = window
    picture, back = _brought_to_size(grey[top:bottom, left:right], px_per_mm)
    scale = px_per_mm / float(back.mean())
    corners, ids, given_up = _detector(edge_of_print(picture, MOST_EDGE)).detectMarkers(picture)
    read = (
        []
        if ids is None
        else [
            Reading(id=int(code_id), corners_px=np.asarray(quad, dtype=np.float64).reshape(4, 2))
            for quad, code_id in zip(corners, np.asarray(ids).ravel(), strict=True)
            if int(code_id) in all_tags()
        ]
    )
    others = [np.asarray(quad, dtype=np.float64).reshape(4, 2) for quad in given_up]
    others = [quad for quad in others if SIZE_RANGE[0] * 40.0 < _side(quad) / scale < SIZE_RANGE[1] * 60.0]
    read += _read_again(picture, others)
    kept: list[Reading] = []
    for reading in read:
        expected = all_tags()[reading.id].size_mm * scale
        if SIZE_RANGE[0] < _side(reading.corners_px) / expected < SIZE_RANGE[1] and not _is_there(reading, kept):
            kept.append(reading)
    return [
        Reading(id=reading.id, corners_px=(reading.corners_px + 0.5) * back - 0.5 + [left, top]) for reading in kept
    ]


def _brought_to_size(crop: NDArray[np.uint8], px_per_mm: float) -> tuple[NDArray[np.uint8], Array]:
    """The picture in which the smallest tag is read best, and the factors (x, y) back from its pixels."""
    side = min(code.size_mm for code in all_tags().values()) * px_per_mm
    rows, columns = crop.shape
    if side >= SMALL_SIDE_PX:
        block = max(1, round(side / SHRUNK_SIDE_PX))
        size = max(1, columns // block), max(1, rows // block)
        crop, method = crop[: size[1] * block, : size[0] * block], cv2.INTER_AREA  # whole blocks are quick
        rows, columns = crop.shape
    else:
        growth = min(GROWN_SIDE_PX / side, LARGEST_GROWTH)
        size, method = (round(columns * growth), round(rows * growth)), cv2.INTER_CUBIC
    resized = cv2.resize(np.ascontiguousarray(crop), size, interpolation=method)
    return np.asarray(resized, dtype=np.uint8), np.array([columns / size[0], rows / size[1]])


def _side(corners_px: Array) -> float:
    return float(np.linalg.norm(corners_px - np.roll(corners_px, 1, axis=0), axis=1).mean())


def _is_there(reading: Reading, kept: list[Reading]) -> bool:
    middle, near = reading.corners_px.mean(axis=0), 0.5 * _side(reading.corners_px)
    return any(float(np.linalg.norm(other.corners_px.mean(axis=0) - middle)) < near for other in kept)


def _read_again(picture: NDArray[np.uint8], quads: list[Array]) -> list[Reading]:
    """The best reading of each square (4, 2), where it is good enough; its border may have been eaten or blurred."""
    readings = []
    for quad in quads:
        middle = quad.mean(axis=0)
        tried = [middle + factor * (quad - middle) for factor in GROWTHS]
        found = [_nearest_code(greys) for greys in _module_greys(picture, tried)]
        (wrong, code_id, turn), square = min(zip(found, tried, strict=True), key=lambda pair: pair[0])
        if wrong <= MOST_WRONG:
            # the print lies turned anticlockwise by `turn` quarters: its top-left is that corner of the square
            readings.append(Reading(id=code_id, corners_px=np.roll(square, turn, axis=0)))
    return readings


def _nearest_code(greys: Array) -> tuple[int, int, int]:
    """Wrong modules, id and quarter turns of the tag that greys (9, 9) are nearest to.

    Each module is held against white and black nearby: a shadow wants the threshold in proportion, an overexposed white
    in the middle.
    """
    around = np.ones((5, 5), dtype=np.uint8)
    inner, low, high = (
        np.maximum(values[1:-1, 1:-1], 1.0) for values in (greys, cv2.erode(greys, around), cv2.dilate(greys, around))
    )
    ids, turned = _turned_tags()
    found = []
    for threshold in (np.sqrt(low * high), (low + high) / 2):
        wrong = (turned != (inner < threshold)).sum(axis=(2, 3))
        index, turn = np.unravel_index(int(wrong.argmin()), wrong.shape)
        found.append((int(wrong[index, turn]), ids[int(index)], int(turn)))
    return min(found)


@cache
def _turned_tags() -> tuple[tuple[int, ...], NDArray[np.bool_]]:
    """Ids, and the black modules of each in four quarter turns: (ids, 4, 7, 7)."""
    ids = tuple(all_tags())
    codes = np.array([black_modules(code_id) for code_id in ids])
    return ids, np.stack([np.rot90(codes, turn, axes=(1, 2)) for turn in range(4)], axis=1)


def _module_greys(picture: NDArray[np.uint8], quads: list[Array]) -> Array:
    """(n, 9, 9) mean grey of the middle of each module of squares (n, 4, 2), with one module of surround."""
    side = CODE_MODULES + 2
    steps = (np.arange(side)[:, None] + np.array([0.3, 0.5, 0.7]) - 1.0).ravel()
    u, v = np.meshgrid(steps, steps)
    uv = np.stack([u, v, np.ones_like(u)], axis=-1).reshape(-1, 3)
    printed = np.array([[0, 0], [CODE_MODULES, 0], [CODE_MODULES, CODE_MODULES], [0, CODE_MODULES]], dtype=np.float32)
    maps = []
    for quad in quads:
        mapped = uv @ cv2.getPerspectiveTransform(printed, quad.astype(np.float32)).T
        maps.append((mapped[:, :2] / mapped[:, 2:]).reshape(3 * side, 3 * side, 2))
    grid = np.concatenate(maps).astype(np.float32)
    values = cv2.remap(picture, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    result: Array = np.asarray(values, dtype=np.float64).reshape(len(quads), side, 3, side, 3).mean(axis=(2, 4))
    return result


@cache
def _detector(edge: int) -> cv2.aruco.ArucoDetector:
    settings = cv2.aruco.DetectorParameters()
    settings.adaptiveThreshWinSizeMin = 7
    settings.adaptiveThreshWinSizeMax = 23
    settings.adaptiveThreshWinSizeStep = 16
    settings.adaptiveThreshConstant = edge
    settings.minMarkerPerimeterRate = 0.04  # of the window's longer side: no tag that counts is shorter round
    settings.errorCorrectionRate = 0.5
    settings.perspectiveRemoveIgnoredMarginPerCell = 0.25
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    return cv2.aruco.ArucoDetector(dictionary(), settings)
