"""What a photograph's EXIF, or its absence, says of the camera: a prior with its covariance.

Figures (published or computed from public lens profiles): focal length of one phone model varies by 3 % between units
and sessions, but what EXIF states is further off where a phone straightens lines, steadies or crops the picture; an
integer 35 mm-equivalent is rounded to half a millimetre; the principal point lies within 0.8 % of the long side (median
0.33-0.44 %, 90th percentile 1.4-1.6 %); distortion left after in-camera correction moves pixels by 5 px per 4000 px of
width (10-90 %: 2.5-12.7).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.camera.camera import N_INTRINSICS
from calib.outcome.refusal import Refusal
from calib.words.said import joined, said
from photomeasure.scene.scene import CameraPrior

# Share of photographs, and relative spread of their focal length about what EXIF states: units and sessions of one model
# (published), and pictures that were straightened, steadied or cropped a little inside the phone (judgement: of three real phones two lay
# 8 and 36 % off; what is as far off as that gives way to the sheet's own perspective). Two standard deviations hold 95 % of it.
EXIF_SPREADS = ((0.85, 0.03), (0.15, 0.10))
UNIT_SPREAD = float(np.sqrt(sum(share * spread**2 for share, spread in EXIF_SPREADS)))
ASSUMED_F35_MM, ASSUMED_SPREAD = 26.0, 0.07  # phone main cameras: 23-28 mm-equivalent
PRINCIPAL_POINT_SPREAD = 0.008  # of the long side
RADIAL_SPREAD = 0.007  # k1 and k2 each
ULTRA_WIDE_F35_MM = 20.0
# Proportions of phones' sensors and of what they cut from them, long side over short (common practice, no source).
PROPORTIONS = (1.0, 4 / 3, 3 / 2, 16 / 9, 2.0, 18.5 / 9, 19 / 9, 19.5 / 9, 20 / 9)
LEAST_OFF, MOST_OFF = 0.0045, 0.03
# Height over width of a pixel: a rolling shutter and a stabiliser stretch by 0.05-0.2 % (published), and who shrinks a picture to whole
# blocks of 16 pixels by up to 0.5 % (computed). It costs nothing where nothing was stretched: `tests/experiments/aspect_study.md`.
PIXEL_PROPORTIONS_U = 0.003
FULL_FRAME_LONG_MM, FULL_FRAME_DIAGONAL_MM = 36.0, float(np.hypot(36.0, 24.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExifFacts:
    """What EXIF states of lens and time; None where it is silent or absurd. digital_zoom is 1 where none was used.

    taken: local time of the exposure, without a zone. panorama: the phone says that it put the picture together.
    """

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float = 1.0
    taken: dt.datetime | None = None
    panorama: bool = False


def _prior(
    size_px: tuple[int, int], focal_px: float, spread: float, kind: Literal["exif", "assumed"], source: str
) -> CameraPrior:
    width, height = size_px
    long_side = max(size_px)
    mean = np.zeros(N_INTRINSICS)
    mean[:4] = focal_px, focal_px, (width - 1) / 2, (height - 1) / 2
    stretch = off_proportions(size_px)
    u_proportions = max(stretch, PIXEL_PROPORTIONS_U)
    basis = np.zeros((N_INTRINSICS, 6))
    basis[0, 0] = basis[1, 0] = focal_px * spread
    basis[2, 1] = basis[3, 2] = PRINCIPAL_POINT_SPREAD * long_side
    basis[4, 3] = basis[5, 4] = RADIAL_SPREAD
    basis[0, 5], basis[1, 5] = 0.5 * u_proportions * focal_px, -0.5 * u_proportions * focal_px
    if stretch:
        source = joined([source, _stretched(stretch)], "; ")
    return CameraPrior(
        mean=mean,
        basis=basis,
        quantities=("focal length", *["principal point"] * 2, *["distortion"] * 2, "proportions"),
        size_px=size_px,
        kind=kind,
        source=source,
        own=(1, 2),  # a stabilised lens, or the crop of a stabilised picture, rests elsewhere in each exposure
    )


def _stretched(share: float) -> str:
    return said(
        "{percent:.1f} % off a camera's proportions, so it may have been stretched by as much", percent=100 * share
    )


def off_proportions(size_px: tuple[int, int]) -> float:
    """By which share a picture is a little off the proportions that cameras give: stretched, or cut by a little; else 0.

    Sizes in whole blocks of 16 or 32 pixels are up to 0.4 % off (4080 x 3072); what is far off was cut, and no harm comes of it.
    """
    ratio = max(size_px) / min(size_px)
    off = min(abs(float(np.log(ratio / usual))) for usual in PROPORTIONS)
    return off if LEAST_OFF < off < MOST_OFF else 0.0


def camera_prior(size_px: tuple[int, int], facts: ExifFacts) -> CameraPrior | Refusal:
    """The prior for a picture of `size_px` (width, height) as a person sees it.

    EXIF's 35 mm-equivalent is meant by the diagonal or by the width, which differ by 4 % on a 4:3 sensor: the middle is
    taken and the difference counts as uncertainty. Refuses panoramas, and ultra-wide cameras, whose
    distortion no prior can tell.
    """
    if facts.panorama:
        return Refusal(
            code="panorama",
            reason=said(
                "The picture is a panorama: the phone put it together from many, and no single camera sees a sheet like that."
            ),
            remedy=said("Take an ordinary photograph with the main camera (1x), and send it as the camera wrote it."),
        )
    width, height = size_px
    long_side, diagonal = max(size_px), float(np.hypot(width, height))
    f35 = facts.focal_35mm
    if f35 is None:
        focal = ASSUMED_F35_MM * _per_f35(long_side, diagonal)[0]
        return _prior(
            size_px,
            focal,
            ASSUMED_SPREAD,
            "assumed",
            said("no focal length in the file: a phone's main camera, 26 mm-equivalent, ± 7 %"),
        )
    if f35 < ULTRA_WIDE_F35_MM:
        return Refusal(
            code="ultra-wide",
            reason=said(
                "The picture was taken with an ultra-wide lens ({f35:.0f} mm-equivalent), whose distortion is "
                "not known.",
                f35=f35,
            ),
            remedy=said("Use the phone's main camera (1x), or calibrate this one and use its profile."),
        )
    per_f35, ambiguity = _per_f35(long_side, diagonal)
    zoom = max(1.0, facts.digital_zoom)
    rounding = 0.5 / np.sqrt(3.0) / f35
    # whether the stated equivalent already holds the digital zoom is not told: both are possible
    zoom_spread = np.log(zoom) / 2
    spread = float(np.sqrt(UNIT_SPREAD**2 + rounding**2 + ambiguity**2 + zoom_spread**2))
    source = said("EXIF: {f35:.0f} mm-equivalent, ± {spread:.1f} %", f35=f35, spread=100 * spread)
    return _prior(size_px, f35 * per_f35 * float(np.sqrt(zoom)), spread, "exif", source)


def _per_f35(long_side: int, diagonal: float) -> tuple[float, float]:
    """Pixels per millimetre of 35 mm-equivalent focal length: middle of both readings, and relative u of the choice."""
    by_width, by_diagonal = long_side / FULL_FRAME_LONG_MM, diagonal / FULL_FRAME_DIAGONAL_MM
    middle = (by_width + by_diagonal) / 2
    return middle, abs(by_width - by_diagonal) / 2 / middle / float(np.sqrt(3.0))
