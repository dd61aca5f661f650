"""What one photograph of a known object says, and whether a set of them says enough.

A `PointsSeen` pairs points of the object with pixels. `survey_views` looks at where the points fall in the frame, at which
tilts and from which distances; `what_next` turns the gaps into photographs that a person can take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said

Array = NDArray[np.float64]

GRID_COLUMNS, GRID_ROWS = 5, 4
# Common practice, no source: a tilt of some 30 degrees separates focal length from distance well; under 10 it hardly
# does.
USEFUL_TILT_RAD = math.radians(15.0)
FEWEST_VIEWS = 3
FEWEST_POINTS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsSeen:
    """One photograph's points.

    name:       how the person knows the photograph (file name).
    object_mm:  (N, 3) points in the object's frame, mm.
    image_px:   (N, 2) where they were seen; (0, 0) is the centre of the top-left pixel.
    sigma_px:   (N,) standard uncertainty of one coordinate, px, up to one factor that the solve estimates.
    """

    name: str
    object_mm: Array
    image_px: Array
    sigma_px: Array

    def __post_init__(self) -> None:
        for field, width in (("object_mm", 3), ("image_px", 2)):
            values = np.array(getattr(self, field), dtype=np.float64).reshape(-1, width)
            values.setflags(write=False)
            object.__setattr__(self, field, values)
        sigma = np.array(self.sigma_px, dtype=np.float64).ravel()
        sigma.setflags(write=False)
        object.__setattr__(self, "sigma_px", sigma)
        if not len(self.object_mm) == len(self.image_px) == len(sigma):
            counts = f"{len(self.object_mm)} points, {len(self.image_px)} pixels, {len(sigma)} sigmas"
            raise ValueError(f"{self.name}: {counts}")
        if not (np.isfinite(self.object_mm).all() and np.isfinite(self.image_px).all() and (sigma > 0).all()):
            raise ValueError(f"{self.name}: points must be finite and sigmas above zero")


def is_planar(object_mm: Array) -> bool:
    """True where the points (N, 3) lie in one plane to 1e-6 of their spread."""
    spread = np.linalg.svd(object_mm - object_mm.mean(axis=0), compute_uv=False)
    return bool(len(spread) < 3 or spread[2] < 1e-6 * spread[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameCoverage:
    """How well a set of views covers the frame, the tilts and the distances.

    counts:        (GRID_ROWS, GRID_COLUMNS) points in each cell of the frame.
    covered:       share of the cells with a point, 0 to 1.
    reach:         how far out points were seen, as a share of the half-diagonal (1 = the very corner).
    tilts_rad:     (V, 2) slope of the object about its upright and its level axis: + = right side away, + = upper
        side away.
    distances_mm:  (V,) camera to the middle of the points.
    """

    counts: NDArray[np.int64]
    covered: float
    reach: float
    tilts_rad: Array
    distances_mm: Array


def survey_views(
    views: Sequence[PointsSeen], cam_from_object: Sequence[tuple[Array, Array]], size_px: tuple[int, int]
) -> FrameCoverage:
    """Coverage of `views` with known poses (rotation (3, 3), translation (3,) mm); `size_px` = (width, height)."""
    width, height = size_px
    counts = np.zeros((GRID_ROWS, GRID_COLUMNS), dtype=np.int64)
    reach = 0.0
    tilts: list[tuple[float, float]] = []
    distances: list[float] = []
    half_diagonal = math.hypot(width, height) / 2
    for view, (rotation, translation) in zip(views, cam_from_object, strict=True):
        column = np.clip((view.image_px[:, 0] + 0.5) / width * GRID_COLUMNS, 0, GRID_COLUMNS - 1).astype(int)
        row = np.clip((view.image_px[:, 1] + 0.5) / height * GRID_ROWS, 0, GRID_ROWS - 1).astype(int)
        np.add.at(counts, (row, column), 1)
        offset = view.image_px - np.array([(width - 1) / 2, (height - 1) / 2])
        reach = max(reach, float(np.linalg.norm(offset, axis=1).max()) / half_diagonal)
        middle_mm = rotation @ view.object_mm.mean(axis=0) + translation
        normal = rotation[:, 2] * np.sign(rotation[:, 2] @ middle_mm)  # points away from the camera
        tilts.append((-math.atan2(normal[0], normal[2]), math.atan2(normal[1], normal[2])))
        distances.append(float(np.linalg.norm(middle_mm)))
    return FrameCoverage(
        counts=counts,
        covered=float((counts > 0).mean()),
        reach=reach,
        tilts_rad=np.array(tilts).reshape(-1, 2),
        distances_mm=np.array(distances),
    )


def what_next(survey: FrameCoverage, thing: str = "board") -> tuple[str, ...]:
    """Photographs that would add most, in the order of their worth; empty where nothing is missing.

    thing: what is photographed, as it is called in the sentences.
    """
    return (*_missing_tilts(survey, thing), *_missing_places(survey, thing), *_missing_distances(survey))


def _missing_tilts(survey: FrameCoverage, thing: str) -> list[str]:
    wanted = (
        (
            survey.tilts_rad[:, 0] > USEFUL_TILT_RAD,
            said("Take one with the {thing}'s right side turned about 30 degrees away from you.", thing=thing),
        ),
        (
            survey.tilts_rad[:, 0] < -USEFUL_TILT_RAD,
            said("Take one with the {thing}'s left side turned about 30 degrees away from you.", thing=thing),
        ),
        (
            survey.tilts_rad[:, 1] > USEFUL_TILT_RAD,
            said("Take one with the {thing}'s upper edge about 30 degrees away (from below).", thing=thing),
        ),
        (
            survey.tilts_rad[:, 1] < -USEFUL_TILT_RAD,
            said("Take one with the {thing}'s lower edge about 30 degrees away (from above).", thing=thing),
        ),
    )
    return [how for seen, how in wanted if not seen.any()]


def _missing_places(survey: FrameCoverage, thing: str) -> list[str]:
    rows, columns = survey.counts.shape
    corners = {
        said("top left"): survey.counts[0, 0],
        said("top right"): survey.counts[0, columns - 1],
        said("bottom left"): survey.counts[rows - 1, 0],
        said("bottom right"): survey.counts[rows - 1, columns - 1],
    }
    empty = [name for name, count in corners.items() if count == 0]
    if len(empty) == 1:
        return [said("Take one with the {thing} in the {corner} corner of the picture.", thing=thing, corner=empty[0])]
    if empty:
        return [
            said(
                "Take one each with the {thing} in the {some} and {last} corners of the picture.",
                thing=thing,
                some=empty[:-1],
                last=empty[-1],
            )
        ]
    if survey.covered < 0.8:
        return [
            said(
                "Move the {thing} about: parts of the frame have not seen it, or come nearer so that it fills it.",
                thing=thing,
            )
        ]
    return []


def _missing_distances(survey: FrameCoverage) -> list[str]:
    if len(survey.distances_mm) and survey.distances_mm.max() < 1.3 * survey.distances_mm.min():
        return [said("Take one from about half as far again, with the same zoom.")]
    return []
