"""A camera remembered: its intrinsics with their covariance, what they were made of, and which photographs they fit.

A profile speaks of pictures of one size, one way up. It can be scaled to a resized picture and turned to another EXIF
orientation; a crop or another zoom is refused.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, model_validator

from calib.camera.turning import turn, turned_intrinsics, turned_size
from calib.outcome.files import write_output
from calib.outcome.refusal import Refusal
from calib.words.kept import Sentence, Telling
from calib.words.said import said

if TYPE_CHECKING:
    from calib.calibration.calibrate import Calibration  # what a camera is made from is not needed to use it

Array = NDArray[np.float64]

SCHEMA: Literal["photomeasure/camera/1"] = "photomeasure/camera/1"

# How much one camera differs from itself at another time. Published: the focal length of one phone model varies by 3
# % (standard deviation, median of 13 groups) between units and sessions; for one unit alone nothing is published, so
# this is an upper bound.
FOCAL_DRIFT = 0.03
# Principal point: published medians of its distance from the middle, 0.33 % and 0.44 % of the width, over all units.
# One unit moves less than units differ (stabilised lenses do move); the median over 0.6745 is taken as the standard
# deviation: a bound.
PRINCIPAL_DRIFT = (0.0033 / 0.6745, 0.0044 / 0.6745)
SIZE_TOLERANCE_PX = 1.0  # a resized picture's sides are rounded to whole pixels


Nine = Annotated[list[float], Field(min_length=9, max_length=9)]


class Lens(BaseModel):
    """What EXIF states of the photographs; None where it is silent."""

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = Field(default=None, gt=0)
    focal_35mm: float | None = Field(default=None, gt=0)
    digital_zoom: float = Field(default=1.0, ge=1.0)


class Source(BaseModel):
    """One photograph that the calibration used: file name, SHA-256 of its bytes, corners used, their RMS in px."""

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)

    file: str
    sha256: str | None = Field(default=None, pattern=r"^[0-9a-f]{64}$")
    corners: int = Field(ge=0)
    rms_px: float = Field(ge=0)


class LeftOut(BaseModel):
    """One photograph that was not used, and why."""

    model_config = ConfigDict(extra="forbid", defer_build=True, frozen=True)

    file: str
    reason: Sentence


class Profile(Telling):
    """A calibrated camera as it is stored.

    intrinsics, covariance: the nine numbers of `calib.camera.camera.INTRINSICS` for pictures of width x height px, and the
        (9, 9) covariance found in that session (drift and focus are not in it; `prior` adds them).
    orientation:            EXIF orientation of the pictures that the numbers speak of (as seen, that is turned by it).
    distortion_model:       the free numbers chosen, see `calib.camera.lens_models`; "imported" where another program chose.
    distance_mm:            median distance from the camera to the board, over the photographs.
    taken_first, taken_last: when the earliest and the latest photograph used were taken, as EXIF states it (local time).
    covariance_stated:      False where an imported file gave none; then only the drift is counted.
    """

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True, populate_by_name=True)

    schema_version: Literal["photomeasure/camera/1"] = Field(default=SCHEMA, alias="schema")
    width: int = Field(gt=0)
    height: int = Field(gt=0)
    orientation: int = Field(default=1, ge=1, le=8)
    intrinsics: Nine
    covariance: Annotated[list[Nine], Field(min_length=9, max_length=9)]
    covariance_stated: bool = True
    distortion_model: str
    rms_px: float | None = Field(default=None, ge=0)
    holdout_px: float | None = Field(default=None, ge=0)
    clustering: float = Field(default=1.0, ge=1.0)
    camera: Lens = Lens()
    board: Sentence | None = None
    date: dt.date | None = None
    distance_mm: float | None = Field(default=None, gt=0)
    taken_first: dt.datetime | None = None
    taken_last: dt.datetime | None = None
    photographs: list[Source] = Field(default_factory=list)
    left_out: list[LeftOut] = Field(default_factory=list)
    warnings: list[Sentence] = Field(default_factory=list)

    @model_validator(mode="after")
    def _plausible(self) -> Self:
        mean, covariance = np.array(self.intrinsics), np.array(self.covariance)
        if (self.taken_first is None) != (self.taken_last is None):
            raise ValueError(said("taken_first and taken_last belong together"))
        if self.taken_first and self.taken_last and (self.taken_first.tzinfo or self.taken_last.tzinfo):
            raise ValueError(said("taken_first and taken_last are local times, without a zone"))
        if mean[:2].min() <= 0:
            raise ValueError(said("fx and fy must be above zero"))
        if not (-self.width < mean[2] < 2 * self.width and -self.height < mean[3] < 2 * self.height):
            raise ValueError(said("the principal point lies far outside the picture"))
        scale = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        scale[scale == 0] = 1.0
        normed = covariance / np.outer(scale, scale)
        if not np.allclose(normed, normed.T, atol=1e-6) or np.linalg.eigvalsh((normed + normed.T) / 2).min() < -1e-6:
            raise ValueError(said("the covariance is not symmetric and positive"))
        return self

    @classmethod
    def of(
        cls,
        calibration: Calibration,
        *,
        digests: dict[str, str],
        camera: Lens,
        board: str,
        orientation: int = 1,
        date: dt.date | None = None,
        taken: Mapping[str, dt.datetime] | None = None,
    ) -> Profile:
        """The profile of a calibration.

        digests, taken: by the views' names, the SHA-256 of their files and when EXIF says they were taken.
        """
        solved = calibration.chosen.solved
        times = [] if taken is None else [taken[view.name] for view in calibration.views if view.name in taken]
        return cls(
            width=calibration.size_px[0],
            height=calibration.size_px[1],
            orientation=orientation,
            intrinsics=calibration.intrinsics.tolist(),
            covariance=((calibration.covariance + calibration.covariance.T) / 2).tolist(),
            distortion_model=solved.model.name,
            rms_px=calibration.rms_px,
            holdout_px=calibration.holdout_px if math.isfinite(calibration.holdout_px) else None,
            clustering=solved.clustering,
            camera=camera,
            board=board,
            date=date,
            distance_mm=float(np.median(calibration.survey.distances_mm)),
            taken_first=min(times, default=None),
            taken_last=max(times, default=None),
            photographs=[
                Source(file=view.name, sha256=digests.get(view.name), corners=len(view.image_px), rms_px=float(rms))
                for view, rms in zip(calibration.views, solved.view_rms_px(), strict=True)
            ],
            left_out=[LeftOut(file=dropped.name, reason=dropped.reason) for dropped in calibration.dropped],
            warnings=list(calibration.warnings),
        )

    def save(self, path: Path, inputs: Iterable[Path] = ()) -> None:
        """Write the profile in one step, over no other file than an earlier profile and none of `inputs`."""
        write_output(path, self.model_dump_json(by_alias=True, indent=1) + "\n", inputs)

    def scaled_to(self, width: int, height: int) -> Profile | Refusal:
        """The profile of the same picture resized to width x height px; a refusal where the shape shows a crop.

        Resizing keeps the outer edges of the picture, so pixel centres move by c' = (c + 1/2) s - 1/2.
        """
        if (width, height) == (self.width, self.height):
            return self
        across, down = width / self.width, height / self.height
        slack = SIZE_TOLERANCE_PX * (1 / self.width + 1 / self.height)
        if min(width, height) < 1 or abs(across - down) > slack:
            return Refusal(
                code="picture-cropped",
                reason=said(
                    "The picture is {width} x {height} px; the camera profile speaks of {own_width} x {own_height} px, and no "
                    "resizing leads from one to the other: it was cropped, or taken in another mode.",
                    width=width,
                    height=height,
                    own_width=self.width,
                    own_height=self.height,
                ),
                remedy=said(
                    "Send the photograph as the camera took it, uncropped, or calibrate this mode of the camera."
                ),
            )
        mean, covariance = np.array(self.intrinsics), np.array(self.covariance)
        scales = np.array([across, down, across, down, 1, 1, 1, 1, 1], dtype=np.float64)
        scaled = mean * scales
        scaled[2:4] = (mean[2:4] + 0.5) * scales[2:4] - 0.5
        return self.model_copy(
            update={
                "width": width,
                "height": height,
                "intrinsics": scaled.tolist(),
                "covariance": (covariance * np.outer(scales, scales)).tolist(),
            }
        )

    def turned_to(self, orientation: int) -> Profile:
        """The profile of the same sensor's pictures seen with another EXIF orientation (1 to 8)."""
        matrix = turn(self.orientation, orientation)
        mean, linear = turned_intrinsics(np.array(self.intrinsics), (self.width, self.height), matrix)
        width, height = turned_size((self.width, self.height), matrix)
        covariance = linear @ np.array(self.covariance) @ linear.T
        return self.model_copy(
            update={
                "width": width,
                "height": height,
                "orientation": orientation,
                "intrinsics": mean.tolist(),
                "covariance": covariance.tolist(),
            }
        )

    def focus_share(self) -> float:
        """How much the focal length in pixels may change with focus, as a share; never more than between sessions.

        A thin lens of focal length f sharp at distance d has its image at f d / (d - f): nearer by f / d than at
        infinity. Whether a phone moves its lens as a whole is not known, so all of it counts as standard uncertainty.
        """
        focal_mm = self.camera.focal_mm
        if focal_mm is None or self.distance_mm is None:
            return FOCAL_DRIFT
        return min(FOCAL_DRIFT, focal_mm / self.distance_mm)

    def prior(self, *, same_session: bool = False) -> tuple[Array, Array]:
        """Mean (9,) and covariance (9, 9) for another photograph.

        A lens that breathes by a factor 1 + e keeps its distortion in pixels, so k1 grows by (1 + e)^2, k2 by (1 +
        e)^4, k3 by (1 + e)^6 and p1, p2 by 1 + e: the drift of the focal length carries the distortion with it.
        same_session: True for a photograph made in one go with the calibration's: focus may still differ, and a
            stabilised lens rests elsewhere in each exposure.
        """
        mean, covariance = np.array(self.intrinsics), np.array(self.covariance)
        share = self.focus_share() if same_session else FOCAL_DRIFT
        with_focal = share * mean * np.array([1, 1, 0, 0, 2, 4, 1, 1, 6], dtype=np.float64)
        drift = np.outer(with_focal, with_focal)
        drift[[2, 3], [2, 3]] += np.square(self.axis_drift_px())
        return mean, covariance + drift

    def axis_drift_px(self) -> tuple[float, float]:
        """How far the principal point moves from one exposure to the next, pixels across and down (standard deviation)."""
        across, down = PRINCIPAL_DRIFT if self.width >= self.height else PRINCIPAL_DRIFT[::-1]
        long_side = max(self.width, self.height)
        return across * long_side, down * long_side
