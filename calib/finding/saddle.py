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
_PARAMETERS = 10  # cx, cy, t1, t2, s1, s2, A, m, gx, gy
_CHANGING = 8  # what is left over and the derivatives that hang on the parameters
_ITERATIONS = 12
_ROOT2, _HALF = np.float32(np.sqrt(2.0)), np.float32(0.5)
_SLOPE = np.float32(np.sqrt(2.0 / np.pi))
_NOTHING = np.float32(-30.0)  # logarithm; what is far smaller is denormal, and arithmetic with it many times slower


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
    parameters: NDArray[np.float64], x: NDArray[np.float32], y: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Of both edges: distance across, in its blur, and place along it from the crossing, in pixels (2, N, K), and the error
    function of the distance."""
    middle, turn, blur = parameters[:, :6].astype(np.float32).T.reshape(3, 2, -1, 1)
    dx, dy = x - middle[0], y - middle[1]
    sin, cos = np.sin(turn), np.cos(turn)
    across = (cos * dy - sin * dx) / blur
    return across, cos * dx + sin * dy, erf(across / _ROOT2)


class _Windows:
    """What the pixels around N corners say: values, offsets x, y and weights, (N, K) each."""

    def __init__(
        self,
        values: NDArray[np.float32],
        x: NDArray[np.float32],
        y: NDArray[np.float32],
        weights: NDArray[np.float32],
    ) -> None:
        self._x, self._y, self._weights = x, y, weights
        # weighted: what is left over, then the derivatives by cx, cy, t1, t2, s1, s2, A; by m, gx, gy, which stay; the values
        self._rows = np.empty((len(x), _CHANGING + 4, x.shape[1]), dtype=np.float32)
        self._rows[:, 8] = weights
        for row, fixed in ((9, x), (10, y), (11, values)):
            np.multiply(weights, fixed, out=self._rows[:, row])
        fixed = self._rows[:, 8:11]
        self._square = (fixed @ fixed.transpose(0, 2, 1)).astype(np.float64)

    def keep(self, left: NDArray[np.bool_]) -> None:
        """Only these corners from now on."""
        self._x, self._y, self._weights = self._x[left], self._y[left], self._weights[left]
        self._rows, self._square = self._rows[left], self._square[left]

    def at(
        self, parameters: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Sums of squares (N,) of what is left over, J'r (N, 10) and J'J (N, 10, 10), J the model's derivative."""
        rows = self._rows
        amplitude, mean, gx, gy = (column[:, None] for column in parameters[:, 6:].astype(np.float32).T)
        turn, blur = parameters[:, 2:6].astype(np.float32).T.reshape(2, 2, -1, 1)
        across, along, error = _edges(parameters, self._x, self._y)
        # d erf / d distance, times the other edge and the contrast
        near = np.exp(np.maximum(-_HALF * across * across, _NOTHING))
        k = (amplitude * _SLOPE / blur) * error[::-1] * near
        k *= self._weights
        sin, cos = k * np.sin(turn), k * np.cos(turn)
        np.add(sin[0], sin[1], out=rows[:, 1])
        np.negative(cos[0] + cos[1], out=rows[:, 2])
        np.negative(k, out=k)
        by_turn, by_blur = rows[:, 3:5].swapaxes(0, 1), rows[:, 5:7].swapaxes(0, 1)
        np.multiply(k, along, out=by_turn)
        np.multiply(k, across, out=by_blur)
        np.multiply(error[0] * error[1], self._weights, out=rows[:, 7])
        rows[:, 0] = rows[:, 11] - (mean * rows[:, 8] + gx * rows[:, 9] + gy * rows[:, 10] + amplitude * rows[:, 7])
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
    base = np.rint(start_px).astype(np.int64)  # (N, 2)
    offset = np.arange(-radius, radius + 1)
    oy, ox = (grid.ravel() for grid in np.meshgrid(offset, offset, indexing="ij"))
    column, row = base[:, :1] + ox, base[:, 1:] + oy
    inside = (column >= 0) & (row >= 0) & (column < grey.shape[1]) & (row < grey.shape[0])
    x, y = column - start_px[:, :1], row - start_px[:, 1:]
    # (u, v): offset in cells along the two printed axes
    u, v = np.einsum("nij,jnk->ink", np.linalg.inv(axes_px), np.stack([x, y]))
    weights = inside & (np.abs(u) <= reach) & (np.abs(v) <= reach)
    # tiny cells: keep at least the disc in which the crossing can be told at all
    weights |= inside & (x * x + y * y <= (MIN_RADIUS_PX - 0.4) ** 2)
    most = max(int(weights.sum(axis=1).max(initial=0)), 1)
    if most < weights.shape[1]:
        first = np.argsort(~weights, axis=1, kind="stable")[:, :most]
        row, column, x, y, weights = (
            np.take_along_axis(all_of, first, axis=1) for all_of in (row, column, x, y, weights)
        )
    values = grey[np.where(weights, row, 0), np.where(weights, column, 0)]
    single = np.float32
    return values.astype(single), x.astype(single), y.astype(single), weights.astype(single)


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
    first, second = _edges(parameters, lower_right[:, :1], lower_right[:, 1:])[2]
    sign = np.sign(first * second)[:, 0]
    first, second = _edges(parameters, x, y)[2]
    unit = first * second
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
    values, x, y, weights = _window(grey, start_px, axes_px, reach)
    parameters = _start(values, x, y, weights, axes_px, polarity, blur_px)
    first_angles = parameters[:, 2:4].copy()
    expected, total = np.sign(parameters[:, 6]), weights.sum(axis=1)
    normal = np.zeros((len(values), _PARAMETERS, _PARAMETERS))
    cost = np.zeros(len(values))
    active = np.arange(len(values))  # row i of what follows belongs to corner active[i]
    at, damping = parameters.copy(), np.full(len(values), 1e-3)
    windows = _Windows(values, x, y, weights)
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
    return _judge(parameters, first_angles, expected, normal, cost, total, start_px, axes_px)


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
    covariance = np.linalg.inv(normal + ridge) * variance[:, None, None]
    # rounding to grey levels alone is 1/12 of a level squared; it keeps clean pictures from claiming the impossible
    floor = np.linalg.inv(normal + ridge)[:, 0, 0] / 12.0
    variance_px = np.maximum((covariance[:, 0, 0] + covariance[:, 1, 1]) / 2, floor)
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
