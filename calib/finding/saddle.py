"""Chequer saddles to a few hundredths of a pixel: a blurred-saddle model, fitted to all corners at once.

    I(x, y) = m + gx x + gy y + A erf(d1 / (sqrt2 s1)) erf(d2 / (sqrt2 s2))
    d_i = cos(t_i) (y - cy) - sin(t_i) (x - cx)

with the two edge directions t1, t2, one blur s per edge (motion blurs one more than the other), contrast A and a
light gradient g. A real saddle looks the same turned by half a turn about its crossing, and so it does after a tone
curve, sharpening or blooming: the crossing stays where it is, while marker corners move by up to a pixel.
Levenberg-Marquardt on arrays of shape (corners, parameters, pixels), in single precision but for the small systems that
are solved (1e-6 px of a corner for half the time); the readable reference is `tests/calib/finding/saddle_reference.py`.

The claimed sigma takes all that is left over as independent noise. Two faults nearly cancel there: what is left over
is partly the tone curve's shape, which moves nothing (sigma too large), and the noise of neighbouring pixels is alike
after colour interpolation, sharpening and JPEG (sigma too small). Error over claim was measured at 0.7 to 1.4
(`tests/experiments/kit_candidates.md`); estimates that part the two were tried and came out further from 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.finding.error_function import erf

MAX_RADIUS_PX = 12  # more pixels add time, not accuracy, at the resolutions that phones have
MIN_RADIUS_PX = 3
THINNED, THINNED_FROM = 3, 300  # every third pixel first, where a corner has as many
_NEAR_PX = 0.05  # a step by which those are settled well enough
_DAMPING, _NEAR_DAMPING = 1e-3, 1e-5  # at first, of all pixels after some
_PARAMETERS = 10  # cx, cy, t1, t2, s1, s2, A, m, gx, gy
_CHANGING = 8  # what is left over and the derivatives that hang on the parameters
_ITERATIONS = 12
_ROOT2, _HALF = np.float32(np.sqrt(2.0)), np.float32(0.5)
_SLOPE = np.float32(np.sqrt(2.0 / np.pi))
_NOTHING = np.float32(-30.0)  # logarithm; what is far smaller is denormal, and arithmetic with it many times slower

_Pixels = tuple[
    NDArray[np.float32], NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]
]  # around N corners: values, offsets x, y and weights, (N, K) each


@dataclass(frozen=True, slots=True, kw_only=True)
class Saddles:
    """Fitted saddles; arrays have one row a corner, in the order asked for.

    points_px:   (N, 2) pixel (0, 0) is the centre of the top-left pixel.
    sigma_px:    (N,) standard uncertainty of each coordinate, from the residual noise (root of the mean variance).
    contrast:    (N,) half the grey step, signed: negative where the polarity is the other way round.
    blur_px:     (N,) Gaussian sigma of the edges, root mean square of the two.
    edges_px:    (N, 2) the blur of each of the two edges.
    misfit:      (N,) rms residual over |contrast|.
    good:        (N,) False where the fit left its window, turned, has the wrong polarity, or is no saddle.
    """

    points_px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    contrast: NDArray[np.float64]
    blur_px: NDArray[np.float64]
    edges_px: NDArray[np.float64]
    misfit: NDArray[np.float64]
    good: NDArray[np.bool_]


def _edges(
    parameters: NDArray[np.float64], places: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Of both edges at places (N, 3, K), rows x, y, 1: distance across, in its blur, and place along it from the crossing, in
    pixels (N, 2, K), and the error function of the distance."""
    (cx, cy), blur = parameters[:, :2].T[..., None], parameters[:, 4:6]
    sin, cos = np.sin(parameters[:, 2:4]), np.cos(parameters[:, 2:4])
    across = np.stack([-sin, cos, sin * cx - cos * cy], axis=2) / blur[..., None]
    along = np.stack([cos, sin, -cos * cx - sin * cy], axis=2)
    both = np.concatenate([across, along], axis=1).astype(np.float32) @ places
    return both[:, :2], both[:, 2:], erf(both[:, :2] / _ROOT2)


