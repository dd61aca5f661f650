"""Markers of any OpenCV dictionary in a grey picture, for a survey."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.boards import dictionary_named
from calib.bundle_data import Sighting

SMALLEST_SIDE_PX = 12.0  # smaller markers are read wrongly too often, and place nothing


def sightings_in(grey: NDArray[np.uint8], dictionary: str, photo: str) -> list[Sighting]:
    """Every marker seen once; one that is seen twice is left out, as it cannot be told which is real."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    quads, ids, _ = cv2.aruco.ArucoDetector(dictionary_named(dictionary), settings).detectMarkers(grey)
    if ids is None or len(ids) == 0:
        return []
    numbers = np.asarray(ids).ravel().tolist()
    found = []
    for number, quad in zip(numbers, quads, strict=True):
        corners = np.asarray(quad, dtype=np.float64).reshape(4, 2)
        sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
        if numbers.count(number) == 1 and sides.min() >= SMALLEST_SIDE_PX:
            found.append(Sighting(photo=photo, marker=int(number), corners_px=corners))
    return found
