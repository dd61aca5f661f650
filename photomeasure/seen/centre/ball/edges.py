"""Where a grey profile crosses the outline of a ball: a blurred step with what light does near a round rim.

    I(t) = out + slope (t - t0)                                            outside, t > t0
         = in + glow sqrt(1 - rho^2) + rim (1 - sqrt(1 - rho^2))^5         inside, rho = 1 + (t - t0) / radius

blurred by a Gaussian of s pixels. sqrt(1 - rho^2) is the cosine between a sphere's normal and the line of sight:
any diffuse light is linear in it near the rim. Its complement's fifth power is Schlick's rise of the mirror share
towards grazing (Schlick 1994, "An inexpensive BRDF model for physically-based rendering", from memory), which makes
a bright ring of about a pixel round everything that is not rough: without it the edge of a black or greased ball
lies a pixel too far in against a bright background and not at all against a dark one. The slope is for a background that
is not plain: without it a striped wall moved the centre by half a pixel. The edge is where the step is
half-way up in linear light, whatever its sign. For given t0 and s the rest is linear, so every profile gives a
curve of cost over t0 and needs no start.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.profiles import Sight, linear_light, outside_all, read
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array

SAMPLE_STEP_PX = 0.5
GRID_STEP_PX = 0.1
WINDOW_PX = (3.0, 5.0)  # of a profile on either side of the expected edge, for small and large balls
# What a ball mirrors has edges of its own near its rim: a profile goes no further inwards where that leaves less than
# this share of its variance.
INSIDE_PX, CALMER = 3.0, 0.5
MAX_U_PX = 0.5
MIN_STEP = 1.2  # over the profile's noise
BLURS_PX = (0.6, 0.85, 1.2, 1.7, 2.4)
NEAR_MODEL_PX = 0.4  # of several possible edges of a profile the one near the circle is meant: its spread
# (noise / usual size)^2 of glow and rim; the rim of a small ball is narrower than the blur and would only pass for
# a shift
GLOW_RIDGE, RIM_RIDGE, RIM_RADIUS_PX = 0.01, 0.003, 30.0
SLOPE_RIDGE, SLOPE_REACH_PX, SLOPE_PX = 0.2, 6.0, 4.0  # of the slope outside: how far it goes on, and its usual scale
_SHAPES = 5
_GRID_PER_SAMPLE = round(SAMPLE_STEP_PX / GRID_STEP_PX)
ROUNDING = 1.0 / 12.0  # variance of rounding to grey levels
_FINE = 4  # points per sample step in which the shapes are blurred


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Cost over edge place for P profiles.

    around (P,); grid (J,) places, pixels outside the expected outline; cost (P, J) residual sum of squares, of as many
    independent samples less parameters as freedom (P,) says; values (P, n) linear light; solver (2, J, 5, n) linear
    parameters of values, for whole and for short profiles; short (P,): goes not far inwards; usable (P,): inside the
    picture, off the printed sheets; across (5,): what each parameter adds to the step from a pixel outside to one inside.
    """

    around: Array
    grid: Array
    cost: Array
    values: Array
    solver: Array
    freedom: Array
    short: NDArray[np.bool_]
    usable: NDArray[np.bool_]
    across: Array
    blur_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """One edge of each profile.

    around (P,); t, u (P,) place and standard uncertainty, pixels; step (P,) inside less outside of the edge, linear
    light of 255; valid (P,); misfit (P,) noise over |step|.
    """

    around: Array
    t: Array
    u: Array
    step: Array
    valid: NDArray[np.bool_]
    misfit: Array


def blurred_shapes(offsets: Array, blur_px: float, radius_px: float) -> Array:
    """Outside, inside, glow, rim and slope (n, 5) at offsets (n,) from the edge, blurred by a Gaussian."""
    fine = SAMPLE_STEP_PX / _FINE
    reach = 4.0 * blur_px
    x = np.arange(offsets.min() - reach - fine, offsets.max() + reach + 2 * fine, fine)
    rho = np.clip(1.0 + x / radius_px, 0.0, 1.0)
    inside = np.clip(0.5 - x / fine, 0.0, 1.0)
    facing = np.sqrt(np.maximum(1.0 - rho * rho, 0.0))
    half = int(np.ceil(reach / fine))
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * fine / blur_px) ** 2)
    kernel /= kernel.sum()
    slope = (1.0 - inside) * np.clip(x, 0.0, SLOPE_REACH_PX) / SLOPE_PX
    columns = []
    for shape in (inside, inside * facing, inside * (1.0 - facing) ** 5, slope):
        padded = np.concatenate([np.full(half, shape[0]), shape, np.full(half, shape[-1])])
        columns.append(np.interp(offsets, x, np.convolve(padded, kernel, mode="valid")[: len(x)]))
    return np.stack([1.0 - columns[0], *columns], axis=1)