def _places(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.stack([x, y, np.ones_like(x)], axis=1)


class _Windows:
    """What the pixels around N corners say: values, offsets x, y and weights, (N, K) each."""

    def __init__(
        self,
        values: NDArray[np.float32],
        x: NDArray[np.float32],
        y: NDArray[np.float32],
        weights: NDArray[np.float32],
    ) -> None:
        self._places, self._weights = _places(x, y), weights[:, None]
        # weighted: what is left over, then the derivatives by cx, cy, t1, t2, s1, s2, A; by m, gx, gy, which stay; the values
        self._rows = np.empty((len(x), _CHANGING + 4, x.shape[1]), dtype=np.float32)
        self._rows[:, 8] = weights
        for row, fixed in ((9, x), (10, y), (11, values)):
            np.multiply(weights, fixed, out=self._rows[:, row])
        fixed = self._rows[:, 8:11]
        self._square = (fixed @ fixed.transpose(0, 2, 1)).astype(np.float64)

    def keep(self, left: NDArray[np.bool_]) -> None:
        """Only these corners from now on."""
        self._places, self._weights = self._places[left], self._weights[left]
        self._rows, self._square = self._rows[left], self._square[left]

    def at(
        self, parameters: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Sums of squares (N,) of what is left over, J'r (N, 10) and J'J (N, 10, 10), J the model's derivative."""
        rows = self._rows
        across, along, error = _edges(parameters, self._places)
        turn, blur, amplitude = parameters[:, 2:4], parameters[:, 4:6], parameters[:, 6:7]
        # d erf / d distance, times the other edge and the contrast
        k = np.exp(np.maximum(-_HALF * across * across, _NOTHING))
        k *= (amplitude * _SLOPE / blur).astype(np.float32)[..., None]
        k *= self._weights
        k *= error[:, ::-1]
        np.matmul(np.stack([np.sin(turn), -np.cos(turn)], axis=1).astype(np.float32), k, out=rows[:, 1:3])
        np.negative(k, out=k)
        np.multiply(k, along, out=rows[:, 3:5])
        np.multiply(k, across, out=rows[:, 5:7])
        np.multiply(error[:, :1], error[:, 1:], out=rows[:, 7:8])
        rows[:, 7:8] *= self._weights
        np.matmul(-parameters[:, None, 6:].astype(np.float32), rows[:, 7:11], out=rows[:, :1])
        rows[:, 0] += rows[:, 11]
        products = (rows[:, :_CHANGING] @ rows[:, : _CHANGING + 3].transpose(0, 2, 1)).astype(np.float64)
        normal = np.empty((len(rows), _PARAMETERS, _PARAMETERS))
        normal[:, :7], normal[:, 7:, :7] = products[:, 1:, 1:], products[:, 1:, 8:].transpose(0, 2, 1)
        normal[:, 7:, 7:] = self._square
        return products[:, 0, 0], products[:, 0, 1:], normal


def _window(
    grey: NDArray[np.uint8], start_px: NDArray[np.float64], axes_px: NDArray[np.float64], reach: float
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Pixel values and offsets (N, K) around each start, weights (N, K): 1 inside `reach` of a cell on both axes.

    K is the most pixels that one of them has; where another has fewer, the rest of its row weighs 0.
    """
    radius = int(np.clip(np.ceil(reach * np.abs(axes_px).sum(axis=1).max()), MIN_RADIUS_PX, MAX_RADIUS_PX))
    base = np.rint(start_px).astype(np.int32)  # (N, 2)
    offset = np.arange(-radius, radius + 1, dtype=np.int32)
    oy, ox = (grid.ravel() for grid in np.meshgrid(offset, offset, indexing="ij"))
    column, row = base[:, :1] + ox, base[:, 1:] + oy
    x, y = ((base - start_px).astype(np.float32)[:, axis, None] + of for axis, of in ((0, ox), (1, oy)))
    x, y = x.astype(np.float32), y.astype(np.float32)
    inside = (column >= 0) & (row >= 0) & (column < grey.shape[1]) & (row < grey.shape[0])
    # offset in cells along the two printed axes
    cells = np.linalg.inv(axes_px).astype(np.float32) @ np.stack([x, y], axis=1)
    weights = inside & (np.abs(cells).max(axis=1) <= np.float32(reach))
    # tiny cells: keep at least the disc in which the crossing can be told at all
    weights |= inside & (x * x + y * y <= np.float32((MIN_RADIUS_PX - 0.4) ** 2))
    most = max(int(weights.sum(axis=1).max(initial=0)), 1)
    if most < weights.shape[1]:
        first = np.argsort(~weights, axis=1, kind="stable")[:, :most]
        row, column, x, y, weights = (
            np.take_along_axis(all_of, first, axis=1) for all_of in (row, column, x, y, weights)
        )
    values = grey[np.where(weights, row, 0), np.where(weights, column, 0)]
    return values.astype(np.float32), x, y, weights.astype(np.float32)


def _start(
    values: NDArray[np.float32],
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    weights: NDArray[np.float32],
    axes_px: NDArray[np.float64],
    polarity: NDArray[np.int8],
    blur_px: float,
) -> NDArray[np.float64]:
    parameters = np.zeros((len(values), _PARAMETERS))
    parameters[:, 2] = np.arctan2(axes_px[:, 1, 0], axes_px[:, 0, 0])
    parameters[:, 3] = np.arctan2(axes_px[:, 1, 1], axes_px[:, 0, 1])
    parameters[:, 4:6] = blur_px
    # the sign of the product depends on the frame of the axes: ask the model which corner is positive
    lower_right = axes_px.sum(axis=2).astype(np.float32) * 0.3  # (N, 2) a point inside the cell to the lower right
    sign = np.sign(_edges(parameters, _places(lower_right[:, :1], lower_right[:, 1:]))[2].prod(axis=1))[:, 0]
    unit = _edges(parameters, _places(x, y))[2].prod(axis=1)
    total = weights.sum(axis=1)
    mean = (weights * values).sum(axis=1) / total
    scale = (weights * unit * unit).sum(axis=1)
    parameters[:, 6] = (weights * unit * (values - mean[:, None])).sum(axis=1) / np.maximum(scale, 1e-9)
    parameters[:, 7] = mean
    # a dark lower-right cell (polarity +1) is a negative value there
    expected = -polarity * sign
    parameters[:, 6] = np.where(parameters[:, 6] * expected > 1.0, parameters[:, 6], expected * 20.0)
    return parameters


def fit_saddles(
    grey: NDArray[np.uint8],
    start_px: NDArray[np.float64],
    axes_px: NDArray[np.float64],
    polarity: NDArray[np.int8],
    *,
    reach: float = 0.75,
    blur_px: float = 1.0,
    settle_px: float = 1e-3,
) -> Saddles:
    """Fit every saddle near its start.

    grey:      (h, w) grey picture.
    start_px:  (N, 2) predicted crossings.
    axes_px:   (N, 2, 2) px, the step of one cell to the right (column 0) and down (column 1) as printed.
    polarity:  (N,) +1 where the cell to the lower right is dark.
    reach:     how much of a cell is used on each side.
    settle_px: a corner is done when a step moves it by less.
    """
    start_px = np.asarray(start_px, dtype=np.float64).reshape(-1, 2)
    pixels = _window(grey, start_px, axes_px, reach)
    many = pixels[0].shape[1] >= THINNED_FROM
    few = _thinned(pixels) if many else pixels
    parameters = _start(*few, axes_px, polarity, blur_px)
    first_angles, expected = parameters[:, 2:4].copy(), np.sign(parameters[:, 6])
    damping = _DAMPING
    if many:
        parameters, damping = _settled(_Windows(*few), parameters, max(settle_px, _NEAR_PX), _DAMPING)[0], _NEAR_DAMPING
    parameters, cost, normal = _settled(_Windows(*pixels), parameters, settle_px, damping)
    return _judge(parameters, first_angles, expected, normal, cost, pixels[3].sum(axis=1), start_px, axes_px)


def _thinned(pixels: _Pixels) -> _Pixels:
    """Some of the pixels of each corner, spread over its window."""
    values, x, y, weights = (np.ascontiguousarray(of_each[:, ::THINNED]) for of_each in pixels)
    return values, x, y, weights


def _settled(
    windows: _Windows, parameters: NDArray[np.float64], settle_px: float, damping_at_first: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Parameters (N, 10) where a step moves a corner by less than `settle_px`, and there the sums of squares (N,) and J'J."""
    parameters = parameters.copy()
    normal, cost = np.zeros((len(parameters), _PARAMETERS, _PARAMETERS)), np.zeros(len(parameters))
    active = np.arange(len(parameters))  # row i of what follows belongs to corner active[i]
    at, damping = parameters.copy(), np.full(len(parameters), damping_at_first)
    now, gradient, square = windows.at(at)
    for _ in range(_ITERATIONS):
        diagonal = np.einsum("nii->ni", square)
        damped = square + np.eye(_PARAMETERS) * (damping[:, None] * diagonal + 1e-9)[:, None, :]
        step = np.linalg.solve(damped, gradient[..., None])[..., 0]
        trial = at + step
        trial[:, 4:6] = np.clip(np.abs(trial[:, 4:6]), 0.25, 12.0)
        trial_cost, trial_gradient, trial_square = windows.at(trial)
        better = trial_cost <= now
        worse = ~better
        if worse.any():
            trial[worse], trial_gradient[worse], trial_square[worse] = at[worse], gradient[worse], square[worse]
            trial_cost[worse] = now[worse]
        at, gradient, now, square = trial, trial_gradient, trial_cost, trial_square
        damping = np.where(better, damping * 0.2, damping * 8.0)
        # a corner is done when an accepted step hardly moved it, or when no step is accepted any more
        moved = np.abs(step[:, :2]).max(axis=1)
        done = (better & (moved < settle_px)) | (damping > 1e6)
        parameters[active], cost[active], normal[active] = at, now, square
        if done.all():
            break
        if done.any():
            left = ~done
            active, at, damping, gradient, now, square = (
                rows[left] for rows in (active, at, damping, gradient, now, square)
            )
            windows.keep(left)
    return parameters, cost, normal


def _judge(
    parameters: NDArray[np.float64],
    first_angles: NDArray[np.float64],
    expected: NDArray[np.float64],
    normal: NDArray[np.float64],
    cost: NDArray[np.float64],
    total: NDArray[np.float32],
    start_px: NDArray[np.float64],
    axes_px: NDArray[np.float64],
) -> Saddles:
    freedom = np.maximum(total - _PARAMETERS, 1.0)
    variance = cost / freedom
    ridge = np.eye(_PARAMETERS) * 1e-9
    spread = np.linalg.inv(normal + ridge)[:, :2, :2]
    # rounding to grey levels alone is 1/12 of a level squared; it keeps clean pictures from claiming the impossible
    floor = spread[:, 0, 0] / 12.0
    variance_px = np.maximum(variance * (spread[:, 0, 0] + spread[:, 1, 1]) / 2, floor)
    sigma = np.sqrt(np.where(variance_px > 0.0, variance_px, np.nan))  # negative where nothing tells the corner's place
    amplitude = parameters[:, 6]
    misfit = np.sqrt(variance) / np.maximum(np.abs(amplitude), 1e-6)
    blur = np.sqrt((parameters[:, 4:6] ** 2).mean(axis=1))
    shift = np.einsum("nij,nj->ni", np.linalg.inv(axes_px), parameters[:, :2])
    turned = np.abs(parameters[:, 2:4] - first_angles).max(axis=1)
    cell = np.linalg.norm(axes_px, axis=1)  # (N, 2) length of both axes
    good = (
        (amplitude * expected > 4.0)
        & (misfit < 0.35)
        & (np.abs(shift).max(axis=1) < 0.45)
        & (turned < np.deg2rad(25.0))
        & (parameters[:, 4:6].max(axis=1) < 0.6 * cell.max(axis=1))
        & np.isfinite(sigma)
        & (total > _PARAMETERS + 6)
    )
    return Saddles(
        points_px=start_px + parameters[:, :2],
        sigma_px=sigma,
        contrast=amplitude * expected,
        blur_px=blur,
        edges_px=parameters[:, 4:6].copy(),
        misfit=misfit,
        good=good,
    )
