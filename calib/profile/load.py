"""A camera profile read from its file, of our own or of OpenCV's form."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import in_words
from calib.outcome.reading import json_of, text_of
from calib.profile.profile import SCHEMA, Profile

LARGEST_BYTES = 5_000_000
OPENCV_SUFFIXES = (".yml", ".yaml", ".xml")


def load_profile(path: Path) -> Profile:
    """Read a profile, or a camera file of OpenCV's (.yml, .yaml, .xml); InputError where it is neither."""
    if path.suffix.lower() in OPENCV_SUFFIXES:
        from calib.profile.opencv_yaml import from_opencv_yaml

        return from_opencv_yaml(path)
    try:
        return Profile.model_validate(json_of(text_of(path, LARGEST_BYTES)))
    except OSError as error:
        raise InputError(
            f"Cannot open the camera profile {path}: {error.strerror or error}.",
            expected="a file made by photomeasure calibrate",
            remedy="check the path, or make one with photomeasure calibrate",
        ) from error
    except (ValueError, ValidationError) as error:
        raise InputError(
            f"{path} is no camera profile: {_first_problem(error)}.",
            expected=f"a JSON file with schema {SCHEMA!r}, as photomeasure calibrate writes it",
            remedy="make it again with photomeasure calibrate, or import an OpenCV YAML file",
        ) from error


def _first_problem(error: ValueError) -> str:
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        return f"{where + ': ' if where else ''}{in_words(first)}"
    return str(error)
