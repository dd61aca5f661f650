"""Markers of any OpenCV dictionary in a grey picture: found by OpenCV, their corners measured by their edges."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.boards import dictionary_named
from calib.finding.marker_edges import edge_corners
from calib.survey.data import Sighting

SMALLEST_SIDE_PX = 12.0  # smaller markers are read wrongly too often, and place nothing
# Where an edge is no clean step the outline's corner stands: it lies about half a pixel inside each edge, or more.
OUTLINE_SIGMA_PX = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMarker:
    """A marker in a picture: corners_px (4, 2) in the order in which OpenCV reports them, sigma_px (4,)."""

    id: int
    corners_px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]


def markers_in(grey: NDArray[np.uint8], dictionary: str) -> list[SeenMarker]:
    """Every marker that a grey picture (h, w) shows once; one that is seen twice is left out, as it cannot be told which is real."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_CONTOUR  # the bits pull the corner finder's corners
    quads, ids, _ = cv2.aruco.ArucoDetector(dictionary_named(dictionary), settings).detectMarkers(grey)
    if ids is None or len(ids) == 0:
        return []
    numbers = np.asarray(ids).ravel().tolist()
    return [
        _measured(grey, int(number), np.asarray(quad, dtype=np.float64).reshape(4, 2))
        for number, quad in zip(numbers, quads, strict=True)
        if numbers.count(number) == 1
    ]


def _measured(grey: NDArray[np.uint8], number: int, outline_px: NDArray[np.float64]) -> SeenMarker:
    found = edge_corners(grey, outline_px)
    if found is None:
        return SeenMarker(id=number, corners_px=outline_px, sigma_px=np.full(4, OUTLINE_SIGMA_PX))
    return SeenMarker(id=number, corners_px=found.corners_px, sigma_px=found.sigma_px)


def sightings_in(grey: NDArray[np.uint8], dictionary: str, photo: str) -> list[Sighting]:
    """The markers in a grey picture (h, w) that are large enough to survey by. photo: its name."""
    return [
        Sighting(photo=photo, marker=seen.id, corners_px=seen.corners_px, sigma_px=seen.sigma_px)
        for seen in markers_in(grey, dictionary)
        if _sides_px(seen.corners_px).min() >= SMALLEST_SIDE_PX
    ]


def _sides_px(corners_px: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(corners_px - np.roll(corners_px, 1, axis=0), axis=1), dtype=np.float64)
