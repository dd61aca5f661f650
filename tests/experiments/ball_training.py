"""Fit what `photomeasure.seen.centre.ball.template` sieves and judges with, and write it.

Run by hand:  python -m tests.experiments.ball_training --drawn 0 640 --yard 301000 301500 [--traced FOLDER ...] [--photographs FOLDER ...] [--write]

Drawn: seeds of `ball_study.draw_case` (below 10000; those that judge are kept apart). Yard: of `ball_study.draw_yard`. Traced: folders of
`sample_images/make_scenes.py --balls`. Photographs: pictures without a tow ball, looked at in several sizes. Every example
is used as it is and several times with another tone curve, contrast, blur, noise, tilt and size. The sieve is a ridge
logistic regression; the network has one hidden layer and sees what the sieve lets through.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from calib.outcome.files import write_atomic
from photomeasure.seen.centre.ball import template as ball_template
from photomeasure.seen.centre.ball.search import Coarse, View, coarse, search_region
from photomeasure.seen.centre.ball.template import (
    RADIUS_PX,
    STRIDE,
    Template,
    cells,
    edge_maps,
    likeness,
    mirrored,
    peaks,
    sieved,
)
from tests.experiments.ball_scenes import BallPicture
from tests.experiments.ball_study import draw_case, draw_yard
from tests.experiments.ball_traced import load

Float = NDArray[np.float64]
Single = NDArray[np.float32]

ON_BALL_PX, OFF_BALL_PX = 0.22 * RADIUS_PX, 0.5 * RADIUS_PX  # nearer counts as the ball, further as none
RANDOM_PLACES, PEAKS = 6, 12  # of a picture, that are no ball
CHANGED_DRAWN, CHANGED_TRACED = 2, 8  # how often an example is used with other light and tilt
HIDDEN, SIEVE_RIDGE, RIDGE, STEPS = 32, 2.0, 2.0, 160
SHAPE = (ball_template.DIRECTIONS, ball_template.ABOVE + ball_template.BELOW, ball_template.COLUMNS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """One coarse picture: maps, the allowed places, the ball's place (x, y) in coarse pixels or None."""

    maps: Single
    allowed: NDArray[np.bool_]
    ball: Float | None


Shot = tuple[Coarse, Float | None]


def shot(view: View, centre_px: Float | None) -> Shot | None:
    region = search_region(view)
    small = None if region is None else coarse(view, region)
    if small is None:
        return None
    turn = small.px_from_coarse
    if centre_px is None:
        return small, None
    return small, np.asarray(np.linalg.solve(turn[:, :2], centre_px - turn[:, 2]), dtype=np.float64)


def plain(one: Shot) -> Example:
    small, ball = one
    maps = edge_maps(small.picture, small.ignored)
    return Example(maps=maps, allowed=small.allowed[::STRIDE, ::STRIDE], ball=ball)


def changed(one: Shot, rng: np.random.Generator) -> Example:
    """The same place in other light, through another phone, a little turned and of another size."""
    small, ball = one
    picture = 255.0 * (np.clip(small.picture, 0.0, 255.0) / 255.0) ** rng.uniform(0.6, 1.6)
    picture = picture * rng.uniform(0.4, 1.0) + rng.uniform(0.0, 25.0)
    if rng.random() < 0.4:
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), rng.uniform(0.3, 1.0)), dtype=np.float64)
    picture = picture + rng.normal(0.0, rng.uniform(0.0, 3.0), picture.shape)
    rows, columns = picture.shape
    turn = cv2.getRotationMatrix2D((columns / 2, rows / 2), rng.normal(0.0, 4.0), rng.uniform(0.93, 1.08))

    def moved(image: NDArray[np.float32]) -> Single:
        return np.asarray(cv2.warpAffine(image, turn, (columns, rows), borderMode=cv2.BORDER_REPLICATE))

    ignored = moved(small.ignored.astype(np.float32)) > 0.5
    return Example(
        maps=edge_maps(moved(np.clip(picture, 0.0, 255.0).astype(np.float32)), ignored),
        allowed=(moved(small.allowed.astype(np.float32)) > 0.5)[::STRIDE, ::STRIDE],
        ball=None if ball is None else turn[:, :2] @ ball + turn[:, 2],
    )


def photograph_examples(folder: Path, rng: np.random.Generator) -> Iterator[Example]:
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg", ".png")):
        grey = np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
        for _ in range(2):
            scale = float(rng.uniform(250, 420)) / max(grey.shape)
            small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            maps = edge_maps(np.asarray(small, dtype=np.float32))
            yield Example(maps=maps, allowed=np.ones(maps.shape[1:], dtype=bool), ball=None)


