"""The survey file of a measuring bay: what was taped, what lies on the ground, which wall is plumb. TOML, mm."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from calib.outcome.reading import read_model
from calib.survey.data import Height, Pick, Plumb, Sighting, Survey, Tape
from calib.words.said import said

LARGEST_BYTES = 1_000_000
GROUND_U_MM = 2.0  # how well a picked spot lies in the ground's plane: common practice, no source

Pixel = Annotated[list[float], Field(min_length=2, max_length=2)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True, populate_by_name=True)


class TapeRow(_Part):
    """A taped distance: from and to are points such as "12.0" (marker 12, corner 0) or names of spots."""

    start: str = Field(alias="from")
    end: str = Field(alias="to")
    mm: float = Field(gt=0)
    u_mm: float = Field(default=2.0, gt=0)


class HeightRow(_Part):
    """A point's height over the ground."""

    point: str
    mm: float
    u_mm: float = Field(default=2.0, gt=0)


class SpotRow(_Part):
    """A spot on the ground as it is seen in one photograph; give each spot in two photographs or more."""

    name: str = Field(pattern=r"^[^.]+$")
    photo: str
    px: Pixel
    sigma_px: float = Field(default=1.0, gt=0)


class PlumbRow(_Part):
    """Markers on one plumb wall."""

    markers: Annotated[list[int], Field(min_length=2)]
    u_deg: float = Field(default=0.3, gt=0, le=5)


class PlaneRow(_Part):
    """The upright plane through two spots on the ground, in which couplings are placed."""

    through: Annotated[list[str], Field(min_length=2, max_length=2)]
    u_mm: float = Field(default=20.0, gt=0)


class SurveyFile(_Part):
    """dictionary: OpenCV's name; marker_mm: about how large a marker is (black border's outer side)."""

    dictionary: str
    marker_mm: float = Field(default=100.0, gt=0)
    tape: list[TapeRow] = []
    height: list[HeightRow] = []
    ground: list[SpotRow] = []
    plumb: PlumbRow | None = None
    coupling_plane: PlaneRow | None = None

    def survey(self, sightings: tuple[Sighting, ...]) -> Survey:
        """Everything observed, with what the photographs show."""
        spots = sorted({spot.name for spot in self.ground})
        return Survey(
            sightings=sightings,
            tapes=tuple(Tape(start=t.start, end=t.end, distance_mm=t.mm, u_mm=t.u_mm) for t in self.tape),
            heights=(
                *(Height(point=h.point, height_mm=h.mm, u_mm=h.u_mm) for h in self.height),
                *(Height(point=name, height_mm=0.0, u_mm=GROUND_U_MM) for name in spots),
            ),
            picks=tuple(
                Pick(photo=spot.photo, point=spot.name, px=(spot.px[0], spot.px[1]), sigma_px=spot.sigma_px)
                for spot in self.ground
            ),
            plumb=None
            if self.plumb is None
            else Plumb(markers=tuple(self.plumb.markers), u_rad=math.radians(self.plumb.u_deg)),
            side_mm=self.marker_mm,
        )


def load_survey_file(path: Path) -> SurveyFile:
    """Read a survey file; InputError names what is wrong in it."""
    return read_model(
        SurveyFile,
        path,
        what=said("the survey file"),
        form=said("a TOML file"),
        expected=said("dictionary, marker_mm, [[tape]] from, to, mm; [[height]] point, mm; [[ground]] name, photo, px"),
        remedy=said("mend that entry"),
        most_bytes=LARGEST_BYTES,
        toml=True,
    )
