"""From photographs of a board to a camera's profile: what `photomeasure calibrate` and the page both make."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.progress import Progress
from calib.words.said import said
from photomeasure.seen.board_photos import BoardPhotos, KitSheet, Target

if TYPE_CHECKING:
    from calib.calibration.calibrate import Calibration
    from calib.outcome.refusal import Refusal
    from calib.profile.profile import Profile


def calibrated(found: BoardPhotos, target: Target, progress: Progress) -> Calibration | Refusal:
    """The camera that took the photographs. Refuses as `calib.calibration.calibrate` does."""
    from calib.calibration.calibrate import calibrate

    is_sheet = isinstance(target, KitSheet)
    return calibrate(
        found.views,
        found.size_px,
        focal_px=found.focal_px,
        ratio_u=target.ratio_u() if isinstance(target, KitSheet) else 0.0,
        progress=progress,
        thing=said("sheet") if is_sheet else said("board"),
    )


def profile_made(calibration: Calibration, found: BoardPhotos, target: Target) -> Profile:
    """What is kept of it, with all that was left out and all that is to be doubted."""
    from calib.profile.profile import LeftOut, Lens, Profile

    facts = found.facts
    profile = Profile.of(
        calibration,
        digests=found.digests,
        camera=Lens(
            make=facts.make,
            model=facts.model,
            lens=facts.lens,
            focal_mm=facts.focal_mm,
            focal_35mm=facts.focal_35mm,
            digital_zoom=facts.digital_zoom,
        ),
        board=target.text(),
        orientation=found.orientation,
        date=dt.datetime.now(dt.UTC).date(),
        taken=found.taken,
    )
    unused = [LeftOut(file=gone.name, reason=gone.reason) for gone in found.unused]
    more = unmeasured_bars(target, calibration)
    return profile.model_copy(update={"left_out": [*unused, *profile.left_out], "warnings": [*profile.warnings, *more]})


def unmeasured_bars(target: Target, calibration: Calibration) -> list[str]:
    """A warning, where neither a ruler nor the photographs told how long the print is for its width."""
    from calib.calibration.calibrate import RATIO_KNOWN_U

    if not isinstance(target, KitSheet) or (target.bar_x_mm is not None and target.bar_y_mm is not None):
        return []
    if calibration.print_ratio is not None and calibration.print_ratio.u < RATIO_KNOWN_U:
        return []  # the photographs tell it better than a ruler does
    return [
        said(
            "The check bars were not measured, and all photographs are one way up: a printer that feeds 0.4 % short makes fx and fy "
            "differ by as much, which their uncertainties hold. Give what a ruler reads on both bars, or turn the camera for some."
        )
    ]


def remembered_as(profile: Profile, folder: Path) -> Path:
    """Where a profile goes among the remembered ones, under a name that says what it is of and that nothing else has."""
    camera = profile.camera
    model = "-".join(part for part in (camera.make, camera.model) if part) or "camera"
    plain = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in model.lower())
    stem = "-".join([*filter(None, plain.split("-")), profile.date.isoformat() if profile.date else "undated"])[:80]
    path, number = folder / f"{stem}.json", 1
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}.json"
    return path
