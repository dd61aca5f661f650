"""The outline to a few hundredths of a pixel: one circle through the edges of all profiles, fitted robustly.

In the coordinates of the cone (`ball_profiles`) an edge lies at a cos(around) + b sin(around) + c + d sign(step):
the centre's offset (a, b), the common shift c, and d, by which what is left of the tone curve moves bright-inside
and dark-inside edges oppositely (kept small). Circle and choice of edges take turns until both stay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.circle import Circle, free_angles
from photomeasure.seen.centre.ball.edges import (
    NEAR_MODEL_PX,
    SAMPLE_STEP_PX,
    Edges,
    Model,
    cost_curves,
    fitting_model,
    pick_edges,
    profiles_at,
)
from photomeasure.seen.centre.ball.profiles import Sight, read
from photomeasure.seen.centre.ball.search import NECK_HALF_ANGLE_RAD, SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array

PROFILE_SPACING_PX = 1.5
MIN_PROFILES, MAX_PROFILES = 36, 160
POLARITY_SHIFT_PX = 0.25  # standard uncertainty of d before the picture is looked at
# Standard uncertainty of c: what is left of the tone curve, in pixels, and depth and wear, of the radius.
SHIFT_PX, SHIFT_SHARE = 0.35, 0.012
ROUNDS = 2  # the second about the first one's circle; more of them tell the centre no better
TURNS = 2  # of choosing edges, in each round
STEPS, LAST_STEPS = 3, 6  # of a fit at most, and of one whose edges are not chosen again
# How far from the expected edge others are tried: at first, then, and at the very bottom.
REACH_START_SHARE, REACH_PX, REACH_BOTTOM_PX = 0.05, 1.4, 1.6
TUKEY = 4.7
# How far from the coarse circle edges are taken at first: the strongest ones may be what a ball mirrors, inside its outline.
NEAR_START_PX, NEAR_START_SHARE = 0.4, 0.015
MIN_SIGMA_PX = 0.03
HARMONICS = (2, 3)
# Standard uncertainty of the centre from how a ball is lit, whatever the number of edges: in pixels, and of the radius
# (drawn scenes and path-traced tow bars at 1600 px, where it is larger).
LIGHT_PX, LIGHT_SHARE = 0.15, 0.004
INNER_RADII, CLEAR_PX = 0.3, 2.0  # how far inside other edges are looked for, and where the outline's own blur ends
BOTTOM_RAD = np.deg2rad(24.0)  # a neck hides at least this much on either side of the lowest point
BESIDE_RAD = np.deg2rad(80.0)
FREE_DEG = float(np.rad2deg(2.0 * (np.pi - NECK_HALF_ANGLE_RAD)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The fitted outline; sight is centred on it. Arrays have one row a profile.

    around (P,); points_px (P, 2) the edges, freed of the polarity shift; sigma_px (P,); step (P,) inside less outside,
    linear light of 255; good (P,): agrees with the circle. shift_px: common, of the edge against the expected outline;
    polarity_px: d; rms_px: scatter of the good ones; blur_px: s; misfit: median noise of a profile over its |step|;
    closed: share of the profiles at the very bottom where the outline goes on as beside them: a disc's does, a ball's
    with a neck does not. inner: share of the good ones on which an edge further in is stronger, as a mirror's are.
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
    inner: float


def arc_deg(outline: Outline) -> float:
    """Degrees of the free outline that agree with the circle."""
    return float(outline.good.mean()) * FREE_DEG


def centre_u_px(outline: Outline) -> float:
    """Standard uncertainty of the centre along its worse direction, the common edge shift unknown to half a pixel."""
    around, sigma = outline.around[outline.good], outline.sigma_px[outline.good]
    basis = np.stack([np.cos(around), np.sin(around), np.ones_like(around)], axis=1) / sigma[:, None]
    normal = basis.T @ basis + np.diag([1e-6, 1e-6, 1.0 / 0.5**2])
    return float(np.sqrt(np.linalg.eigvalsh(np.linalg.inv(normal)[:2, :2]).max()))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """model (4,): a, b, c, d; residual (P,); weight (P,) 0..1; spread: robust scatter, px; basis (4, P)."""

    model: Array
    residual: Array
    weight: Array
    spread: float
    basis: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What else tells the centre: right, up (2,) px of the circle's middle, and its precision (2, 2), 1 / px^2."""

    middle: Array
    precision: Array