def away_px(one: Example, row: NDArray[np.intp], column: NDArray[np.intp]) -> Float:
    """Distances of places from the ball; inf where there is none."""
    if one.ball is None:
        return np.full(len(row), np.inf)
    return np.asarray(np.hypot(STRIDE * column - one.ball[0], STRIDE * row - one.ball[1]))


def ball_places(one: Example) -> list[Single]:
    row, column = np.nonzero(one.allowed)
    near = np.flatnonzero(away_px(one, row, column) < ON_BALL_PX)
    return [cells(one.maps, int(row[i]), int(column[i])) for i in near]


def random_places(one: Example, rng: np.random.Generator) -> list[Single]:
    row, column = np.nonzero(one.allowed)
    far = np.flatnonzero(away_px(one, row, column) > OFF_BALL_PX)
    some = rng.choice(far, min(len(far), RANDOM_PLACES), replace=False)
    return [cells(one.maps, int(row[i]), int(column[i])) for i in some]


def peak_places(one: Example, weights: Single, offset: float, count: int) -> list[Single]:
    """The places without a ball that the sieve holds most like one."""
    odds = np.where(one.allowed, sieved(one.maps, weights, offset), -np.inf).astype(np.float32)
    row, column = peaks(odds, count)
    far = np.flatnonzero(away_px(one, row, column) > OFF_BALL_PX)
    return [cells(one.maps, int(row[i]), int(column[i])) for i in far]


