"""The circle among many edges: every profile offers its strongest ones, a random-sample vote finds those that agree."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.profiles import Sight, outside_all, read, sight_at
from photomeasure.seen.centre.ball.search import NECK_HALF_ANGLE_RAD, SearchedPicture, Spot
from photomeasure.seen.centre.ball.sphere import Array

PROFILES = 54
EDGES = 3  # kept on each profile
TRIALS = 160, 32  # in the first and the second round
OUTER_WIDTHS, OUTER_SHARE = 1.2, 0.85  # how much larger and how complete a ring is that replaces a stronger one
SIZE_COST = 0.03  # support that one standard deviation of size costs in choosing among circles
PLACE_COST = 0.02  # the same of the distance from where a close look saw the centre
HOPELESS = 0.2  # support below which a second look is not worth its time
RADIUS_TOLERANCE = 0.06  # depth and wear
EDGE_TOLERANCE_PX = 0.6  # tone curve and blur
_EDGE_FLOOR = 1.2  # grey levels per pixel

_SEED = 20250211  # fixed: the same picture gives the same answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """Edges that agree: sight is centred on them, shift_px how far outside the expected outline they lie.

    support: share of the free profiles with an agreeing edge, 0..1, weighted by the edge's strength against others'.
    chance: the same share for circles that are not there (shifted in radius). likeness: of the coarse place it came from.
    """

    sight: Sight
    shift_px: float
    support: float
    chance: float
    likeness: float


def free_angles(count: int) -> Array:
    """Angles (P,) around the ball without the quarter in which the neck joins; 0 right, pi / 2 up."""
    span = 2.0 * (np.pi - NECK_HALF_ANGLE_RAD)
    first = -0.5 * np.pi + NECK_HALF_ANGLE_RAD
    return first + span * (np.arange(count) + 0.5) / count


def tolerance_px(radius_px: float) -> float:
    """By how much the outline may lie outside or inside the expected one."""
    return RADIUS_TOLERANCE * radius_px + EDGE_TOLERANCE_PX


def usual_px(radius_px: float) -> float:
    """The same as a standard deviation: a ball that stands as instructed, new to worn, and what a tone curve does."""
    return float(np.hypot(0.3, 0.011 * radius_px))


def find_circle(view: SearchedPicture, spot: Spot) -> Circle | None:
    """The best circle near a coarse spot, refined once about its own centre; None where no edges agree."""
    sight = sight_at(view, spot.px)
    if sight is None:
        return None
    best: Circle | None = None
    for trials, error in zip(TRIALS, (spot.error_px, 0.5 * spot.error_px), strict=True):
        slack = error + tolerance_px(sight.radius_px)
        edges = _edges(view, sight, slack)
        if edges is None:
            return None
        expected = _across(view, sight, spot.px)
        found = _agree(edges, sight.radius_px, error, trials, best.shift_px if best else 0.0, expected, spot.error_px)
        if found is None:
            return None
        right, up, shift, support, chance = found
        moved = sight.moved(view, right, up)
        if moved is None:
            return None
        sight = moved
        best = Circle(sight=sight, shift_px=shift, support=support, chance=chance, likeness=spot.likeness)
        if support < HOPELESS:
            return best
    return best


def _across(view: SearchedPicture, sight: Sight, px: Array) -> Array:
    """Where a pixel (2,) is against the sight's middle, (2,) pixels to the right and up."""
    axes = sight.places_px(view, np.array([0.0, 0.5 * np.pi]), np.zeros(1))[:, 0] - sight.centre_px
    return np.asarray(axes @ (px - sight.centre_px) / np.linalg.norm(axes, axis=1))


@dataclass(frozen=True, slots=True)
class _Edges:
    around: Array  # (P,)
    t: Array  # (P, EDGES), far away where there is no edge
    weight: Array  # (P, EDGES) 0..1
    slack: float
    basis: Array  # (3, P): cosine, sine, one


