"""The fit of a printed code against exact pictures, against independent detectors, and against its own claims."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.kit.kit import CENTRE_TAG_IDS
from photomeasure.seen.centre.tag.fit import CodeFit, diagonal_crossing, fit_code
from photomeasure.seen.centre.tag.noise import covariance
from photomeasure.seen.centre.tag.pattern import N_PARAMETERS, black_modules, pattern
from tests.seen.centre.tag_print import paint, photographed, quad

VIEWS = ((0.0, 0.0), (0.3, 0.08), (-0.52, -0.1), (0.2, 1.6))  # yaw, roll, rad


def fitted(grey: NDArray[np.uint8], start_px: NDArray[np.float64], black: NDArray[np.bool_]) -> CodeFit:
    fit = fit_code(grey, start_px, black)
    assert fit is not None
    return fit


def scene(
    side_px: float, view: tuple[float, float], code_id: int, rng: np.random.Generator
) -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.float64]]:
    """Light, true corners, and corners as badly seen as a detector sees them."""
    size = int(1.8 * side_px)
    middle = size / 2 + rng.uniform(-0.5, 0.5, 2)
    corners = quad(side_px, (float(middle[0]), float(middle[1])), yaw_rad=view[0], roll_rad=view[1])
    seen = corners + rng.uniform(-0.35, 0.35, (4, 2)) * side_px / 7
    return paint(corners, black_modules(code_id), size), corners, seen


def side_px(corners: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).mean())


def test_the_derivative_is_the_numeric_one() -> None:
    """Against central differences; 1e-6 is their own accuracy."""
    rng = np.random.default_rng(1)
    parameters = np.array(
        [1.0, 0.1, 0.02, -0.1, 1.05, 0.03, 0.01, -0.02, 0.2, 0.25, 0.7, 200.0, 3.0, -2.0, 150.0, 2.0, 1.0]
    )
    x, y = rng.uniform(-4.5, 4.5, (2, 300))
    black = black_modules(20)
    slope = pattern(parameters, x, y, black)[1]
    for i in range(N_PARAMETERS):
        step = np.zeros(N_PARAMETERS)
        step[i] = 1e-6 * max(1.0, abs(parameters[i]))
        numeric = pattern(parameters + step, x, y, black)[0] - pattern(parameters - step, x, y, black)[0]
        numeric /= 2 * step[i]
        assert np.abs(numeric - slope[:, i]).max() < 1e-6 * np.abs(numeric).max()


@pytest.mark.parametrize("side", [23.0, 38.0, 58.0])
@pytest.mark.parametrize("view", VIEWS)
def test_exact_pictures_are_measured_exactly(side: float, view: tuple[float, float]) -> None:
    """Truth: the corners that the picture was painted with, ray by ray; grey levels are whole numbers, no noise."""
    rng = np.random.default_rng(2)
    light, corners, seen = scene(side, view, 19, rng)
    fit = fitted(photographed(light), seen, black_modules(19))
    assert np.abs(fit.corners_px - corners).max() < 0.03
    assert np.abs(fit.centre_px - diagonal_crossing(corners)).max() < 0.02
    assert fit.correlation > 0.995


@pytest.mark.parametrize(
    ("name", "look", "side_share"),
    [
        ("tone curve", {"gamma": 2.2}, 0.0015),
        ("tone curve and sharpening", {"gamma": 2.2, "sharpen": 0.6}, 0.0015),
        ("strong sharpening", {"gamma": 2.2, "sharpen": 1.0}, 0.002),
        ("overexposed by half", {"gamma": 2.2, "exposure": 1.7, "sharpen": 0.5}, 0.003),
    ],
)
def test_what_a_phone_does_moves_neither_centre_nor_size(name: str, look: dict[str, float], side_share: float) -> None:
    """Truth as painted. The corners alone, by the library's corner refinement, are off by many times as much."""
    rng = np.random.default_rng(3)
    own, library = [], []
    for code_id, view in zip(CENTRE_TAG_IDS[2:6], VIEWS, strict=True):
        light, corners, seen = scene(38.0, view, code_id, rng)
        grey = photographed(
            light, gamma=look["gamma"], exposure=look.get("exposure", 1.0), sharpen=look.get("sharpen", 0.0)
        )
        fit = fitted(grey, seen, black_modules(code_id))
        assert np.abs(fit.centre_px - diagonal_crossing(corners)).max() < 0.03, name
        own.append(side_px(fit.corners_px) / side_px(corners) - 1.0)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
        start = corners.astype(np.float32).reshape(-1, 1, 2)
        refined = np.asarray(cv2.cornerSubPix(grey, start, (3, 3), (-1, -1), stop), dtype=np.float64).reshape(4, 2)
        library.append(side_px(refined) / side_px(corners) - 1.0)
    assert abs(float(np.mean(own))) < side_share
    assert abs(float(np.mean(library))) > 4.0 * abs(float(np.mean(own)))


