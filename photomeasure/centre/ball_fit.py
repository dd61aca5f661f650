"""The outline to a few hundredths of a pixel: a blurred step fitted to every profile, then one circle through all of them.

    I(t) = out + [in - out + glow sqrt(1 - rho^2)] inside, blurred by a Gaussian of s pixels,   rho = 1 + (t - t0) / radius

The glow is what any light does to a round body near its rim: its normals turn towards the viewer as sqrt(1 - rho^2), so
a plain step would be pulled inwards. The edge t0 is where the blurred step is half-way up in linear light, whatever the
contrast or its sign. For a fixed t0 and s the rest is linear, so t0 is found on a grid without a start. What is left of
the tone curve moves bright-inside and dark-inside edges oppositely by d: one more unknown of the circle, kept small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.centre.ball_circle import Circle, free_angles
from photomeasure.centre.ball_profiles import Sight, linear_light, outside_all, read
from photomeasure.centre.ball_search import View
from photomeasure.centre.sphere import Array

PROFILE_SPACING_PX = 1.5
MIN_PROFILES, MAX_PROFILES = 36, 160
SAMPLE_STEP_PX = 0.5
GRID_STEP_PX = 0.1
BLURS_PX = (0.6, 0.85, 1.2, 1.7, 2.4)
POLARITY_SHIFT_PX = 0.25  # standard uncertainty of d before the picture is looked at
ROUNDS = 3
TUKEY = 4.7
MIN_SIGMA_PX = 0.03
BOTTOM_RAD = np.deg2rad(24.0)  # a neck hides at least this much on either side of the lowest point
BESIDE_RAD = np.deg2rad(80.0)
_FINE = 8  # points per sample step in which the step is blurred


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The fitted outline; sight is centred on it. Arrays have one row a profile.

    around (P,); points_px (P, 2) the edges, freed of the polarity shift; sigma_px (P,); step (P,) inside less outside,
    linear light of 255; good (P,): agrees with the circle. shift_px: common, of the edge against the expected outline;
    polarity_px: d; rms_px: scatter of the good ones; blur_px: s; misfit: median noise of a profile over its |step|;
    closed: share of the profiles at the very bottom where the outline goes on as beside them: a disc's does, a ball's
    with a neck does not.
    """

    sight: Sight
    around: Array
    points_px: Array
    sigma_px: Array
    step: Array
    good: NDArray[np.bool_]
    shift_px: float
    polarity_px: float
    rms_px: float
    blur_px: float
    misfit: float
    closed: float


@dataclass(frozen=True, slots=True)
class _Edges:
    around: Array
    t: Array
    u: Array
    step: Array
    valid: NDArray[np.bool_]
    misfit: Array


