"""The rim all around: the strip, the circles that are weighed by what is said of it, and the network that says it."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.seen.centre.ball.convolution import convolved, rectified
from photomeasure.seen.centre.ball.profiles import sight_at
from photomeasure.seen.centre.ball.rim import (
    ANGLES,
    FLOOR,
    ON_RIM,
    PER_RADIUS,
    SIZE_U,
    STEPS,
    WRAPPED,
    around_rad,
    counted,
    looked_at,
    rim_logs,
    rim_net,
    see_rim,
    strip,
    weighed,
)
from tests.experiments.ball_cases import draw_case

DRAWN = 71_003  # a bare ball


def _said(rim: np.ndarray, sharp: float = 1.0) -> np.ndarray:
    """What is said (ANGLES, STEPS) where the rim is seen at these distances (ANGLES,), in radii from the expected one."""
    at = rim * PER_RADIUS + ON_RIM
    share = np.exp(-0.5 * ((np.arange(STEPS)[None, :] - at[:, None]) / sharp) ** 2)
    return np.asarray(np.log(0.9 * share / share.sum(axis=1, keepdims=True) + 0.1 / STEPS))  # one in ten anywhere


def _circle(right: float, up: float, larger: float) -> np.ndarray:
    cos, sin = np.cos(around_rad()), np.sin(around_rad())
    return np.asarray(right * cos + up * sin + larger - 0.5 * (right * sin - up * cos) ** 2)


def test_a_circle_is_found_where_it_is() -> None:
    seen = weighed(_said(_circle(0.07, -0.05, 0.012)), 0.3, SIZE_U)
    assert seen.mean == pytest.approx([0.07, -0.05, 0.012], abs=0.002)


def test_a_quarter_of_the_angles_that_see_a_ring_inside_are_outvoted() -> None:
    rim = _circle(0.03, 0.02, 0.0)
    wrong = np.cos(around_rad() - 0.6) > 0.7
    seen = weighed(_said(np.where(wrong, rim - 0.25, rim)), 0.3, SIZE_U)
    assert seen.mean[:2] == pytest.approx([0.03, 0.02], abs=0.006)


def test_what_says_nothing_tells_nothing() -> None:
    even = np.full((ANGLES, STEPS), -np.log(STEPS))
    wide = weighed(even, 0.3, SIZE_U)
    sharp = weighed(_said(_circle(0.0, 0.0, 0.0)), 0.3, SIZE_U)
    assert np.sqrt(wide.covariance[1, 1]) > 5.0 * np.sqrt(sharp.covariance[1, 1])


def test_the_rim_of_a_drawn_ball_stands_upright_in_its_strip() -> None:
    case = draw_case(DRAWN)
    assert case.centre_px is not None
    view = case.view()
    sight = sight_at(view, case.centre_px)
    assert sight is not None
    picture = strip(view, sight)
    assert picture.shape == (ANGLES, STEPS)
    slope = np.abs(np.diff(picture, axis=1)).mean(axis=0)
    near = slope[ON_RIM - 3 : ON_RIM + 3].max()
    assert near > 2.0 * np.median(slope)


def test_opencv_says_what_the_layers_say() -> None:
    """The graph that is told to OpenCV is the network that was fitted."""
    picture = np.random.default_rng(3).uniform(0, 255, (ANGLES, STEPS)).astype(np.float32)
    first, second, *middle, last = rim_net().layers
    x = rectified(convolved(looked_at(picture), *first, stride=2))
    x = rectified(convolved(x, *second))
    for layer, apart in zip(middle, (2, 4, 8, 1), strict=True):
        x = x + rectified(convolved(x, *layer, apart=apart))
    answers = convolved(x, *last).astype(np.float64)
    rows, columns, _ = answers.shape
    y = answers.reshape(rows, columns, 2, 2).swapaxes(1, 2).reshape(2 * rows, 2 * columns)[WRAPPED:-WRAPPED]
    share = np.exp(y - y.max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    asked = counted() > 0.0
    assert np.exp(rim_logs(picture)[asked]) == pytest.approx((share + FLOOR)[asked], abs=1e-4)


def test_the_network_sees_the_rim_of_a_drawn_ball_from_beside_its_middle() -> None:
    case = draw_case(DRAWN)
    assert case.centre_px is not None
    view = case.view()
    true = sight_at(view, case.centre_px)
    assert true is not None
    start = true.moved(view, 0.1 * true.radius_px, -0.08 * true.radius_px)
    assert start is not None
    rim = see_rim(view, start)
    assert rim is not None
    assert np.linalg.norm(rim[0].centre_px - case.centre_px) < 0.04 * true.radius_px