def test_the_edge_shift_is_told_apart_from_the_size() -> None:
    """Ink that spread by a known distance: painted as a larger black, measured as a negative shift of white.

    The frame and every black module are grown by 0.04 modules on a side; the printed grid stays.
    """
    rng = np.random.default_rng(4)
    black, side, grow = black_modules(22), 56.0, 0.04
    fine = 100
    rays = 10
    large = np.kron(black, np.ones((fine, fine), dtype=np.uint8))
    spread = cv2.dilate(np.pad(large, fine), np.ones((int(2 * grow * fine) + 1,) * 2, dtype=np.uint8))
    size = int(1.7 * side)
    middle = size / 2 + rng.uniform(-0.5, 0.5, 2)
    corners = quad(side, (float(middle[0]), float(middle[1])))
    at = (np.arange(size * rays) + 0.5) / rays - 0.5
    u = (at - corners[0, 0]) / side * 7 + 1.0
    v = (at - corners[0, 1]) / side * 7 + 1.0
    column, row = (np.clip((w * fine).astype(int), 0, 9 * fine - 1) for w in (u, v))
    light = cv2.GaussianBlur(np.where(spread[np.ix_(row, column)], 0.05, 0.9), (0, 0), 0.8 * rays)
    light = light.reshape(size, rays, size, rays).mean(axis=(1, 3))
    fit = fitted(photographed(light.astype(np.float32)), corners, black)
    assert side_px(fit.corners_px) == pytest.approx(side, rel=0.0015)
    assert fit.edge_px == pytest.approx(-grow * side / 7, rel=0.2)  # a tone curve is not quite a shift


def test_against_an_independent_detector() -> None:
    """The 25h9 family has our shape (5 x 5 bits in a black frame); its reference detector, which refines by edges, is
    good to 0.024 px on clean pictures and counts pixels from their corner."""
    pyapriltags = pytest.importorskip("pyapriltags")
    detector = pyapriltags.Detector(families="tag25h9", quad_decimate=1.0)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_25h9)
    rng = np.random.default_rng(5)
    for number in range(4):
        bits = cv2.aruco.Dictionary.getBitsFromByteList(family.bytesList[number : number + 1], 5)
        black = np.pad(np.asarray(bits) == 0, 1, constant_values=True)
        middle = 60.0 + rng.uniform(-0.5, 0.5, 2)
        corners = quad(64.0, (float(middle[0]), float(middle[1])), yaw_rad=0.3, roll_rad=0.1 * number)
        grey = photographed(paint(corners, black, 120))
        (found,) = detector.detect(grey)
        fit = fitted(grey, corners + rng.uniform(-1.0, 1.0, (4, 2)), black)
        theirs = np.asarray(found.corners) - 0.5
        assert np.abs(fit.centre_px - diagonal_crossing(theirs)).max() < 0.05
        assert side_px(fit.corners_px) == pytest.approx(side_px(theirs), abs=0.15)


def test_the_claim_is_honest_in_noise() -> None:
    """Root mean square of error over claim, white noise and noise that is alike among neighbours (there the residuals
    of one code tell a little too little of it); 40 draws of 2 axes have a standard error of 8 %."""
    black = black_modules(23)
    for alike, most in ((0.0, 1.2), (0.6, 1.3)):
        rng = np.random.default_rng(6)
        light, corners, seen = scene(30.0, (0.2, 0.1), 23, rng)
        clean = 255.0 * light
        ratios, sides = [], []
        for _ in range(40):
            noise = rng.normal(0.0, 5.0, clean.shape)
            if alike:
                noise = np.asarray(cv2.GaussianBlur(noise, (0, 0), alike) * 1.5, dtype=np.float64)
            grey = np.clip(np.rint(clean + noise), 0, 255).astype(np.uint8)
            fit = fitted(grey, seen, black)
            ratios.append((fit.centre_px - diagonal_crossing(corners)) / fit.u_centre_px)
            sides.append((side_px(fit.corners_px) - side_px(corners)) / fit.u_side_px)
        assert 0.8 < float(np.sqrt(np.mean(np.square(ratios)))) < most
        assert 0.7 < float(np.sqrt(np.mean(np.square(sides)))) < 1.3


def test_covariance_of_correlated_noise() -> None:
    """A mean of pixels whose noise is a moving average of five: its variance is 5 times that of white noise of the same
    spread (closed form for a long row: sum of the correlations 1, 0.8, 0.6, 0.4, 0.2 on both sides is 5); the fade over
    three lags keeps 1 + 2 (15/16 * 0.8 + 3/4 * 0.6 + 7/16 * 0.4) = 3.75. White noise must give the plain s^2 / n."""
    rng = np.random.default_rng(7)
    kept = np.ones((1, 20000), dtype=bool)
    ones = np.ones((20000, 1))
    white = rng.normal(size=20000)
    smooth = np.convolve(rng.normal(size=20004), np.ones(5) / np.sqrt(5.0), mode="valid")
    for noise, factor in ((white, 1.0), (smooth, 3.75)):
        spread = covariance(ones, np.ones(20000), noise, np.ones(20000), kept)[0, 0]
        assert spread == pytest.approx(factor * noise.var() / 20000, rel=0.06)


def test_what_is_not_there_is_not_fitted_well() -> None:
    """Another code, and plain paper, in place of the expected one."""
    rng = np.random.default_rng(8)
    light, corners, _ = scene(38.0, (0.1, 0.0), 19, rng)
    other = fit_code(photographed(light), corners, black_modules(24))
    assert other is None or other.correlation < 0.9
    plain = fit_code(np.full((70, 70), 180, dtype=np.uint8), quad(38.0, (35.0, 35.0)), black_modules(24))
    assert plain is None or plain.correlation < 0.9 or plain.contrast < 12.0


def test_a_code_at_the_edge_of_the_picture() -> None:
    """Too little of it: nothing is claimed, nothing is raised."""
    grey = np.full((60, 60), 128, dtype=np.uint8)
    assert fit_code(grey, quad(40.0, (-18.0, 30.0)), black_modules(20)) is None
