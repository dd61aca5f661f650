"""Which camera took a photograph: a calibrated profile where one fits, else what EXIF says, else a phone's main camera."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome import Refusal
from photomeasure.camera_prior import camera_prior
from photomeasure.image import Photo
from photomeasure.scene import CameraPrior

if TYPE_CHECKING:
    from calib.profile import Profile


def from_profile(profile: Profile, size_px: tuple[int, int], name: str) -> CameraPrior:
    """A calibrated camera's prior: mean and covariance (9, 9), widened for how phones drift between sessions."""
    from calib.bundle import lens_basis  # a profile is rare, and loading this is slow

    mean, covariance = profile.prior()
    basis = lens_basis(covariance)
    return CameraPrior(
        mean=mean,
        basis=basis,
        quantities=("camera profile",) * basis.shape[1],
        size_px=size_px,
        kind="profile",
        source=name,
    )


def profile_folder() -> Path:
    """Where remembered camera profiles lie, by the platform's convention."""
    from platformdirs import user_data_path

    return user_data_path("photomeasure", appauthor=False) / "cameras"


def camera_for(photo: Photo, profile: Profile | None, folder: Path | None) -> CameraPrior | Refusal:
    """The camera prior of a photograph. profile: given by the user; folder: where remembered profiles lie."""
    width, height = photo.size_px
    if profile is not None:
        from calib.profile_match import fitted

        fit = fitted(profile, photo.facts, width, height, photo.orientation)
        if isinstance(fit, Refusal):
            return fit
        return from_profile(fit, photo.size_px, "camera profile given by the user")
    if folder is not None:
        from calib.profile_match import pick_profile

        picked = pick_profile(folder, photo.facts, width, height, photo.orientation)
        if picked is not None:
            return from_profile(picked[1], photo.size_px, f"remembered camera profile {picked[0].name}")
    return camera_prior(photo.size_px, photo.facts)
