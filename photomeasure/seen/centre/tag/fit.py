"""A printed code measured whole: its pattern is fitted to every pixel of it and of its white surround.

The model and its derivative are in `tag_pattern`, how sure the result is in `tag_noise`. Levenberg-Marquardt, first on
a quarter of the pixels, then on all of them with robust weights. Where a shadow's edge crosses the code, the light on
its white parts is taken out first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import NormalDist

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import CODE_MODULES
from photomeasure.seen.centre.tag.noise import covariance
from photomeasure.seen.centre.tag.pattern import (
    BLUR,
    CONTRAST,
    CORNERS_UV,
    HALF,
    HOMOGRAPHY,
    LEVELS,
    N_PARAMETERS,
    TONE,
    Array,
    Modules,
    black_share,
    code_coordinates,
    corner_slope,
    corners_of,
    pattern,
)

SURROUND_MODULES = 0.85  # of the white around the code that is used; one module of it is printed at least
LARGEST_MODULE_PX = 6.5  # larger codes are averaged over blocks: more pixels add time, not accuracy
COARSE_MODULE_PX = 4.5  # from here on every other row and column is enough to come near
PIXEL_BLUR_PX = 1.0 / np.sqrt(12.0)  # standard deviation of a square pixel
FURTHEST_MODULES = 1.5  # a corner that moves further from where the code was seen is another thing
SHADED_MISFIT = 0.08  # noise, JPEG and sharpening stay below (see the experiments)
SHADED_FACTOR = 1.5  # what uneven light leaves behind, over what the residuals say (see the experiments)
# Error of the side that sharpening, clipped white and glare leave, over edge_px^2 / blur (see the experiments)
SIDE_BY_EDGE = 0.12
_SHADE_MODULES, _SHADE_PRIOR, _SHADE_PASSES = 0.8, 0.005, 2
_ROBUST_SIGMAS = 3.5
START_BLUR = 0.25  # modules; wide enough to draw in corners that were seen a third of a module off
_ITERATIONS = 14
_SETTLED_MODULES = (2e-3, 1e-4)  # largest step of the homography at which a stage ends


_Solution = tuple[
    Array, Array, Array
]  # parameters (17,), the pattern (N,) at the kept pixels and its derivative (N, 17)


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeFit:
    """A measured code.

    corners_px:   (4, 2) of the black frame, top-left of the print first, clockwise, free of the common edge shift.
    covariance:   (8, 8) of corners_px.ravel(), px^2, of what scatters.
    blur_px:      (2,) standard deviation of the edges' blur along the printed rows and columns.
    edge_px:      how far white has grown into black, at half height.
    contrast:     grey levels from black to white at the middle.
    misfit:       rms residual over the contrast.
    correlation:  of the pixels with the fitted pattern.
    shaded:       a shadow's edge was taken out first.
    """

    corners_px: Array
    covariance: Array
    blur_px: Array
    edge_px: float
    contrast: float
    misfit: float
    correlation: float
    shaded: bool

    @property
    def centre_px(self) -> Array:
        """(2,) where the diagonals cross: the image of the code's middle."""
        return diagonal_crossing(self.corners_px)

    @property
    def side_px(self) -> float:
        """Mean length of the four sides."""
        return float(np.linalg.norm(self.corners_px - np.roll(self.corners_px, 1, axis=0), axis=1).mean())

    @property
    def u_centre_px(self) -> float:
        """Standard uncertainty of the centre on either axis (root mean square of both)."""
        x = np.tile([0.25, 0.0], 4)
        y = np.tile([0.0, 0.25], 4)
        return float(np.sqrt((x @ self.covariance @ x + y @ self.covariance @ y) / 2))

    @property
    def u_side_px(self) -> float:
        """Standard uncertainty of the mean side: what scatters, and what the tone model leaves."""
        outward = self.corners_px - self.corners_px.mean(axis=0)
        grow = outward.ravel() / np.sqrt((outward**2).sum())  # a step of 1 along it lengthens a side by 1 / sqrt(2)
        scatter = np.sqrt(grow @ self.covariance @ grow / 2)
        return float(np.hypot(scatter, SIDE_BY_EDGE * self.edge_px**2 / self.blur_px.mean()))


def diagonal_crossing(corners_px: Array) -> Array:
    """(2,) crossing of the diagonals of a quadrilateral (4, 2)."""
    a, b, c, d = corners_px
    along = np.linalg.solve(np.stack([c - a, b - d], axis=1), b - a)[0]
    crossing: Array = a + along * (c - a)
    return crossing