def _edges(view: SearchedPicture, sight: Sight, slack: float) -> _Edges | None:
    """The strongest edges of every profile within `slack` of the expected outline."""
    step = max(0.5, sight.radius_px / 48.0)
    reach = slack + 3.0 * step
    t = np.arange(-reach, reach + 0.5 * step, step)
    around = free_angles(PROFILES)
    places = sight.places_px(view, around, t)
    values, inside = read(view.grey, places)
    usable = inside & outside_all(view.keep_out_px, places)
    if usable.mean() < 0.4:
        return None
    smooth = values.copy()
    smooth[1:-1] = 0.25 * values[:-2] + 0.5 * values[1:-1] + 0.25 * values[2:]
    smooth[:, 1:-1] = 0.25 * smooth[:, :-2] + 0.5 * smooth[:, 1:-1] + 0.25 * smooth[:, 2:]
    slope = np.abs(smooth[:, 2:] - smooth[:, :-2]) / (2.0 * step)  # at t[1:-1]
    slope[~(usable[:, 2:] & usable[:, :-2])] = 0.0
    peak = (slope[:, 1:-1] > slope[:, :-2]) & (slope[:, 1:-1] >= slope[:, 2:]) & (slope[:, 1:-1] > _EDGE_FLOOR / 2)
    height = np.where(peak, slope[:, 1:-1], 0.0)  # at t[2:-2]
    order = np.argsort(-height, axis=1)[:, :EDGES]
    top = np.take_along_axis(height, order, axis=1)
    left = np.take_along_axis(slope, order, axis=1)  # index i in height is i + 1 in slope: neighbours i and i + 2
    right = np.take_along_axis(slope, order + 2, axis=1)
    bend = left + right - 2.0 * top
    sub = np.where(top > 0.0, 0.5 * (left - right) / np.where(bend < 0.0, bend, -1.0), 0.0)
    at = t[order + 2] + step * np.clip(sub, -0.5, 0.5)
    usual = np.maximum(top[:, :1], _EDGE_FLOOR)
    weight = top / (0.5 * usual + 0.5 * top + _EDGE_FLOOR)
    basis = np.stack([np.cos(around), np.sin(around), np.ones_like(around)])
    return _Edges(around, np.where(top > 0.0, at, 1e6), weight, slack, basis)


def _scores(edges: _Edges, models: Array, width: float) -> tuple[Array, Array]:
    """Support (M,) of models (M, 3), with a soft limit of `width` pixels: by the edges' weights, and with all edges alike."""
    expected = models @ edges.basis  # (M, P)
    weighted, plain = np.zeros_like(expected), np.zeros_like(expected)
    for t, weight in zip(edges.t.T, edges.weight.T, strict=True):
        off = (t - expected) / width
        closeness = np.maximum(1.0 - off * off, 0.0)
        np.maximum(plain, closeness, out=plain)
        np.maximum(weighted, closeness * weight, out=weighted)
    return weighted.mean(axis=1), plain.mean(axis=1)


def _agree(
    edges: _Edges, radius_px: float, error_px: float, trials: int, shift_px: float, expected: Array, place_px: float
) -> tuple[float, float, float, float, float] | None:
    """Right, up, shift, support, chance of the best circle."""
    draws, limit = _draws(trials), tolerance_px(radius_px)
    sized = _sized_models(edges, draws, usual_px(radius_px))
    models = np.concatenate([[[0.0, 0.0, shift_px]], _random_models(edges, draws), sized])
    models = models[(np.hypot(models[:, 0], models[:, 1]) < 1.5 * error_px + 1.0) & (np.abs(models[:, 2]) < limit)]
    if not len(models):
        return None
    width = max(1.0, 0.03 * radius_px)
    weighted, plain = _scores(edges, models, width)
    scores = 0.5 * (weighted + plain)
    scores -= SIZE_COST * (models[:, 2] / usual_px(radius_px)) ** 2
    scores -= PLACE_COST * (np.square(models[:, :2] - expected).sum(axis=1) / place_px**2)
    model = models[int(scores.argmax())]
    for _ in range(3):
        model = _refit(edges, model, width)
    model = _outermost(edges, models, plain, model, width, limit)
    if abs(model[2]) > limit:
        return None
    others = model + 2.5 * width * np.array([[0.0, 0.0, k] for k in (-2, -1, 1, 2)])
    others = others[np.abs(others[:, 2]) < edges.slack]
    (support, *chances), _ = _scores(edges, np.concatenate([model[None], others]), width)
    chance = float(np.mean(chances)) if chances else 0.0
    return float(model[0]), float(model[1]), float(model[2]), float(support), chance


def _outermost(edges: _Edges, models: Array, plain: Array, best: Array, width: float, limit: float) -> Array:
    """The largest circle that is there: what a ball mirrors draws rings inside its outline, stronger ones at times.

    plain (M,): support of the models with all edges alike, which is what counts here.
    """
    outer = (models[:, 2] > best[2] + OUTER_WIDTHS * width) & (models[:, 2] < limit)
    if not outer.any():
        return best
    other = models[outer][int(plain[outer].argmax())]
    alike = replace(edges, weight=(edges.weight > 0.0).astype(np.float64))
    for _ in range(3):
        other = _refit(alike, other, width)
    if not best[2] + OUTER_WIDTHS * width < other[2] < limit:
        return best
    _, (own, larger) = _scores(edges, np.stack([best, other]), width)
    return other if larger > max(OUTER_SHARE * own, 0.7) else best


