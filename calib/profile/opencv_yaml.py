"""Camera profiles to and from OpenCV's FileStorage YAML, with the node names that its own calibration samples write."""

from __future__ import annotations

import re
from pathlib import Path

import cv2
import numpy as np

from calib.outcome.errors import InputError
from calib.outcome.files import mark, why_unread, write_output
from calib.outcome.reading import text_of
from calib.profile.opencv_text import OpenCVText
from calib.profile.profile import Profile
from calib.words.said import said

LARGEST_BYTES = 1_000_000
TERMS = 5  # k1, k2, p1, p2, k3; longer vectors hold the rational, thin-prism and tilt terms
_NAME = re.compile(r"[^A-Za-z0-9_]")


def to_opencv_yaml(profile: Profile, path: Path) -> None:
    """Write the profile as OpenCV YAML: camera matrix, distortion, size, RMS; the covariance in a node of our own."""
    mean = np.array(profile.intrinsics)
    storage = cv2.FileStorage(".yml", cv2.FileStorage_WRITE | cv2.FileStorage_MEMORY | cv2.FileStorage_FORMAT_YAML)
    storage.writeComment(mark("opencv-camera"))
    storage.write("image_width", profile.width)
    storage.write("image_height", profile.height)
    fx, fy, cx, cy = mean[:4]
    storage.write("camera_matrix", np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]]))
    storage.write("distortion_coefficients", mean[4:].reshape(TERMS, 1))
    if profile.rms_px is not None:
        storage.write("avg_reprojection_error", profile.rms_px)
    if profile.covariance_stated:
        storage.write("intrinsics_covariance", np.array(profile.covariance))
    if profile.camera.model:
        storage.writeComment(f"camera: {profile.camera.make or ''} {profile.camera.model}".replace("\n", " "))
    write_output(path, storage.releaseAndGetString())


def from_opencv_yaml(path: Path) -> Profile:
    """Read an OpenCV YAML (or XML) camera file.

    Without our covariance node the covariance is zero and marked as not stated. InputError where the file cannot be
    read, has no camera matrix or size, or uses more distortion terms than five.
    """
    try:
        written = OpenCVText(text_of(path, LARGEST_BYTES))
        matrix = written.matrix("camera_matrix", "Camera_Matrix")
        terms = written.matrix("distortion_coefficients", "Distortion_Coefficients", "distortion_coeffs")
        covariance = written.matrix("intrinsics_covariance")
        width, height = (_whole(written.number(f"image_{side}")) for side in ("width", "height"))
        rms_px = written.number("avg_reprojection_error")
    except (OSError, UnicodeDecodeError) as error:
        raise _unusable(path, said("it cannot be read ({error})", error=why_unread(error))) from error
    except ValueError as error:
        raise _unusable(path, error.args[0] if error.args else str(error)) from error
    if matrix is None or matrix.shape != (3, 3) or width is None or height is None:
        raise _unusable(path, said("camera_matrix (3 x 3), image_width and image_height are not all there"))
    terms = np.zeros(TERMS) if terms is None else terms.ravel()
    if len(terms) < 4 or np.any(terms[TERMS:] != 0):
        raise _unusable(path, said("it has {terms} distortion terms", terms=len(terms)))
    if abs(matrix[0, 1]) > 1e-9 * matrix[0, 0]:
        raise _unusable(path, said("its camera matrix has skew"))
    intrinsics = np.zeros(9)
    intrinsics[:4] = matrix[0, 0], matrix[1, 1], matrix[0, 2], matrix[1, 2]
    intrinsics[4 : 4 + min(len(terms), TERMS)] = terms[:TERMS]
    stated = covariance is not None and covariance.shape == (9, 9)
    try:
        return Profile(
            width=width,
            height=height,
            intrinsics=intrinsics.tolist(),
            covariance=(covariance if covariance is not None and stated else np.zeros((9, 9))).tolist(),
            covariance_stated=stated,
            distortion_model="imported",
            rms_px=rms_px if rms_px is not None and rms_px >= 0 else None,
        )
    except ValueError as error:
        raise _unusable(path, error.args[0] if error.args else str(error)) from error


def _whole(number: float | None) -> int | None:
    return int(number) if number is not None and number == int(number) else None


def _unusable(path: Path, why: str) -> InputError:
    return InputError(
        said("{path} is no camera file that can be used: {why}.", path=path, why=why),
        expected=said("OpenCV YAML or XML: camera_matrix, distortion_coefficients (4 or 5), image_width, image_height"),
        remedy=said("export it again with the five-term distortion model, or calibrate with photomeasure calibrate"),
    )