@dataclass(frozen=True, slots=True)
class _Patch:
    """Pixels around a code: grey, x, y (rows, columns); x and y in modules from origin_px, so that all are near 1.

    least_blur: of an edge, modules: the pixel's own width.
    """

    grey: Array
    x: Array
    y: Array
    origin_px: Array
    module_px: float
    least_blur: float


def fit_code(grey: NDArray[np.uint8], start_px: Array, black: Modules) -> CodeFit | None:
    """Fit the code whose corners were seen near start_px (4, 2), top-left of the print first, clockwise.

    grey: (h, w); black: (7, 7) modules as printed, row 0 at the top. None where the fit does not settle near its start.
    """
    patch = _cut(grey, np.asarray(start_px, dtype=np.float64))
    if patch is None:
        return None
    near = (start_px - patch.origin_px) / patch.module_px
    parameters = _start(patch, near, black)
    kept = _within(parameters, patch)
    if kept.sum() < 6 * N_PARAMETERS:
        return None
    solution = (parameters, *pattern(parameters, patch.x[kept], patch.y[kept], black))
    residual = patch.grey[kept] - solution[1]
    shaded = bool(np.sqrt((residual**2).mean()) > SHADED_MISFIT * abs(parameters[CONTRAST][0]))
    for _ in range(_SHADE_PASSES if shaded else 0):
        patch = replace(patch, grey=patch.grey / _shade(solution, patch, kept, black))
        solution = _solve(solution, patch, kept, np.ones(len(residual)), black, _SETTLED_MODULES[0])
        residual = patch.grey[kept] - solution[1]
    weights = _robust(residual)
    solution = _solve(solution, patch, kept, weights, black, _SETTLED_MODULES[1])
    return _result(solution, patch, kept, weights, near, shaded)


def _cut(grey: NDArray[np.uint8], corners_px: Array) -> _Patch | None:
    """The pixels around a code, averaged over whole blocks where its modules are large."""
    side = float(np.linalg.norm(corners_px - np.roll(corners_px, 1, axis=0), axis=1).mean())
    module = side / CODE_MODULES
    block = max(1, int(np.ceil(module / LARGEST_MODULE_PX)))
    reach = (SURROUND_MODULES + 0.5) * module
    low = np.maximum(np.floor(corners_px.min(axis=0) - reach), 0).astype(int)
    high = np.minimum(np.ceil(corners_px.max(axis=0) + reach) + 1, [grey.shape[1], grey.shape[0]]).astype(int)
    columns, rows = (high - low) // block
    if min(columns, rows) < 2 * CODE_MODULES:
        return None
    part = grey[low[1] : low[1] + rows * block, low[0] : low[0] + columns * block]
    values = part.reshape(rows, block, columns, block).mean(axis=(1, 3), dtype=np.float64)
    origin = corners_px.mean(axis=0)
    across = (low[0] + (np.arange(columns) + 0.5) * block - 0.5 - origin[0]) / module
    down = (low[1] + (np.arange(rows) + 0.5) * block - 0.5 - origin[1]) / module
    x, y = np.meshgrid(across, down)
    least = PIXEL_BLUR_PX * block / module
    return _Patch(grey=values, x=x, y=y, origin_px=origin, module_px=module, least_blur=least)


def _start(patch: _Patch, near: Array, black: Modules) -> Array:
    """Parameters from the corners that were seen (4, 2), brought near the optimum on some of the pixels."""
    homography = cv2.getPerspectiveTransform(near.astype(np.float32), CORNERS_UV.astype(np.float32))
    parameters = np.zeros(N_PARAMETERS)
    parameters[HOMOGRAPHY] = homography.ravel()[:8] / homography[2, 2]
    parameters[BLUR] = max(START_BLUR, 4.0 * patch.least_blur)
    some = _within(parameters, patch)
    if patch.module_px > COARSE_MODULE_PX:
        some[1::2], some[:, 1::2] = False, False
    x, y = patch.x[some], patch.y[some]
    by_level = pattern(parameters, x, y, black)[1][:, LEVELS]  # they enter linearly
    parameters[LEVELS] = np.linalg.lstsq(by_level, patch.grey[some], rcond=None)[0]
    start = (parameters, *pattern(parameters, x, y, black))
    return _solve(start, patch, some, np.ones(len(x)), black, _SETTLED_MODULES[0])[0]


def _within(parameters: Array, patch: _Patch) -> NDArray[np.bool_]:
    u, v, depth = code_coordinates(parameters[HOMOGRAPHY], patch.x, patch.y)
    reach = HALF + SURROUND_MODULES
    return np.asarray((depth > 0.2) & (np.abs(u) <= reach) & (np.abs(v) <= reach))