def _descend(loss: Callable[[Float], tuple[float, Float]], start: Float) -> Float:
    return np.asarray(minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": STEPS}).x)


def _stacked(balls: list[Single], others: list[Single]) -> tuple[Single, Single, Single]:
    """Rows, every second one mirrored, their signs, and weights that make both kinds count the same."""
    rows = np.array(balls + others)
    rows[::2] = mirrored(rows[::2])
    sign = np.concatenate([np.ones(len(balls)), -np.ones(len(others))]).astype(np.float32)
    share = np.where(sign > 0, 0.5 / len(balls), 0.5 / len(others)) * len(rows)
    return rows.reshape(len(rows), -1), sign, share.astype(np.float32)


def fit_sieve(balls: list[Single], others: list[Single]) -> tuple[Single, float]:
    flat, sign, share = _stacked(balls, others)

    def loss(w: Float) -> tuple[float, Float]:
        z = sign * (flat @ w[:-1].astype(np.float32) + w[-1])
        pull = (-sign * share / (1.0 + np.exp(np.clip(z, -50.0, 50.0)))).astype(np.float32)
        value = float((share * np.logaddexp(0.0, -z)).sum() + 0.5 * SIEVE_RIDGE * w[:-1] @ w[:-1])
        return value, np.concatenate([flat.T @ pull + SIEVE_RIDGE * w[:-1], [pull.sum()]])

    w = _descend(loss, np.zeros(flat.shape[1] + 1))
    return w[:-1].reshape(SHAPE).astype(np.float32), float(w[-1])


def fit_network(balls: list[Single], others: list[Single], seed: int = 0) -> tuple[Single, Single, Single, float]:
    flat, sign, share = _stacked(balls, others)
    n = flat.shape[1]
    rng = np.random.default_rng(seed)

    def parts(w: Float) -> tuple[Single, Single, Single, float]:
        w32 = w.astype(np.float32)
        return (
            w32[: n * HIDDEN].reshape(n, HIDDEN),
            w32[n * HIDDEN : (n + 1) * HIDDEN],
            w32[(n + 1) * HIDDEN : -1],
            w[-1],
        )

    def loss(w: Float) -> tuple[float, Float]:
        inner, inner_offset, out, out_offset = parts(w)
        hidden = np.tanh(flat @ inner + inner_offset)
        z = sign * (hidden @ out + out_offset)
        pull = (-sign * share / (1.0 + np.exp(np.clip(z, -50.0, 50.0)))).astype(np.float32)
        back = np.outer(pull, out) * (1.0 - hidden * hidden)
        ridge = 0.5 * RIDGE * float((inner * inner).sum()) + 0.05 * RIDGE * float((out * out).sum())
        slopes = [(flat.T @ back + RIDGE * inner).ravel(), back.sum(axis=0), hidden.T @ pull + 0.1 * RIDGE * out]
        return float((share * np.logaddexp(0.0, -z)).sum()) + ridge, np.concatenate([*slopes, [pull.sum()]]).astype(
            float
        )

    start = [rng.normal(0.0, 0.08, n * HIDDEN), np.zeros(HIDDEN), rng.normal(0.0, 0.5, HIDDEN), [0.0]]
    return parts(_descend(loss, np.concatenate(start)))


def train(examples: list[Example], photographs: list[Example]) -> Template:
    """Sieve from random places, then from what it lets through; network from what the second sieve lets through."""
    rng = np.random.default_rng(1)
    everything = examples + photographs
    balls = [place for one in examples for place in ball_places(one)]
    others = [place for one in everything for place in random_places(one, rng)]
    weights, offset = fit_sieve(balls, others)
    mined = [place for one in everything for place in peak_places(one, weights, offset, PEAKS)]
    weights, offset = fit_sieve(balls, others + mined)
    hard = [place for one in everything for place in peak_places(one, weights, offset, PEAKS)]
    print(f"{len(balls)} places on balls, {len(others)} others, {len(hard)} that the sieve lets through", flush=True)
    hidden, hidden_offset, out, out_offset = fit_network(balls, hard)
    return Template(
        sieve=weights,
        sieve_offset=offset,
        hidden=hidden,
        hidden_offset=hidden_offset,
        out=out,
        out_offset=float(out_offset),
    )


def recall(examples: list[Example], fitted: Template, sieve_count: int = 40) -> str:
    """By the network alone: how often the ball is the most likely place, and surer than all but k that are none."""
    right: list[float] = []
    wrong: list[float] = []
    for one in examples:
        odds = np.where(one.allowed, sieved(one.maps, fitted.sieve, fitted.sieve_offset), -np.inf).astype(np.float32)
        row, column = peaks(odds, sieve_count)
        if not len(row):
            continue
        likely = likeness(cells(one.maps, row, column), fitted)
        best = int(likely.argmax())
        there = away_px(one, row, column)[best] < OFF_BALL_PX
        (right if there else wrong).append(float(likely[best]))
    limits = np.sort(wrong)[::-1]
    counts = {k: int((np.array(right) > limits[k]).sum()) for k in (0, 1, 2, 5) if k < len(limits)}
    balls = sum(one.ball is not None for one in examples)
    return f"{balls} balls: best in {len(right)}, surer than all but k others: {counts}"


def traced_shots(folders: Iterable[Path]) -> list[Shot]:
    found = []
    for folder in folders:
        for path in sorted(folder.glob("ball-*.json")):
            for chat in (False, True):
                view, centre, _ = load(path, chat=chat)
                found.append(shot(view, centre))
    return [one for one in found if one is not None]


def drawn_shots(pictures: Iterable[BallPicture]) -> list[Shot]:
    found = (shot(picture.view(), picture.centre_px) for picture in pictures)
    return [one for one in found if one is not None]


def examples_of(drawn: list[Shot], traced: list[Shot]) -> list[Example]:
    rng = np.random.default_rng(5)
    examples = []
    for shots, times in ((drawn, CHANGED_DRAWN), (traced, CHANGED_TRACED)):
        examples += [plain(one) for one in shots]
        examples += [changed(one, rng) for one in shots for _ in range(times)]
    return examples


def written(fitted: Template) -> bytes:
    buffer = io.BytesIO()
    np.savez_compressed(
        buffer,
        sieve=fitted.sieve.astype(np.float16),
        sieve_offset=np.float32(fitted.sieve_offset),
        hidden=fitted.hidden.astype(np.float16),
        hidden_offset=fitted.hidden_offset.astype(np.float32),
        out=fitted.out.astype(np.float32),
        out_offset=np.float32(fitted.out_offset),
    )
    return buffer.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--drawn", type=int, nargs=2, default=(0, 640))
    parser.add_argument("--yard", type=int, nargs=2, default=(0, 0))
    parser.add_argument("--traced", type=Path, nargs="*", default=[])
    parser.add_argument("--photographs", type=Path, nargs="*", default=[])
    parser.add_argument("--judged", type=Path, nargs="*", default=[], help="traced folders that are not learnt from")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    rng = np.random.default_rng(2)
    photographs = [one for folder in options.photographs for one in photograph_examples(folder, rng)]
    drawn = drawn_shots(draw_case(seed) for seed in range(*options.drawn))
    drawn += drawn_shots(draw_yard(seed) for seed in range(*options.yard))
    fitted = train(examples_of(drawn, traced_shots(options.traced)), photographs)
    if options.judged:
        print(recall([plain(one) for one in traced_shots(options.judged)], fitted))
    if options.write:
        write_atomic(Path(ball_template.__file__).with_name("template.npz"), written(fitted))


if __name__ == "__main__":
    main()
