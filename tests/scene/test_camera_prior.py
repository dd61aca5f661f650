"""The camera prior against the published figures of cameras and prints (confidence as in the reference tables)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from calib.camera.camera import project
from calib.outcome.refusal import Refusal
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_by_exif import EXIF_SPREADS, UNIT_SPREAD, ExifFacts, camera_prior

SIZE = (4000, 3000)


def prior(size_px: tuple[int, int] = SIZE, **facts: float) -> CameraPrior:
    made = camera_prior(size_px, ExifFacts(**facts))  # type: ignore[arg-type]
    assert isinstance(made, CameraPrior)
    return made


def relative_u(made: CameraPrior) -> float:
    """Of the focal length, the middle of both directions."""
    return float(np.linalg.norm((made.basis[0] + made.basis[1]) / 2.0) / made.mean[0])


def test_a_pixel_is_square_to_three_per_mille_and_a_tilted_picture_too() -> None:
    """A rolling shutter stretches by 0.05-0.2 % (published), shrinking to whole blocks of 16 pixels by up to 0.5 %."""
    for size in (SIZE, SIZE[::-1]):
        made = prior(size, focal_35mm=26.0)
        assert np.linalg.norm(made.basis[0] - made.basis[1]) / made.mean[0] == pytest.approx(0.003)


def test_the_focal_length_lies_between_both_readings_of_the_equivalent() -> None:
    """26 mm on a 36 x 24 mm frame, by the width or by the diagonal (the two ways in use; computed)."""
    by_width = 26.0 * 4000 / 36.0
    by_diagonal = 26.0 * 5000 / np.hypot(36.0, 24.0)
    made = prior(focal_35mm=26.0)
    assert made.mean[0] == made.mean[1] == pytest.approx((by_width + by_diagonal) / 2)
    for reading in (by_width, by_diagonal):
        assert abs(reading / made.mean[0] - 1.0) <= relative_u(made) * np.sqrt(3.0)
    assert made.kind == "exif" and "26 mm" in made.source


def test_the_spread_holds_units_rounding_and_reading() -> None:
    """Published: 3 % between units of one model; judgement: a picture of seven is 10 % off what EXIF states; an integer equivalent is
    rounded by +/- 1.9 % at 26 mm."""
    rounding = 0.5 / 26.0
    assert rounding == pytest.approx(0.019, abs=0.0005)
    made = prior(focal_35mm=26.0)
    half_reading = abs(4000 / 36.0 - 5000 / np.hypot(36.0, 24.0)) / (4000 / 36.0 + 5000 / np.hypot(36.0, 24.0))
    expected = np.sqrt(0.85 * 0.03**2 + 0.15 * 0.10**2 + rounding**2 / 3.0 + half_reading**2 / 3.0)
    assert relative_u(made) == pytest.approx(float(expected), rel=1e-9)


def test_two_standard_deviations_hold_95_percent_of_what_phones_do() -> None:
    """The spread stands for a mixture with tails: its own distribution, by scipy, in place of the normal one."""
    held = sum(share * (1.0 - 2.0 * norm.sf(2.0 * UNIT_SPREAD / spread)) for share, spread in EXIF_SPREADS)
    assert sum(share for share, _ in EXIF_SPREADS) == 1.0
    assert held == pytest.approx(0.95, abs=0.01)


def test_a_portrait_picture_has_the_camera_of_a_landscape_picture() -> None:
    wide, tall = prior(focal_35mm=26.0), prior((3000, 4000), focal_35mm=26.0)
    assert tall.mean[0] == wide.mean[0]
    assert tall.mean[2:4] == pytest.approx(wide.mean[2:4][::-1])
    assert wide.mean[2:4] == pytest.approx([1999.5, 1499.5])  # pixel (0, 0) is the centre of the top-left pixel


def test_without_exif_the_usual_main_cameras_are_covered() -> None:
    """Phone main cameras: 23-28 mm-equivalent (common practice, no source), within two u of the assumption."""
    made = prior()
    assert made.kind == "assumed"
    for f35 in (23.0, 28.0):
        focal = float(prior(focal_35mm=f35).mean[0])
        assert abs(focal - made.mean[0]) <= 2.0 * float(np.linalg.norm(made.basis[0]))


def test_the_principal_point_has_the_published_spread() -> None:
    """Published: median 0.33 / 0.44 % of the width off the middle, 90th percentile 1.4 / 1.6 %; one axis each."""
    made = prior(focal_35mm=26.0)
    for axis in (2, 3):
        u = float(np.linalg.norm(made.basis[axis])) / 4000.0
        median, ninety = norm.ppf(0.75) * u, norm.ppf(0.95) * u
        assert median >= 0.0033 and ninety == pytest.approx(0.015, abs=0.003)


def test_the_distortion_has_the_published_size() -> None:
    """Published: at most 5.4 px per 4000 px of width within 80 % of the half-diagonal, 10-90 %: 2.5-12.7 px."""
    made = prior(focal_35mm=26.0)
    ray = np.array([[0.8 * 2500.0 * 0.8, 0.8 * 2500.0 * 0.6, made.mean[0]]])
    straight = project(made.mean, ray)[0]
    one, other = [np.linalg.norm(project(made.mean + made.basis[:, i], ray)[0] - straight) for i in (3, 4)]
    assert 2.5 <= float(np.hypot(one, other)) <= 12.7


@pytest.mark.parametrize("f35", [13.0, 16.0, 19.0])
def test_ultra_wide_lenses_are_refused(f35: float) -> None:
    refused = camera_prior(SIZE, ExifFacts(focal_35mm=f35))
    assert isinstance(refused, Refusal)
    assert refused.code == "ultra-wide" and "calibrate" in refused.remedy


def test_digital_zoom_widens_the_prior_over_both_readings() -> None:
    """Whether the stated equivalent holds the zoom already is not told: both ends are within 1.1 u."""
    plain, zoomed = prior(focal_35mm=26.0), prior(focal_35mm=26.0, digital_zoom=2.0)
    for factor in (1.0, 2.0):
        assert abs(np.log(factor * plain.mean[0] / zoomed.mean[0])) <= 1.1 * relative_u(zoomed)