def _solve(
    start: _Solution, patch: _Patch, kept: NDArray[np.bool_], weights: Array, black: Modules, settled: float
) -> _Solution:
    """The weighted optimum near `start`.

    Ends when a step moves the homography by less than `settled`.
    """
    x, y, values = patch.x[kept], patch.y[kept], patch.grey[kept]
    (parameters, model, slope), damping = start, 1e-3
    cost = float((weights * (values - model) ** 2).sum())
    for _ in range(_ITERATIONS):
        weighted = weights[:, None] * slope
        normal = slope.T @ weighted
        step = np.linalg.solve(normal + np.diag(damping * np.diag(normal) + 1e-9), weighted.T @ (values - model))
        trial = parameters + step
        trial[BLUR] = np.clip(np.abs(trial[BLUR]), patch.least_blur, 1.2)
        trial[TONE] = np.clip(trial[TONE], -4.0, 4.0)
        trial_model, trial_slope = pattern(trial, x, y, black)
        trial_cost = float((weights * (values - trial_model) ** 2).sum())
        small = bool(np.abs(step[HOMOGRAPHY]).max() < settled)
        if trial_cost <= cost:
            parameters, model, slope, cost, damping = trial, trial_model, trial_slope, trial_cost, damping * 0.1
        else:
            damping *= 10.0
        if small:
            break
    return parameters, model, slope


def _shade(solution: _Solution, patch: _Patch, kept: NDArray[np.bool_], black: Modules) -> Array:
    """(rows, columns) light over what the model says, from the white pixels around each place; 1 where none are."""
    x, y, values = patch.x[kept], patch.y[kept], patch.grey[kept]
    parameters, model, _ = solution
    white = black_share(parameters, x, y, black) < 0.02
    count, ratio = np.zeros(kept.shape), np.zeros(kept.shape)
    count[kept] = white
    ratio[kept] = np.where(white, values / np.maximum(model, 1.0), 0.0)
    sigma = _SHADE_MODULES * patch.module_px
    total = cv2.GaussianBlur(count, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    mean = cv2.GaussianBlur(ratio, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    return np.maximum((mean + _SHADE_PRIOR) / (total + _SHADE_PRIOR), 0.05)


def _robust(residual: Array) -> Array:
    """Weights (N,): 1 within a few robust standard deviations, falling as 1 / |residual| beyond (Huber)."""
    scale = max(1.4826 * float(np.median(np.abs(residual))), 0.5)
    result: Array = np.minimum(1.0, _ROBUST_SIGMAS * scale / np.maximum(np.abs(residual), 1e-9))
    return result


def _result(
    solution: _Solution,
    patch: _Patch,
    kept: NDArray[np.bool_],
    weights: Array,
    near: Array,
    shaded: bool,
) -> CodeFit | None:
    parameters, model, slope = solution
    values = patch.grey[kept]
    g = parameters[HOMOGRAPHY]
    corners = corners_of(g)
    if corners is None or np.abs(corners - near).max() > FURTHEST_MODULES or min(values.std(), model.std()) <= 0.0:
        return None
    strength = np.hypot(slope[:, 2], slope[:, 5])
    spread = covariance(slope, weights, values - model, strength, kept)[HOMOGRAPHY, HOMOGRAPHY]
    by_g = corner_slope(g, corners) * patch.module_px * (SHADED_FACTOR if shaded else 1.0)
    contrast, k = float(parameters[CONTRAST][0]), float(np.exp(parameters[TONE]))
    blur_px = parameters[BLUR] / [np.hypot(g[0], g[1]), np.hypot(g[3], g[4])] * patch.module_px
    return CodeFit(
        corners_px=patch.origin_px + corners * patch.module_px,
        covariance=by_g @ spread @ by_g.T,
        blur_px=blur_px,
        edge_px=_quantile(k / (1.0 + k)) * float(blur_px.mean()),
        contrast=contrast,
        misfit=float(np.sqrt(((values - model) ** 2).mean()) / max(abs(contrast), 1e-6)),
        correlation=float(np.corrcoef(values, model)[0, 1]),
        shaded=shaded,
    )


def _quantile(share: float) -> float:
    """The normal distribution's, infinite at its ends."""
    if not 0.0 < share < 1.0:
        return float("nan") if np.isnan(share) else float(np.copysign(np.inf, share - 0.5))
    return NormalDist().inv_cdf(share)
