"""The measuring bay: surveyed markers on a wall or posts, in place of the kit or beside it.

World: x right, z up, ground z = 0; corners in the order in which OpenCV reports them for an upright printed marker
(top-left, clockwise). OpenCV numbers AprilTag corners from a point half a turn away; the file does as OpenCV does.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from calib.outcome.reading import read_model
from calib.words.said import said

SCHEMA: Literal["photomeasure/bay/1"] = "photomeasure/bay/1"
LARGEST_BYTES = 5_000_000

Point = Annotated[list[float], Field(min_length=3, max_length=3)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)


class Marker(_Part):
    """One surveyed marker: corners_mm 4 x [x, y, z]."""

    id: Annotated[int, Field(ge=0)]
    corners_mm: Annotated[list[Point], Field(min_length=4, max_length=4)]


class CouplingPlane(_Part):
    """The upright plane in which couplings are placed: a point, its normal, and how well they keep to it."""

    point_mm: Point
    normal: Point
    u_mm: Annotated[float, Field(gt=0)]


class Bay(_Part):
    """Surveyed markers of one OpenCV dictionary; u_mm of a corner coordinate."""

    schema_: Literal["photomeasure/bay/1"] = Field(alias="schema")
    dictionary: str
    markers: Annotated[list[Marker], Field(min_length=1)]
    u_mm: Annotated[float, Field(gt=0)]
    coupling_plane: CouplingPlane | None = None

    @model_validator(mode="after")
    def _sound(self) -> Bay:
        import cv2  # nothing else of what is asked needs it

        if not hasattr(cv2.aruco, self.dictionary) or not self.dictionary.startswith("DICT_"):
            raise ValueError(
                said(
                    "dictionary {dictionary} is none of OpenCV's, such as DICT_4X4_50 or DICT_APRILTAG_36h11",
                    dictionary=repr(self.dictionary),
                )
            )
        ids = [marker.id for marker in self.markers]
        if len(set(ids)) < len(ids):
            raise ValueError(said("a marker id stands twice"))
        if self.coupling_plane is not None and not any(self.coupling_plane.normal):
            raise ValueError(said("coupling_plane.normal has no direction"))
        return self


def load_bay(path: Path) -> Bay:
    """A bay file; InputError names the field that is wrong."""
    return read_model(
        Bay,
        path,
        what=said("the bay file"),
        form=said("a JSON file"),
        expected=said(
            "schema {schema}: dictionary, markers with id and four corners_mm, u_mm, coupling_plane or null",
            schema=SCHEMA,
        ),
        remedy=said("mend that field; photomeasure bay makes such files from photographs and tapes"),
        most_bytes=LARGEST_BYTES,
    )