def _fit_circle(edges: Edges, start: Array, radius_px: float, told: Told | None, steps: int) -> _Fit:
    """Iteratively reweighted least squares with Tukey's weights, in so many steps at most."""
    around, valid = edges.around, edges.valid.astype(np.float64)
    basis = np.stack([np.cos(around), np.sin(around), np.ones_like(around), np.sign(edges.step)])
    size = np.hypot(SHIFT_PX, SHIFT_SHARE * radius_px)
    prior = np.diag([1e-9, 1e-9, 1.0 / size**2, 1.0 / POLARITY_SHIFT_PX**2])
    expected = np.zeros(4)
    if told is not None:
        prior[:2, :2], expected[:2] = told.precision, told.middle
    model, spread, weight = start, 0.5, valid
    residual, variance = edges.t - model @ basis, edges.u**2
    for _ in range(steps):
        total = variance + spread**2
        weight = valid * np.square(np.maximum(1.0 - residual * residual / (TUKEY**2 * total), 0.0))
        weighted = basis * (weight / total)
        step = np.linalg.solve(weighted @ basis.T + prior, weighted @ residual - prior @ (model - expected))
        model = model + step
        residual = edges.t - model @ basis
        off = np.abs(residual)
        close = off[edges.valid & (off < edges.u + 3.0 * max(spread, 0.1))]
        if len(close) >= 6:
            spread = max(MIN_SIGMA_PX, 1.4826 * median(close))
        if max(np.abs(step).tolist()) < 1e-3:
            break
    return _Fit(model=model, residual=residual, weight=weight, spread=spread, basis=basis)


def median(values: Array) -> float:
    """Of values (N,), in a quarter of the time of numpy's own; nan of none."""
    if not len(values):
        return float("nan")
    ordered = np.sort(values)
    return float(0.5 * (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]))


def fit_outline(view: SearchedPicture, circle: Circle, told: Told | None = None) -> Outline | None:
    """Fit about a coarse circle; None where fewer than a quarter of the free profiles show an edge there.

    told: what else tells the centre, against the circle's middle.
    """
    sight, shift = circle.sight, circle.shift_px
    count = int(np.clip(round(1.5 * np.pi * sight.radius_px / PROFILE_SPACING_PX), MIN_PROFILES, MAX_PROFILES))
    around = free_angles(count)
    polarity = 0.0
    reach = max(REACH_PX, REACH_START_SHARE * sight.radius_px)
    model, profiles = fitting_model(view, sight, shift, around, max(reach, REACH_BOTTOM_PX))
    for turn in range(ROUNDS):
        if turn > 0:
            profiles, reach = profiles_at(view, sight, shift, around, model), REACH_PX
        curves = cost_curves(profiles, model, reach)
        near = NEAR_START_PX + NEAR_START_SHARE * sight.radius_px if turn == 0 else NEAR_MODEL_PX
        edges = pick_edges(curves, np.full(count, shift), near)
        fit = _fit_circle(edges, np.array([0.0, 0.0, shift, polarity]), sight.radius_px, told, STEPS)
        for left in reversed(range(TURNS)):
            edges = pick_edges(curves, fit.model @ fit.basis)
            fit = _fit_circle(edges, fit.model, sight.radius_px, told, STEPS if left else LAST_STEPS)
        if edges.valid.mean() < 0.25 or (fit.weight > 0.1).mean() < 0.25:
            return None
        moved = sight.moved(view, float(fit.model[0]), float(fit.model[1]))
        if moved is None or np.hypot(fit.model[0], fit.model[1]) > 0.3 * sight.radius_px:
            return None
        measured_about, sight = sight, moved
        if told is not None:
            told = Told(middle=told.middle - fit.model[:2], precision=told.precision)
        shift, polarity = float(fit.model[2]), float(fit.model[3])
    return _outline(view, measured_about, sight, edges, fit, model)


