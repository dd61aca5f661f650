"""From a request to its full record in one call: the same for one rig, for many, and for doing it again."""

from __future__ import annotations

import hashlib
import os
import platform
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
import PIL
import scipy

import calib
import photomeasure
from calib.outcome.files import is_file
from photomeasure.asked.request import Request
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.pipeline import Result, Standing, measure, measure_from
from photomeasure.record.made_from_result import advice_of, record_of, record_of_refusal
from photomeasure.record.request_kept import asked_part
from photomeasure.record.schema import PhotoPart, Record
from photomeasure.seen.given import given_bytes, is_given
from photomeasure.seen.image import MAX_FILE_BYTES
from photomeasure.seen.look import Refused

if TYPE_CHECKING:
    from photomeasure.interval.montecarlo import MonteCarloCheck

_PROGRAM_SUFFIXES = (".py", ".toml", ".npz")
MONTE_CARLO_SEED = 20261125  # the same record for the same photographs


def recorded(
    request: Request,
    *,
    seed: int | None = None,
    tape: TapeSaid | None = None,
    standing: Standing | Refused | None = None,
) -> tuple[Result | Refused, Record]:
    """Measure, and make the record with all that it takes to do so again; a refusal has a record too, with no figure in it.

    seed: of the Monte Carlo check (JCGM 101), None for none. tape: a reading, mm, to keep and compare. standing: what the pictures
    of this request show, where they have been looked at already. Raises InputError as `measure` does.
    """
    if standing is None:
        outcome = measure(request)
    else:
        outcome = standing if isinstance(standing, Refused) else measure_from(standing)
    if isinstance(outcome, Refused):
        record, photos = record_of_refusal(outcome), outcome.photos
    else:
        record = record_of(outcome, advice=advice_of(outcome), check=_drawn(outcome, seed))
        photos = tuple(view.photo for view in outcome.views)
    seen = (number for view in outcome.views for number in (view.number, view.second_number))
    numbers = [number for number in seen if number is not None]
    record = record.model_copy(
        update={
            "photos": [_digested(part, path) for part, path in zip(record.photos, request.photos, strict=False)],
            "asked": asked_part(request, photos, seed, numbers),
            "software": software(),
            "rig": request.case.rig,
        }
    )
    return outcome, record if tape is None else _with_tape(record, tape)


def _drawn(outcome: Result, seed: int | None) -> MonteCarloCheck | None:
    if seed is None:
        return None
    from photomeasure.interval.montecarlo import monte_carlo  # asked for by few, and loading this takes a while

    return monte_carlo(outcome.estimate, np.random.default_rng(seed))


def _with_tape(record: Record, tape: TapeSaid) -> Record:
    from photomeasure.record.with_tape import with_tape  # most read the tape afterwards

    return with_tape(record, tape)


@cache
def software() -> dict[str, str]:
    """Versions of what the figures are computed with; of this program the digest of its files, as a version may be reused."""
    return {
        "program files": _program_digest(),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "opencv": cv2.__version__,
        "pillow": PIL.__version__,
    }


def _program_digest() -> str:
    """First twelve hex digits of the SHA-256 over every module and data file of both packages, by name."""
    digest = hashlib.sha256()
    for package in (calib, photomeasure):
        top = package.__path__[0]
        above = len(top) - len(package.__name__)
        for folder, inner, files in os.walk(top):
            inner[:] = sorted(name for name in inner if name != "__pycache__")
            for name in sorted(file for file in files if file.endswith(_PROGRAM_SUFFIXES)):
                digest.update(f"{folder[above:].replace(os.sep, '/')}/{name}".encode())
                with open(f"{folder}/{name}", "rb", buffering=0) as file:  # noqa: PTH123  # 500 files, at every start
                    digest.update(file.read())
    return digest.hexdigest()[:12]


def file_digest(path: Path) -> str | None:
    """SHA-256 of a file's bytes, as a record holds it; None where it cannot be read, or is larger than any photograph: gigabytes that
    are refused at a glance are not read through for it."""
    if is_given(path):
        sent = given_bytes(path)
        return None if sent is None else hashlib.sha256(sent).hexdigest()
    if not is_file(path):  # a pipe would be waited for
        return None
    try:
        with path.open("rb") as stream:
            if os.fstat(stream.fileno()).st_size > MAX_FILE_BYTES:
                return None
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return None


def _digested(part: PhotoPart, path: Path) -> PhotoPart:
    """With a digest of a photograph that could not be decoded, or was not reached, as well."""
    return part if part.sha256 is not None else part.model_copy(update={"sha256": file_digest(path)})
