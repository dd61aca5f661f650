"""What a survey of markers consists of: sightings in photographs, tapes, heights; and what is solved from them.

A point is named `12.3` (marker 12, its corner 3 in OpenCV's order, 0 to 3) or by a name of the person's own for a spot
that was picked in the photographs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """One marker in one photograph: corners_px (4, 2) in the order in which OpenCV reports them.

    sigma_px: (4,) of each corner's coordinates, relative to each other; the survey finds the scale. None: all alike.
    """

    photo: str
    marker: int
    corners_px: Array
    sigma_px: Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """A named spot picked in one photograph: px (2,), standard uncertainty of each coordinate."""

    photo: str
    point: str
    px: tuple[float, float]
    sigma_px: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A taped distance between two points, and its standard uncertainty."""

    start: str
    end: str
    distance_mm: float
    u_mm: float

    @property
    def name(self) -> str:
        return f"{self.start} to {self.end}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A point's height over the ground, by tape or because it lies on the ground (0), and its standard uncertainty."""

    point: str
    height_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumb:
    """Markers on one wall that is plumb to a standard uncertainty of u_rad."""

    markers: tuple[int, ...]
    u_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Everything observed. side_mm: about how large a marker is, to start from; it need not be right."""

    sightings: tuple[Sighting, ...]
    tapes: tuple[Tape, ...]
    heights: tuple[Height, ...]
    picks: tuple[Pick, ...] = ()
    plumb: Plumb | None = None
    side_mm: float = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeCheck:
    """A tape against the solved points. residual_mm: taped less solved; w: that over its own uncertainty."""

    tape: Tape
    solved_mm: float
    residual_mm: float
    w: float
    suspicious: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerCheck:
    """A marker as solved. corners_mm (4, 3); u_mm: RMS uncertainty of a coordinate; miss_px: mean over its photos."""

    id: int
    corners_mm: Array
    side_mm: float
    u_mm: float
    photos: int
    miss_px: float
    suspicious: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Surveyed:
    """The bay: x right, y away from the cameras, z up, ground z = 0; millimetres.

    points_mm:   every named point; covariance_mm2: (3P, 3P) of `names` in order, coordinates x, y, z of each in turn.
    noise_px:    standard deviation of one pixel coordinate that the photographs show.
    intrinsics:  (9,) the camera as the survey solved it.
    inset_px:    how far inside a marker's true edges the photographs show them, and its standard uncertainty; allowed
                 for in the corners.
    left_out:    photographs or markers that could not be joined to the others, with the reason.
    """

    names: tuple[str, ...]
    points_mm: Mapping[str, Array]
    covariance_mm2: Array
    markers: tuple[MarkerCheck, ...]
    tapes: tuple[TapeCheck, ...]
    cam_from_bay: Mapping[str, Array]
    noise_px: float
    intrinsics: Array
    inset_px: tuple[float, float]
    left_out: tuple[str, ...]
    warnings: tuple[str, ...]

    def u_mm(self) -> float:
        """RMS standard uncertainty of a marker's corner coordinate over the whole bay."""
        rows = [3 * i + axis for i, name in enumerate(self.names) if "." in name for axis in range(3)]
        return float(np.sqrt(np.diag(self.covariance_mm2)[rows].mean()))