def _outline(
    view: SearchedPicture, measured_about: Sight, sight: Sight, edges: Edges, fit: _Fit, model: Model
) -> Outline:
    good = fit.weight > 0.1
    sigma = np.hypot(edges.u, fit.spread)
    sigma = np.maximum(sigma * _redness(edges, fit, sigma, good), MIN_SIGMA_PX)
    light = float(np.hypot(LIGHT_PX, LIGHT_SHARE * sight.radius_px))
    sigma = np.hypot(sigma, light * np.sqrt(0.5 * good.sum()))  # N edges tell the centre to sigma / sqrt(N / 2)
    t = edges.t - fit.model[3] * np.sign(edges.step)
    return Outline(
        sight=sight,
        around=edges.around,
        points_px=measured_about.places_px(view, edges.around, t[:, None])[:, 0],
        sigma_px=sigma,
        step=edges.step,
        good=good,
        shift_px=float(fit.model[2]),
        polarity_px=float(fit.model[3]),
        rms_px=float(np.sqrt((fit.residual[good] ** 2).mean())) if good.any() else np.inf,
        blur_px=model.blur_px,
        misfit=median(edges.misfit[good]) if good.any() else np.inf,
        closed=_closed(view, sight, edges, fit, good, model),
        inner=_inner(view, sight, edges.around[good], float(fit.model[2])),
    )


def _redness(edges: Edges, fit: _Fit, sigma: Array, good: NDArray[np.bool_]) -> float:
    """By how much slow deviations from a circle exceed what independent edges of this scatter would give, 1 or more.

    What a ball mirrors, shading and neighbours' likeness bend the outline slowly. The part of it that looks like a
    moved circle cannot be seen; the next harmonics, measured here, are its size.
    """
    if good.sum() < 16:
        return 1.5
    around = edges.around[good]
    columns = [wave(k * around) for k in HARMONICS for wave in (np.cos, np.sin)]
    seen = np.concatenate([fit.basis[:, good], columns]).T / sigma[good, None]
    seen[:, 3] += 1e-9 * np.arange(len(seen))  # one sign all round: the same column as the common shift
    q = np.linalg.qr(seen)[0][:, len(fit.basis) :]
    power = float(np.mean((q.T @ (fit.residual[good] / sigma[good])) ** 2))
    return float(np.sqrt(max(1.0, power)))


def _inner(view: SearchedPicture, sight: Sight, around: Array, shift_px: float) -> float:
    """Share of these profiles on which the steepest place further inside is steeper than the outline's own."""
    t = np.arange(-INNER_RADII * sight.radius_px, CLEAR_PX + 1.01, SAMPLE_STEP_PX)
    values, _ = read(view.grey, sight.places_px(view, around, t + shift_px))
    values[:, 1:-1] = 0.25 * values[:, :-2] + 0.5 * values[:, 1:-1] + 0.25 * values[:, 2:]
    slope = np.abs(np.gradient(values, SAMPLE_STEP_PX, axis=1))
    own, further = slope[:, np.abs(t) <= 0.5 * CLEAR_PX], slope[:, t < -CLEAR_PX]
    if not len(around) or not further.shape[1]:
        return 0.0
    return float((further.max(axis=1) > own.max(axis=1)).mean())


def _closed(
    view: SearchedPicture, sight: Sight, edges: Edges, fit: _Fit, good: NDArray[np.bool_], model: Model
) -> float:
    """Share of the bottom where the edge lies on the circle with the step that it has at both lower sides."""
    from_down = np.abs(np.angle(np.exp(1j * (edges.around + 0.5 * np.pi))))
    beside = good & (from_down < BESIDE_RAD)
    if beside.sum() < 4:
        return 0.0
    usual, shift = median(edges.step[beside]), float(fit.model[2])
    count = max(9, round(2.0 * BOTTOM_RAD * sight.radius_px / PROFILE_SPACING_PX))
    around = -0.5 * np.pi + BOTTOM_RAD * np.linspace(-1.0, 1.0, count)
    bottom = pick_edges(cost_curves(profiles_at(view, sight, shift, around, model), model, REACH_BOTTOM_PX))
    like = bottom.step / usual
    on = bottom.valid & (np.abs(bottom.t - shift) < max(1.0, 0.05 * sight.radius_px)) & (like > 0.5) & (like < 2.0)
    return float(on.mean())