@dataclass(frozen=True, slots=True)
class _Draws:
    """What is drawn for a number of trials, the same every time: profiles, which of their edges, and a size."""

    thirds: NDArray[np.intp]  # (M, 3), one out of each third of the outline
    by_weight: Array  # (M, 3) 0..1
    circle_from_edges: Array  # (M, 3, 3)
    pairs: NDArray[np.intp]  # (N, 2), not nearly opposite each other or side by side
    by_number: Array  # (N, 2) 0..1
    centre_from_edges: Array  # (N, 2, 2)
    sizes: Array  # (N,), in usual ones


@cache
def _draws(trials: int) -> _Draws:
    rng, around = np.random.default_rng(_SEED), free_angles(PROFILES)
    third = PROFILES // 3
    thirds = np.stack([k * third + rng.integers(0, third, trials) for k in range(3)], axis=1)
    by_weight = rng.random((trials, 3))
    matrix = np.stack([np.cos(around[thirds]), np.sin(around[thirds]), np.ones((trials, 3))], axis=2)
    good = np.abs(np.linalg.det(matrix)) > 0.2
    pairs = rng.integers(0, PROFILES, (trials, 2))
    pairs = pairs[np.abs(np.sin(around[pairs[:, 0]] - around[pairs[:, 1]])) > 0.4]
    drawn = _Draws(
        thirds=thirds[good],
        by_weight=by_weight[good],
        circle_from_edges=np.linalg.inv(matrix[good]),
        pairs=pairs,
        by_number=rng.random(pairs.shape),
        centre_from_edges=np.linalg.inv(np.stack([np.cos(around[pairs]), np.sin(around[pairs])], axis=2)),
        sizes=rng.standard_normal(len(pairs)),
    )
    for field in fields(drawn):
        getattr(drawn, field.name).setflags(write=False)
    return drawn


def _random_models(edges: _Edges, draws: _Draws) -> Array:
    """Circles through one edge out of each third of the outline: (M, 3)."""
    cumulative = (edges.weight * (edges.t < 1e5)).cumsum(axis=1)[draws.thirds]  # (M, 3, EDGES)
    total = cumulative[..., -1]
    which = (draws.by_weight[..., None] * total[..., None] > cumulative).sum(axis=2)
    t = edges.t[draws.thirds, np.minimum(which, EDGES - 1)]
    there = (total > 0.0).all(axis=1)
    return np.asarray((draws.circle_from_edges[there] @ t[there, :, None])[..., 0])


def _sized_models(edges: _Edges, draws: _Draws, size_px: float) -> Array:
    """Circles of the size that is to be expected through two edges: (M, 3)."""
    number = (edges.t < 1e5).sum(axis=1)[draws.pairs]
    there = (number > 0).all(axis=1)
    which = (draws.by_number * number).astype(np.intp)
    shift = size_px * draws.sizes
    t = edges.t[draws.pairs, which] - shift[:, None]
    return np.asarray(np.column_stack([(draws.centre_from_edges @ t[..., None])[..., 0], shift])[there])


def _refit(edges: _Edges, model: Array, width: float) -> Array:
    basis = edges.basis.T
    off = edges.t - (basis @ model)[:, None]
    closeness = np.maximum(1.0 - (off / width) ** 2, 0.0) * edges.weight
    which = closeness.argmax(axis=1)
    rows = np.arange(len(which))
    w = closeness[rows, which]
    if (w > 0.0).sum() < 6:
        return model
    normal = basis.T @ (basis * w[:, None]) + 1e-6 * np.eye(3)
    result: Array = model + np.linalg.solve(normal, basis.T @ (w * off[rows, which]))
    return result


def ranked(view: SearchedPicture, spots: list[Spot]) -> list[Circle]:
    """Circles at the spots, best support first, each place once."""
    circles = [circle for circle in (find_circle(view, spot) for spot in spots) if circle is not None]
    circles.sort(key=lambda circle: -circle.support)
    kept: list[Circle] = []
    for circle in circles:
        apart = [np.linalg.norm(circle.sight.centre_px - other.sight.centre_px) for other in kept]
        if all(distance > 0.6 * circle.sight.radius_px for distance in apart):
            kept.append(circle)
    return kept
