"""Corners by edges against markers drawn by OpenCV, averaged over 5 x 5 samples a pixel: what is true is known exactly.

The tone curve's effect is compared with the sRGB curve of IEC 61966-2-1.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from calib.finding.marker_edges import edge_corners, inward_shift
from calib.survey.marker_sightings import markers_in
from tests.draws import draws

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

SIZE_PX = (260, 260)
SAMPLES = 5
TEXEL = 40  # a cell of the drawn marker, pixels
CELLS = 6  # of a marker of 4 x 4 bits
DARK, LIGHT = 0.04, 0.75  # share of the light
SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def srgb(light: Array) -> Array:
    """Grey level, 0 to 255, of a share of the light (IEC 61966-2-1)."""
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055)
    return np.asarray(255.0 * encoded)


def linear(light: Array) -> Array:
    return np.asarray(255.0 * light)


def picture(
    corners_px: Array, blur_px: float, *, tone: str = "linear", bend: float = 0.0, noise: float = 0.0, seed: int = 0
) -> Grey:
    """Marker 7 of DICT_4X4_50 with its corners at corners_px. bend: radial distortion about the picture's middle."""
    bits = cv2.aruco.generateImageMarker(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), 7, CELLS * TEXEL, borderBits=1
    )
    paper = np.pad(bits, 2 * TEXEL, constant_values=255).astype(np.float32) / 255
    side, shift = CELLS * TEXEL, 2 * TEXEL
    to_marker = cv2.getPerspectiveTransform(straight(corners_px, bend).astype(np.float32), SQUARE.astype(np.float32))
    width, height = SIZE_PX
    fine = [(np.arange(count * SAMPLES) + 0.5) / SAMPLES - 0.5 for count in SIZE_PX]
    x, y = np.meshgrid(*fine)
    places = straight(np.column_stack([x.ravel(), y.ravel()]), bend)
    on_marker = cv2.perspectiveTransform(places[None], to_marker)[0]
    texel = (on_marker * side + shift - 0.5).astype(np.float32).reshape(height * SAMPLES, width * SAMPLES, 2)
    seen = cv2.remap(paper, texel[..., 0], texel[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.GaussianBlur(seen, (0, 0), blur_px * SAMPLES)
    light = DARK + (LIGHT - DARK) * seen.reshape(height, SAMPLES, width, SAMPLES).mean(axis=(1, 3)).astype(float)
    grey = (srgb if tone == "srgb" else linear)(light) + np.random.default_rng(seed).normal(0, noise, light.shape)
    return np.asarray(np.clip(np.rint(grey), 0, 255), dtype=np.uint8)


def straight(px: Array, bend: float) -> Array:
    """Where pixels (N, 2) would be without the distortion: outwards by bend r^3, r in halves of the picture's width."""
    middle, half = np.array(SIZE_PX) / 2, SIZE_PX[0] / 2
    off = (px - middle) / half
    return np.asarray(middle + half * off * (1 + bend * (off**2).sum(axis=1, keepdims=True)))


def quad(rng: np.random.Generator, side_px: float, middle: tuple[float, float] = (130.0, 130.0)) -> Array:
    turn = rng.uniform(0, 2 * np.pi)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    tilted = (SQUARE - 0.5) * np.array([1.0, rng.uniform(0.7, 1.0)]) + rng.uniform(-0.04, 0.04, (4, 2))
    return np.asarray(tilted @ rotation.T * side_px + np.array(middle) + rng.uniform(-0.5, 0.5, 2))


def found(grey: Grey) -> tuple[Array, Array]:
    markers = markers_in(grey, "DICT_4X4_50")
    assert [marker.id for marker in markers] == [7]
    return markers[0].corners_px, markers[0].sigma_px


def inset_px(got: Array, true: Array) -> float:
    """How far inside the true edges the corners found lie."""
    direction = inward_shift(true)
    return float(((got - true) * direction).sum() / (direction**2).sum())


@pytest.mark.parametrize("count", draws(5, 12))
@pytest.mark.parametrize(
    ("side_px", "blur_px"), [(20.0, 0.4), pytest.param(30.0, 0.7, marks=pytest.mark.slow), (60.0, 0.7), (110.0, 1.2)]
)
def test_corners_are_unbiased_and_far_better_than_those_of_opencv(side_px: float, blur_px: float, count: int) -> None:
    rng, errors, insets, opencv = np.random.default_rng(5), [], [], []
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    theirs = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    for seed in range(count):
        true = quad(rng, side_px)
        grey = picture(true, blur_px, noise=2.0, seed=seed)
        got, sigma = found(grey)
        errors.append(got - true)
        insets.append(inset_px(got, true))
        opencv.append(np.asarray(theirs.detectMarkers(grey)[0][0], dtype=float).reshape(4, 2) - true)
        assert np.abs(got - true).max() < sigma.max()  # most of sigma is the tone curve, which is straight here
    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert abs(float(np.mean(insets))) < 0.015
    assert rms < 0.03
    assert rms < 0.25 * float(np.sqrt(np.mean(np.square(opencv))))


def test_a_tone_curve_moves_edges_by_what_it_must_and_sigma_allows_for_it() -> None:
    """The sRGB curve crosses the middle of the grey step where light is at 21 %: Phi^-1 (0.21) = -0.79 blurs inwards.

    That holds for a step from black to white; from 4 to 75 % it is less, and worked out here from the curve.
    """
    rng = np.random.default_rng(6)
    middle = (srgb(np.array([DARK]))[0] + srgb(np.array([LIGHT]))[0]) / 2
    levels = np.linspace(DARK, LIGHT, 20001)
    share = float(np.interp(middle, srgb(levels), levels) - DARK) / (LIGHT - DARK)
    expected = -float(norm.ppf(share))
    for blur in (0.8, 1.2):
        true = quad(rng, 90.0)
        got, sigma = found(picture(true, blur, tone="srgb"))
        assert inset_px(got, true) == pytest.approx(expected * blur, rel=0.25)
        assert inset_px(got, true) < 2.5 * float(sigma.mean())


def test_long_edges_may_be_bent_by_the_lens() -> None:
    true = quad(np.random.default_rng(7), 130.0, (150.0, 120.0))
    got, _ = found(picture(true, 0.7, bend=0.03))
    assert np.abs(got - true).max() < 0.03  # 0.59 px with straight lines


def test_what_is_no_clean_step_is_left_to_the_outline() -> None:
    corners = quad(np.random.default_rng(8), 50.0)
    assert edge_corners(np.full(SIZE_PX[::-1], 120, dtype=np.uint8), corners) is None
    soft = (picture(corners, 0.7).astype(float) * 0.05 + 100).astype(np.uint8)
    assert edge_corners(soft, corners) is None
    dirt = np.random.default_rng(9).integers(0, 255, SIZE_PX[::-1], dtype=np.uint8)
    assert edge_corners(dirt, corners) is None
    assert edge_corners(picture(corners, 0.7), corners + np.array([6.0, 0.0])) is None


def test_the_order_of_the_corners_is_kept_and_either_way_round_will_do() -> None:
    corners = quad(np.random.default_rng(10), 50.0)
    grey = picture(corners, 0.7)
    one, other = edge_corners(grey, corners), edge_corners(grey, corners[::-1])
    assert one is not None and other is not None
    assert one.corners_px == pytest.approx(other.corners_px[::-1], abs=1e-6)


def test_inward_shift_of_a_square_is_its_diagonal() -> None:
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    assert inward_shift(square) == pytest.approx(np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]]))
    assert inward_shift(square[::-1]) == pytest.approx(inward_shift(square)[::-1])
