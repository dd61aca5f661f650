"""A camera profile read from its file, of our own or of OpenCV's form."""

from __future__ import annotations

from pathlib import Path

from calib.outcome.reading import read_model
from calib.profile.profile import SCHEMA, Profile
from calib.words.said import said

LARGEST_BYTES = 5_000_000
OPENCV_SUFFIXES = (".yml", ".yaml", ".xml")


def load_profile(path: Path) -> Profile:
    """Read a profile (pixels, as `Profile` says), or a camera file of OpenCV's (.yml, .yaml, .xml).

    Raises InputError where it is neither, or where a value is out of its range; it names file and field.
    """
    if path.suffix.lower() in OPENCV_SUFFIXES:
        from calib.profile.opencv_yaml import from_opencv_yaml

        return from_opencv_yaml(path)
    return read_model(
        Profile,
        path,
        what=said("the camera profile"),
        no=lambda file: said("{path} is no camera profile", path=file),
        form=said("a file made by photomeasure calibrate"),
        expected=said("a JSON file with schema {schema}, as photomeasure calibrate writes it", schema=repr(SCHEMA)),
        remedy=said("make it again with photomeasure calibrate, or import an OpenCV YAML file"),
        most_bytes=LARGEST_BYTES,
    )