def _blurred(offsets: Array, blur: float, radius_px: float) -> Array:
    """Basis (n, 3): outside, inside, glow; at offsets (n,) from the edge, blurred by a Gaussian."""
    fine = SAMPLE_STEP_PX / _FINE
    reach = 4.0 * blur
    x = np.arange(offsets.min() - reach - fine, offsets.max() + reach + 2 * fine, fine)
    rho = np.clip(1.0 + x / radius_px, 0.0, 1.0)
    inside = np.clip(0.5 - x / fine, 0.0, 1.0)
    glow = inside * np.sqrt(np.maximum(1.0 - rho * rho, 0.0))
    kernel_x = np.arange(-reach, reach + 0.5 * fine, fine)
    kernel = np.exp(-0.5 * (kernel_x / blur) ** 2)
    kernel /= kernel.sum()
    columns = []
    for shape in (1.0 - inside, inside, glow):
        padded = np.pad(shape, len(kernel) // 2, mode="edge")
        columns.append(np.interp(offsets, x, np.convolve(padded, kernel, mode="valid")[: len(x)]))
    return np.stack(columns, axis=1)


def _fit_profiles(values: Array, t: Array, grid: Array, blur: float, radius_px: float) -> tuple[Array, Array]:
    """Residual sums of squares (P, J) and linear parameters (J, 3, n) for every edge place of the grid."""
    # one long basis at the common refinement of t - grid: both are multiples of GRID_STEP_PX
    n, j = len(t), len(grid)
    offsets = t[:, None] - grid[None, :]  # (n, J)
    basis = _blurred(np.sort(offsets.ravel()), blur, radius_px)[np.argsort(np.argsort(offsets.ravel()))].reshape(n, j, 3)
    designs = basis.transpose(1, 0, 2)  # (J, n, 3)
    gram = designs.transpose(0, 2, 1) @ designs
    ridge = np.diag([1e-9, 1e-9, 0.02])  # the glow is told by little: without need it stays small
    solver = np.linalg.solve(gram + ridge, designs.transpose(0, 2, 1))  # (J, 3, n)
    fitted = np.einsum("jnk,jkm,pm->pjn", designs, solver, values, optimize=True)
    cost: Array = ((values[:, None, :] - fitted) ** 2).sum(axis=2)
    return cost, solver


def _edges(view: View, sight: Sight, shift: float, around: Array, reach: float, blur: float | None) -> tuple[_Edges, float]:
    half = max(3.0, min(5.0, 0.3 * sight.radius_px))
    t = np.arange(-half, half + 0.5 * SAMPLE_STEP_PX, SAMPLE_STEP_PX) + shift
    grid = np.arange(-reach, reach + 0.5 * GRID_STEP_PX, GRID_STEP_PX) + shift
    places = sight.places_px(view, around, t)
    values, inside = read(view.grey, places, linear_light(view.grey))
    usable = (inside & outside_all(view.keep_out_px, places)).all(axis=1)
    best = None
    for s in BLURS_PX if blur is None else (blur,):
        cost, solver = _fit_profiles(values, t, grid, s, sight.radius_px)
        total = float(np.sqrt(cost.min(axis=1)[usable]).sum()) if usable.any() else np.inf
        if best is None or total < best[0]:
            best = (total, s, cost, solver)
    assert best is not None
    _, s, cost, solver = best
    at = cost.argmin(axis=1)
    inner = np.clip(at, 1, len(grid) - 2)
    rows = np.arange(len(at))
    low, mid, high = cost[rows, inner - 1], cost[rows, inner], cost[rows, inner + 1]
    bend = np.maximum(low + high - 2.0 * mid, 1e-12)
    sub = np.clip(0.5 * (low - high) / bend, -0.5, 0.5)
    t0 = grid[inner] + GRID_STEP_PX * sub
    freedom = max(len(t) * SAMPLE_STEP_PX - 4.0, 1.0)  # samples closer than a pixel are not independent
    variance = mid * SAMPLE_STEP_PX / freedom
    curvature = bend / GRID_STEP_PX**2 * SAMPLE_STEP_PX
    u = np.sqrt(2.0 * np.maximum(variance, 1 / 12.0) / curvature)
    parameters = np.einsum("pkn,pn->pk", solver[inner], values)
    step = parameters[:, 1] - parameters[:, 0]
    noise = np.sqrt(variance)
    valid = usable & (at == inner) & (np.abs(step) > 2.0 * noise) & (u < 0.5)
    return _Edges(around, t0, u, step, valid, noise / np.maximum(np.abs(step), 1e-6)), s


def _circle(edges: _Edges) -> tuple[Array, Array, Array, float]:
    """Parameters (a, b, c, d), residuals (P,), weights (P,) 0..1, robust scatter of the residuals."""
    sign = np.sign(edges.step)
    basis = np.stack([np.cos(edges.around), np.sin(edges.around), np.ones_like(edges.around), sign], axis=1)
    valid = edges.valid.astype(np.float64)
    spread, weight = 0.5, valid.copy()
    model, residual = np.zeros(4), edges.t
    start = np.median(edges.t[edges.valid]) if edges.valid.any() else 0.0
    model[2] = start
    residual = edges.t - basis @ model
    for _ in range(12):
        z = residual / (TUKEY * np.hypot(spread, edges.u))
        weight = valid * np.maximum(1.0 - z * z, 0.0) ** 2
        w = weight / (edges.u**2 + spread**2)
        prior = np.diag([1e-9, 1e-9, 1e-9, 1.0 / POLARITY_SHIFT_PX**2])
        step = np.linalg.solve(basis.T @ (basis * w[:, None]) + prior, basis.T @ (w * residual) - prior @ model)
        model = model + step
        residual = edges.t - basis @ model
        close = edges.valid & (np.abs(residual) < 3.0 * max(spread, 0.1) + edges.u)
        if close.sum() >= 6:
            spread = max(MIN_SIGMA_PX, 1.4826 * float(np.median(np.abs(residual[close]))))
        if np.abs(step).max() < 1e-4:
            break
    return model, residual, weight, spread


def fit_outline(view: View, circle: Circle) -> Outline | None:
    """Fit about a coarse circle; None where fewer than a quarter of the free profiles show an edge there."""
    sight, shift = circle.sight, circle.shift_px
    count = int(np.clip(round(1.5 * np.pi * sight.radius_px / PROFILE_SPACING_PX), MIN_PROFILES, MAX_PROFILES))
    around = free_angles(count)
    blur: float | None = None
    measured_about = sight
    for turn in range(ROUNDS):
        reach = max(1.2, 0.05 * sight.radius_px) if turn == 0 else 1.2
        edges, blur = _edges(view, sight, shift, around, reach, blur)
        if edges.valid.mean() < 0.25:
            return None
        model, residual, weight, spread = _circle(edges)
        moved = sight.moved(view, float(model[0]), float(model[1]))
        if moved is None or np.hypot(model[0], model[1]) > 0.3 * sight.radius_px:
            return None
        measured_about = sight
        sight, shift = moved, float(model[2])
    good = weight > 0.1
    sigma = np.hypot(edges.u, spread) * _correlation(residual, good)
    t = edges.t - model[3] * np.sign(edges.step)
    return Outline(
        sight=sight,
        around=around,
        points_px=measured_about.places_px(view, around, t[:, None])[:, 0],
        sigma_px=np.maximum(sigma, MIN_SIGMA_PX),
        step=edges.step,
        good=good,
        shift_px=shift,
        polarity_px=float(model[3]),
        rms_px=float(np.sqrt((residual[good] ** 2).mean())) if good.any() else np.inf,
        blur_px=float(blur or 0.0),
        misfit=float(np.median(edges.misfit[good])) if good.any() else np.inf,
        closed=_closed(view, sight, shift, edges, good, blur),
    )


def _closed(view: View, sight: Sight, shift: float, edges: _Edges, good: NDArray[np.bool_], blur: float | None) -> float:
    """Share of the bottom where the edge lies on the circle with the step that it has at both lower sides."""
    from_down = np.abs(np.angle(np.exp(1j * (edges.around + 0.5 * np.pi))))
    beside = good & (from_down < BESIDE_RAD)
    if beside.sum() < 4:
        return 0.0
    usual = float(np.median(edges.step[beside]))
    count = max(9, round(2.0 * BOTTOM_RAD * sight.radius_px / PROFILE_SPACING_PX))
    bottom, _ = _edges(view, sight, shift, -0.5 * np.pi + BOTTOM_RAD * np.linspace(-1.0, 1.0, count), 1.6, blur)
    like = bottom.step / usual
    on = bottom.valid & (np.abs(bottom.t - shift) < max(1.0, 0.05 * sight.radius_px)) & (like > 0.5) & (like < 2.0)
    return float(on.mean())


def _correlation(residual: Array, good: NDArray[np.bool_]) -> float:
    """Factor by which neighbours' likeness widens a mean: root of 1 + 2 x the sum of the first correlations.

    Edges 1.5 px apart share blur, noise of the JPEG blocks and what the ball mirrors, so N of them are worth less than N.
    """
    r = np.where(good, residual, 0.0)
    power = float((r * r).sum())
    if power <= 0.0 or good.sum() < 12:
        return 1.5
    total = 1.0
    for lag in range(1, 9):
        pair = float((r[lag:] * r[:-lag]).sum()) / power
        if pair <= 0.05:
            break
        total += 2.0 * pair
    return float(np.sqrt(total))