def cost_curves(
    view: SearchedPicture, sight: Sight, shift_px: float, around: Array, reach_px: float, blur_px: float | None
) -> Curves:
    """Read the profiles and try every edge place within reach of the expected one; blur None: the best one."""
    half = max(WINDOW_PX[0], min(WINDOW_PX[1], 0.3 * sight.radius_px))
    t = np.arange(-half, half + 0.5 * SAMPLE_STEP_PX, SAMPLE_STEP_PX) + shift_px
    grid = np.arange(-reach_px, reach_px + 0.5 * GRID_STEP_PX, GRID_STEP_PX) + shift_px
    places = sight.places_px(view, around, t)
    values, inside = read(view.grey, places, linear_light())
    usable = np.asarray((inside & outside_all(view.keep_out_px, places)).all(axis=1), dtype=np.bool_)
    if blur_px is None:
        some = values[usable][::3]
        costs = [_costs(some, _designs(t, grid, s, sight.radius_px), sight.radius_px)[0] for s in BLURS_PX]
        blur_px = BLURS_PX[int(np.argmin([np.sqrt(cost.min(axis=1)).sum() for cost in costs]))]
    designs = _designs(t, grid, blur_px, sight.radius_px)
    cost, solver = _costs(values, designs, sight.radius_px)
    near = t > shift_px - INSIDE_PX - 0.5 * SAMPLE_STEP_PX
    short_cost, near_solver = _costs(values[:, near], designs[:, near], sight.radius_px)
    short_solver = np.zeros_like(solver)
    short_solver[:, :, near] = near_solver
    freedom, short_freedom = _freedom(len(t)), _freedom(int(near.sum()))
    short = _least_variance(short_cost, short_freedom) < CALMER * _least_variance(cost, freedom)
    return Curves(
        around=around,
        grid=grid,
        cost=np.where(short[:, None], short_cost, cost),
        values=values,
        solver=np.stack([solver, short_solver]),
        freedom=np.where(short, short_freedom, freedom),
        short=short,
        usable=usable,
        across=_across(blur_px, sight.radius_px),
        blur_px=blur_px,
    )


def _freedom(samples: int) -> float:
    """Independent samples less parameters: samples closer than a pixel are not independent."""
    return max(samples * SAMPLE_STEP_PX - _SHAPES, 1.0)


def _least_variance(cost: Array, freedom: Array | float) -> Array:
    """Of each profile (P,) at its best place; not below the rounding to grey levels."""
    return np.asarray(np.maximum(cost.min(axis=1) * SAMPLE_STEP_PX / freedom, ROUNDING))


def _designs(t: Array, grid: Array, blur_px: float, radius_px: float) -> Array:
    """The linear model (J, n, 5) of a profile at offsets t (n,) for every edge place of the grid (J,)."""
    n, count = len(t), len(grid)
    back = _GRID_PER_SAMPLE * np.arange(n)[None, :] - np.arange(count)[:, None] + count - 1  # all on one lattice
    offsets = t[0] - grid[-1] + GRID_STEP_PX * np.arange(back[0, -1] + 1)
    return np.asarray(blurred_shapes(offsets, blur_px, radius_px)[back])


def _across(blur_px: float, radius_px: float) -> Array:
    """(5,) by how much each shape is higher a pixel inside than a pixel outside, of a plain step."""
    inside, outside = blurred_shapes(np.array([-1.0, 1.0]), blur_px, radius_px)
    across: Array = (inside - outside) / (inside[1] - outside[1])
    return across


def _costs(values: Array, designs: Array, radius_px: float) -> tuple[Array, Array]:
    """Residual sums of squares (P, J) and the linear solutions (J, 5, n) for every edge place of the grid."""
    ridge = np.diag([1e-9, 1e-9, GLOW_RIDGE, RIM_RIDGE * (RIM_RADIUS_PX / radius_px) ** 3, SLOPE_RIDGE])
    gram = designs.transpose(0, 2, 1) @ designs + ridge
    solver = np.asarray(np.linalg.solve(gram, designs.transpose(0, 2, 1)), dtype=np.float64)  # (J, 5, n)
    solved = solver @ values.T  # (J, 5, P)
    # |v - D p|^2 with (D'D + R) p = D'v, without the residuals themselves
    explained = np.einsum("jkp,jkp->jp", solved, (gram + ridge) @ solved)
    cost = np.square(values).sum(axis=1)[:, None] - explained.T
    return np.asarray(np.maximum(cost, 0.0)), solver


def pick_edges(curves: Curves, model_t: Array | None = None, near_px: float = NEAR_MODEL_PX) -> Edges:
    """The best edge of every profile; where model_t (P,) says what the circle expects, the best one near it."""
    grid, cost = curves.grid, curves.cost
    least = _least_variance(cost, curves.freedom)
    judged = cost
    if model_t is not None:
        far = (grid[None, :] - model_t[:, None]) / near_px
        judged = cost * SAMPLE_STEP_PX + least[:, None] * far**2
    at = judged.argmin(axis=1)
    rows = np.arange(len(at))
    at = np.clip(at, 1, len(grid) - 2)
    for _ in range(3 if model_t is not None else 0):  # from the compromise down to the profile's own nearest minimum
        near = np.clip(at[:, None] + np.array([-1, 0, 1]), 1, len(grid) - 2)
        at = near[rows, np.take_along_axis(cost, near, axis=1).argmin(axis=1)]
    low, mid, high = cost[rows, at - 1], cost[rows, at], cost[rows, at + 1]
    minimum = (mid <= low) & (mid <= high)
    bend = np.maximum(low + high - 2.0 * mid, 1e-12)
    t = grid[at] + GRID_STEP_PX * np.clip(0.5 * (low - high) / bend, -0.5, 0.5)
    variance = np.maximum(mid * SAMPLE_STEP_PX / curves.freedom, ROUNDING)
    u = np.sqrt(2.0 * variance / (bend / GRID_STEP_PX**2 * SAMPLE_STEP_PX))
    parameters = np.einsum("pkn,pn->pk", curves.solver[curves.short.astype(np.intp), at], curves.values)
    step = parameters @ curves.across
    noise = np.sqrt(variance)
    valid = curves.usable & minimum & (np.abs(step) > MIN_STEP * noise) & (u < MAX_U_PX)
    return Edges(around=curves.around, t=t, u=u, step=step, valid=valid, misfit=noise / np.maximum(np.abs(step), 1e-6))
