"""Fit the weights of `photomeasure.centre.ball` and show what they are worth.

Run by hand:  python -m tests.experiments.ball_evidence --fit 70000 70500 --fit 150000 150500 --yard 300000 300240 \
                                                        --traced FOLDER --judge 160000 160500

A ridge logistic regression on the evidence of all candidates of drawn scenes (`ball_study.draw_case`, `draw_yard`) and of
path-traced tow bars (`sample_images/make_scenes.py --balls`), which are fewer and count three times; none of them may have
taught the template, whose likeness is a part of the evidence. A candidate whose centre lies within a twelfth of the radius
is the ball, every other one is none.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from photomeasure.centre import ball
from photomeasure.centre.ball import arc_deg, centre_u_px, evidence
from photomeasure.centre.ball_circle import ranked
from photomeasure.centre.ball_fit import fit_outline
from photomeasure.centre.ball_neck import find_neck
from photomeasure.centre.ball_search import View, find_spots, search_region
from tests.experiments.ball_scenes import BallPicture
from tests.experiments.ball_study import draw_case, draw_yard
from tests.experiments.ball_traced import load

NEAR_RADII, TRACED_COUNT, RIDGE = 0.08, 3, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The evidence of each candidate that may be taken, and which of them is the ball; bare: there is one."""

    evidence: tuple[dict[str, float], ...]
    right: tuple[bool, ...]
    bare: bool


def drawn_picture(drawn: BallPicture) -> Picture:
    return looked_at(drawn.view(), drawn.centre_px)


def traced_pictures(folder: Path) -> Iterator[Picture]:
    for path in sorted(folder.glob("ball-*.json")):
        for chat in (False, True):
            view, centre, _ = load(path, chat=chat)
            yield looked_at(view, centre)


def looked_at(view: View, centre_px: NDArray[np.float64] | None) -> Picture:
    region = search_region(view)
    items, right = [], []
    for circle in [] if region is None else ranked(view, find_spots(view, region))[: ball.FITTED]:
        outline = fit_outline(view, circle) if circle.support > ball.MIN_SUPPORT else None
        if outline is None or arc_deg(outline) < ball.MIN_ARC_DEG or centre_u_px(outline) > ball.MAX_CENTRE_U_PX:
            continue
        found = evidence(circle, outline, find_neck(view, outline))
        if found["support"] < ball.MIN_BEYOND_CHANCE or found["size"] > ball.MAX_SIZE**2:
            continue
        items.append(found)
        off = np.inf if centre_px is None else np.linalg.norm(outline.sight.centre_px - centre_px)
        right.append(bool(off < NEAR_RADII * outline.sight.radius_px))
    return Picture(evidence=tuple(items), right=tuple(right), bare=centre_px is not None)


def fitted(pictures: list[Picture]) -> tuple[dict[str, float], float]:
    """Weights by name, and the offset."""
    names = list(next(p.evidence[0] for p in pictures if p.evidence))
    rows = np.array([[items[name] for name in names] for p in pictures for items in p.evidence])
    sign = np.array([1.0 if right else -1.0 for p in pictures for right in p.right])
    middle, spread = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    scaled = (rows - middle) / spread

    def loss(w: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        z = sign * (scaled @ w[:-1] + w[-1])
        pull = -sign / (1.0 + np.exp(np.clip(z, -500.0, 500.0)))
        value = float(np.logaddexp(0.0, -z).sum() + 0.5 * RIDGE * w[:-1] @ w[:-1])
        return value, np.concatenate([scaled.T @ pull + RIDGE * w[:-1], [pull.sum()]])

    w = minimize(loss, np.zeros(len(names) + 1), jac=True).x
    weights = w[:-1] / spread
    return dict(zip(names, map(float, weights), strict=True)), float(w[-1] - weights @ middle)


def table(pictures: list[Picture], weights: dict[str, float], offset: float) -> str:
    """Balls taken and things mistaken for one, by the probability from which a candidate is taken."""
    taken = []
    for picture in pictures:
        logits = [offset + sum(weights[name] * value for name, value in items.items()) for items in picture.evidence]
        if logits:
            odds = np.exp(np.clip(logits, -50.0, 50.0))
            best = int(np.argmax(odds))
            taken.append((float(odds[best] / (1.0 + odds.sum())), picture.right[best]))
    lines = [f"{sum(p.bare for p in pictures)} bare balls in {len(pictures)} pictures"]
    for limit in (0.5, 0.8, 0.9, 0.92, 0.95, 0.98):
        right = sum(p >= limit and good for p, good in taken)
        wrong = sum(p >= limit and not good for p, good in taken)
        lines.append(f"from {limit}: {right} right, {wrong} wrong")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--fit", type=int, nargs=2, action="append", required=True)
    parser.add_argument("--yard", type=int, nargs=2, default=(0, 0))
    parser.add_argument("--traced", type=Path, nargs="*", default=[])
    parser.add_argument("--judge", type=int, nargs=2)
    parser.add_argument("--judge-traced", type=Path)
    options = parser.parse_args()
    learnt = [drawn_picture(draw_case(seed)) for first, last in options.fit for seed in range(first, last)]
    learnt += [drawn_picture(draw_yard(seed)) for seed in range(*options.yard)]
    for folder in options.traced:
        learnt += TRACED_COUNT * list(traced_pictures(folder))
    weights, offset = fitted(learnt)
    print({name: round(value, 2) for name, value in weights.items()}, round(offset, 2))
    if options.judge:
        print(table([drawn_picture(draw_case(seed)) for seed in range(*options.judge)], weights, offset))
    if options.judge_traced:
        print(table(list(traced_pictures(options.judge_traced)), weights, offset))


if __name__ == "__main__":
    main()
