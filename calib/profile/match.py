"""Which stored profile fits a photograph: by what EXIF says of the camera, and by the picture's size."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Protocol

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.profile.load import load_profile
from calib.profile.profile import Profile
from calib.words.said import said

FOCAL_TOLERANCE = 0.01  # EXIF's focal length in mm is rounded; a zoom step is far more
EQUIVALENT_TOLERANCE_MM = 0.51  # the 35 mm-equivalent is an integer
ZOOM_TOLERANCE = 0.01


class Facts(Protocol):
    """What EXIF says of a photograph; None where it is silent."""

    @property
    def make(self) -> str | None: ...
    @property
    def model(self) -> str | None: ...
    @property
    def lens(self) -> str | None: ...
    @property
    def focal_mm(self) -> float | None: ...
    @property
    def focal_35mm(self) -> float | None: ...
    @property
    def digital_zoom(self) -> float: ...
    @property
    def taken(self) -> dt.datetime | None: ...


def mismatch(profile: Profile, facts: Facts) -> Refusal | None:
    """Refused: why a photograph with these facts is not of the profile's camera and zoom; None where nothing speaks against it.

    What either side leaves out is not held against it.
    """
    known = profile.camera
    if _named_otherwise(known.make, facts.make):
        return _another(
            said("The maker is {theirs}; the profile was made with {ours}.", theirs=facts.make, ours=known.make)
        )
    if _named_otherwise(known.model, facts.model):
        return _another(
            said("The camera is {theirs}; the profile was made with {ours}.", theirs=facts.model, ours=known.model)
        )
    if _named_otherwise(known.lens, facts.lens):
        return _another(
            said("The lens is {theirs}; the profile was made with {ours}.", theirs=facts.lens, ours=known.lens)
        )
    own, seen = known.focal_mm, facts.focal_mm
    if own is not None and seen is not None and abs(own - seen) > FOCAL_TOLERANCE * own:
        return _another(
            said("The focal length is {seen:g} mm; the profile was made at {own:g} mm.", seen=seen, own=own)
        )
    own, seen = known.focal_35mm, facts.focal_35mm
    if own is not None and seen is not None and abs(own - seen) > EQUIVALENT_TOLERANCE_MM:
        return _another(
            said(
                "The 35 mm-equivalent focal length is {seen:g} mm; the profile was made at {own:g} mm.",
                seen=seen,
                own=own,
            )
        )
    if abs(known.digital_zoom - facts.digital_zoom) > ZOOM_TOLERANCE:
        return _another(
            said(
                "The digital zoom is {seen:g}; the profile was made at {own:g}.",
                seen=facts.digital_zoom,
                own=known.digital_zoom,
            )
        )
    return None


def _named_otherwise(ours: str | None, theirs: str | None) -> bool:
    return bool(ours and theirs) and str(ours).strip().lower() != str(theirs).strip().lower()


def _another(reason: str) -> Refusal:
    return Refusal(
        code="profile-other-camera",
        reason=reason,
        remedy=said("Use the profile of this camera and zoom, or make one, or measure without a profile."),
    )


def fitted(
    profile: Profile, facts: Facts, width: int, height: int, orientation: int | None = None
) -> Profile | Refusal:
    """The profile for a picture of width x height px as a person sees it; refused where it does not fit.

    orientation: the picture's EXIF orientation; None where EXIF is gone. A picture that stands upright while the
        profile lies on its side is then turned the way phones are held (EXIF 6).
    """
    wrong = mismatch(profile, facts)
    if wrong is not None:
        return wrong
    turned = profile
    if orientation is not None and orientation != profile.orientation:
        turned = profile.turned_to(orientation)
    if (turned.width > turned.height) != (width > height) and turned.width != turned.height:
        turned = profile.turned_to(6 if profile.orientation in (1, 3) else 1)
    return turned.scaled_to(width, height)


def pick_profile(
    folder: Path, facts: Facts, width: int, height: int, orientation: int | None = None
) -> tuple[Path, Profile | Refusal] | None:
    """The newest profile in `folder` of the camera that EXIF names, fitted to the picture; None where there is none.

    Where profiles of this very camera are there and none fits (a crop, another zoom), the newest with its Refusal.
    A photograph that does not name its camera matches nothing: a picture's size alone is no proof. Files that are no
    profiles are passed over.
    """
    if not facts.model or not folder.is_dir():
        return None
    found: list[tuple[tuple[str, str], Path, Profile | Refusal]] = []
    for path in sorted(folder.glob("*.json")):
        try:
            profile = load_profile(path)
        except InputError:
            continue
        if _is_of(profile, facts):
            found.append((_age(profile), path, fitted(profile, facts, width, height, orientation)))
    if not found:
        return None
    _, path, fit = max(found, key=lambda entry: (isinstance(entry[2], Profile), entry[0], entry[1].name))
    return path, fit


def _is_of(profile: Profile, facts: Facts) -> bool:
    """Whether the profile says that it was made with the camera that took the photograph."""
    known = profile.camera
    same_model = bool(known.model and facts.model and known.model.strip().lower() == facts.model.strip().lower())
    return same_model and not (known.make and facts.make and known.make.strip().lower() != facts.make.strip().lower())


def _age(profile: Profile) -> tuple[str, str]:
    """Sorts older profiles first."""
    last = profile.taken_last
    return profile.date.isoformat() if profile.date else "", last.isoformat() if last else ""
