"""Which camera took a photograph: a calibrated profile where one fits, else what EXIF says, else a phone's main camera."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from calib.outcome.refusal import Refusal
from calib.words.said import joined, said
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_by_exif import camera_prior
from photomeasure.seen.image import Photo

if TYPE_CHECKING:
    from calib.profile.profile import Profile


def from_profile(profile: Profile, photo: Photo, name: str) -> CameraPrior:
    """A calibrated camera's prior: mean and covariance (9, 9), widened for focus and, after a time, drift.

    What a stabiliser does to the axis each photograph has for itself; all else is the camera's.
    """
    from calib.profile.session import apart_in_one_go
    from calib.survey.solve import lens_basis  # a profile is rare, and loading this is slow

    apart = apart_in_one_go(profile, photo.facts)
    mean, covariance = profile.prior(same_session=apart is not None)
    stabiliser = np.zeros((9, 2))
    stabiliser[2, 0], stabiliser[3, 1] = profile.axis_drift_px()
    basis = np.hstack([lens_basis(covariance - stabiliser @ stabiliser.T), stabiliser])
    return CameraPrior(
        mean=mean,
        basis=basis,
        quantities=("camera profile",) * basis.shape[1],
        size_px=photo.size_px,
        kind="profile",
        source=joined([name, _when(profile, apart)]),
        own=(basis.shape[1] - 2, basis.shape[1] - 1),
    )


def _when(profile: Profile, apart: dt.timedelta | None) -> str:
    from calib.profile.profile import FOCAL_DRIFT

    if apart is None:
        return said(
            "made at another time: focal length ± {focal_drift:.0f} % between times", focal_drift=100 * FOCAL_DRIFT
        )
    minutes = round(apart.total_seconds() / 60)
    gap = (
        said("in one go with this photograph")
        if minutes == 0
        else said("{minutes} min from this photograph", minutes=minutes)
    )
    return said(
        "made {gap}, so taken for the same phone: focal length ± {focus_share:.1f} % for focus",
        gap=gap,
        focus_share=100 * profile.focus_share(),
    )


def profile_folder() -> Path:
    """Where remembered camera profiles lie, by the platform's convention."""
    from platformdirs import user_data_path

    return user_data_path("photomeasure", appauthor=False) / "cameras"


def camera_for(photo: Photo, profile: Profile | None, folder: Path | None) -> CameraPrior | Refusal:
    """The camera prior of a photograph. profile: given by the user; folder: where remembered profiles lie.

    Refused where the given profile is of another camera, zoom or crop.
    """
    width, height = photo.size_px
    if profile is not None:
        from calib.profile.match import fitted

        fit = fitted(profile, photo.facts, width, height, photo.camera_orientation)
        if isinstance(fit, Refusal):
            return fit
        return from_profile(fit, photo, said("camera profile given by the user"))
    if folder is not None and folder.is_dir():  # most have none, and loading this takes a while
        from calib.profile.match import pick_profile

        picked = pick_profile(folder, photo.facts, width, height, photo.camera_orientation)
        if picked is not None:
            path, fit = picked
            if not isinstance(fit, Refusal):
                return from_profile(fit, photo, said("remembered camera profile {path}", path=path.name))
            return _without(camera_prior(photo.size_px, photo.facts), path, fit)
    return camera_prior(photo.size_px, photo.facts)


def _without(otherwise: CameraPrior | Refusal, path: Path, unfit: Refusal) -> CameraPrior | Refusal:
    """What is known without a remembered profile of this phone, and why that was passed over."""
    if isinstance(otherwise, Refusal):
        return otherwise
    passed_over = said(
        "the remembered profile {path} of this phone was not used: {why}",
        path=path.name,
        why=f"{unfit.reason[:1].lower()}{unfit.reason[1:]}".rstrip("."),
    )
    return replace(otherwise, source=joined([otherwise.source, passed_over], "; "))
