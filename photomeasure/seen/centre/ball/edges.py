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
from functools import cached_property

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
BLURS_PX, USUAL_BLUR = (0.6, 0.85, 1.2, 1.7, 2.4), 1
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
class Solved:
    """The linear model of a profile of n samples, solved for each of J edge places whatever the profile.

    whitened (5, J, n): of values v, |whitened v|^2 over the five is what the model explains of |v|^2; step (J, n): of
    values, the step across the edge. freedom: independent samples less parameters.
    """

    whitened: Array
    step: Array
    freedom: float

    def cost(self, values: Array) -> Array:
        """Residual sums of squares (P, J) of profiles (P, n)."""
        _, places, samples = self.whitened.shape
        explained = (
            np.square(values @ self.whitened.reshape(-1, samples).T).reshape(len(values), _SHAPES, places).sum(1)
        )
        return np.asarray(np.maximum(np.square(values).sum(axis=1)[:, None] - explained, 0.0))

    def among(self, places: slice) -> Solved:
        """Some of the places only."""
        return Solved(whitened=self.whitened[:, places], step=self.step[places], freedom=self.freedom)


@dataclass(frozen=True, kw_only=True)
class Model:
    """What profiles about a ball of one size look like, for one blur.

    t (n,): where they are read, grid (J,): places of the edge, both pixels outside the expected outline; designs (J, n, 5): the
    shapes for an edge at each place; across (5,): by how much each shape is higher a pixel inside than a pixel outside, of a
    plain step.
    """

    t: Array
    grid: Array
    designs: Array
    across: Array
    radius_px: float
    blur_px: float

    @cached_property
    def whole(self) -> Solved:
        """Of whole profiles."""
        return _solved(self.designs, self.across, self.radius_px)

    @cached_property
    def short(self) -> Solved:
        """Of the last samples of profiles, which go not far inwards."""
        inner = int((self.t <= -INSIDE_PX - 0.5 * SAMPLE_STEP_PX).sum())
        return _solved(self.designs[:, inner:], self.across, self.radius_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profiles:
    """Profiles about a supposed ball: values (P, n) linear light at its angles around (P,); usable (P,): inside the picture, off
    the printed sheets; shift_px: how far outside the expected outline their middle is."""

    around: Array
    values: Array
    usable: NDArray[np.bool_]
    shift_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Cost over edge place for P profiles.

    around (P,); grid (J,) places, pixels outside the expected outline; cost (P, J) residual sum of squares, step (P, J) across
    the edge, for an edge at each place; least (P,) variance of one sample at the best one, of as many independent samples less
    parameters as freedom (P,) says; downhill (P, J): which of a place and its neighbours costs least, -1, 0 or 1, the ends left
    out; usable (P,): as in `Profiles`.
    """

    around: Array
    grid: Array
    cost: Array
    step: Array
    least: Array
    downhill: NDArray[np.intp]
    freedom: Array
    usable: NDArray[np.bool_]


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


def modelled(radius_px: float, reach_px: float, blur_px: float) -> Model:
    """The model of profiles about a ball, for every edge place within reach of the expected one, and a little more."""
    half = max(WINDOW_PX[0], min(WINDOW_PX[1], 0.3 * radius_px))
    t = np.arange(-half, half + 0.5 * SAMPLE_STEP_PX, SAMPLE_STEP_PX)
    n, beyond = len(t), int(np.ceil(reach_px / GRID_STEP_PX))
    grid = np.arange(-beyond, beyond + 1) * np.float64(GRID_STEP_PX)
    back = (
        _GRID_PER_SAMPLE * np.arange(n)[None, :] - np.arange(len(grid))[:, None] + len(grid) - 1
    )  # all on one lattice
    lattice = t[0] - grid[-1] + GRID_STEP_PX * np.arange(back[0, -1] + 1)
    *shapes, inside, outside = blurred_shapes(np.append(lattice, [-1.0, 1.0]), blur_px, radius_px)
    across = (inside - outside) / (inside[1] - outside[1])
    return Model(t=t, grid=grid, designs=np.stack(shapes)[back], across=across, radius_px=radius_px, blur_px=blur_px)


def _solved(designs: Array, across: Array, radius_px: float) -> Solved:
    """Designs (J, n, 5) solved for each of the places.

    With parameters p = (D'D + R)^-1 D'v, R a ridge, |v - D p|^2 = |v|^2 - p'(D'D + 2 R) p = |v|^2 - |L'p|^2, L Cholesky's factor.
    """
    ridge = np.diag([1e-9, 1e-9, GLOW_RIDGE, RIM_RIDGE * (RIM_RADIUS_PX / radius_px) ** 3, SLOPE_RIDGE])
    turned = np.ascontiguousarray(designs.transpose(0, 2, 1))
    gram = turned @ designs + ridge
    inverse = np.linalg.inv(gram)
    whitened = np.linalg.cholesky(gram + ridge).transpose(0, 2, 1) @ inverse @ turned  # (J, 5, n)
    return Solved(
        whitened=np.ascontiguousarray(whitened.transpose(1, 0, 2)),
        step=((across @ inverse)[:, None] @ turned)[:, 0],
        freedom=max(
            designs.shape[1] * SAMPLE_STEP_PX - _SHAPES, 1.0
        ),  # samples closer than a pixel are not independent
    )


def fitting_model(
    view: SearchedPicture, sight: Sight, shift_px: float, around: Array, reach_px: float
) -> tuple[Model, Profiles]:
    """The model with the blur that fits the profiles of a ball best, for places within reach; and these profiles.

    From the usual blur on to more, or else to less, as long as that fits better.
    """
    model = modelled(sight.radius_px, reach_px, BLURS_PX[USUAL_BLUR])
    profiles = profiles_at(view, sight, shift_px, around, model)
    some = profiles.values[profiles.usable][::3]
    least = _misfit(model, some)
    for blurs in (BLURS_PX[USUAL_BLUR + 1 :], BLURS_PX[USUAL_BLUR - 1 :: -1]):
        for tried in blurs:
            other = modelled(sight.radius_px, reach_px, tried)
            misfit = _misfit(other, some)
            if misfit >= least:
                break
            model, least = other, misfit
        if model.blur_px != BLURS_PX[USUAL_BLUR]:
            break
    return model, profiles


def _misfit(model: Model, values: Array) -> float:
    """What profiles (P, n) leave unexplained at their best places, grey levels."""
    return float(np.sqrt(model.whole.cost(values).min(axis=1)).sum())


def profiles_at(view: SearchedPicture, sight: Sight, shift_px: float, around: Array, model: Model) -> Profiles:
    """Read the profiles of which a model tells."""
    places = sight.places_px(view, around, model.t + shift_px)
    values, inside = read(view.grey, places, linear_light())
    usable = np.asarray((inside & outside_all(view.keep_out_px, places)).all(axis=1), dtype=np.bool_)
    return Profiles(around=around, values=values, usable=usable, shift_px=shift_px)


def cost_curves(profiles: Profiles, model: Model, reach_px: float) -> Curves:
    """Try every edge place of a model within reach of the expected one."""
    near = np.flatnonzero(np.abs(model.grid) < reach_px + 0.5 * GRID_STEP_PX)
    places = slice(int(near[0]), int(near[-1]) + 1)
    whole, short = model.whole.among(places), model.short.among(places)
    values = profiles.values
    last = values[:, -short.step.shape[1] :]
    cost, short_cost = whole.cost(values), short.cost(last)
    least, short_least = _least_variance(cost, whole.freedom), _least_variance(short_cost, short.freedom)
    calmer = short_least < CALMER * least
    cost = np.where(calmer[:, None], short_cost, cost)
    return Curves(
        around=profiles.around,
        grid=model.grid[places] + profiles.shift_px,
        cost=cost,
        step=np.where(calmer[:, None], last @ short.step.T, values @ whole.step.T),
        least=np.where(calmer, short_least, least),
        downhill=_downhill(cost),
        freedom=np.where(calmer, short.freedom, whole.freedom),
        usable=profiles.usable,
    )


def _downhill(cost: Array) -> NDArray[np.intp]:
    """See `Curves`; of equal ones the first."""
    low, mid, high = cost[:, :-2].copy(), cost[:, 1:-1], cost[:, 2:].copy()
    low[:, 0] = high[:, -1] = np.inf
    way = np.zeros(cost.shape, dtype=np.intp)
    way[:, 1:-1] = np.where(low <= np.minimum(mid, high), -1, mid > high)
    return way


def _least_variance(cost: Array, freedom: float) -> Array:
    """Of each profile (P,) at its best place; not below the rounding to grey levels."""
    return np.asarray(np.maximum(cost.min(axis=1) * SAMPLE_STEP_PX / freedom, ROUNDING))


def pick_edges(curves: Curves, model_t: Array | None = None, near_px: float = NEAR_MODEL_PX) -> Edges:
    """The best edge of every profile; where model_t (P,) says what the circle expects, the best one near it."""
    grid, cost = curves.grid, curves.cost
    judged = cost
    if model_t is not None:
        far = (grid[None, :] - model_t[:, None]) / near_px
        judged = cost * SAMPLE_STEP_PX + curves.least[:, None] * far**2
    at = np.minimum(np.maximum(judged.argmin(axis=1), 1), len(grid) - 2)
    rows = len(grid) * np.arange(len(at))
    for _ in range(3 if model_t is not None else 0):  # from the compromise down to the profile's own nearest minimum
        at += curves.downhill.take(rows + at)
    here = rows + at
    low, mid, high = cost.take(here - 1), cost.take(here), cost.take(here + 1)
    minimum = (mid <= low) & (mid <= high)
    bend = np.maximum(low + high - 2.0 * mid, 1e-12)
    t = grid[at] + GRID_STEP_PX * np.minimum(np.maximum(0.5 * (low - high) / bend, -0.5), 0.5)
    variance = np.maximum(mid * SAMPLE_STEP_PX / curves.freedom, ROUNDING)
    u = np.sqrt(2.0 * variance / (bend / GRID_STEP_PX**2 * SAMPLE_STEP_PX))
    step = curves.step.take(here)
    noise = np.sqrt(variance)
    valid = curves.usable & minimum & (np.abs(step) > MIN_STEP * noise) & (u < MAX_U_PX)
    return Edges(around=curves.around, t=t, u=u, step=step, valid=valid, misfit=noise / np.maximum(np.abs(step), 1e-6))
