"""Fit the networks of `photomeasure.seen.centre.ball.odds` and show what they are worth.

Run by hand:  python -m tests.experiments.ball_evidence --fit 70000 70500 --fit 150000 150500 --yard 300000 300240 \\
                                                        --traced FOLDER --judge 160000 160500 [--write]

Learnt from are the candidates of drawn scenes (`ball_cases.draw_case`, `draw_yard`) and of path-traced tow bars
(`sample_images/make_scenes.py --balls`), which are fewer and count three times; none of them may have taught the networks
of the ball's looks, which are a part of the evidence. A candidate whose centre lies within a fifth of the radius is the
ball, every other one is none; how far off it is teaches what is to be claimed of its centre. Several networks from
different starts are fitted by a ridge logistic loss and averaged.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from calib.outcome.files import write_atomic
from photomeasure.seen.centre.ball import ball
from photomeasure.seen.centre.ball import odds as ball_odds
from photomeasure.seen.centre.ball.circle import ranked
from photomeasure.seen.centre.ball.fit import fit_outline
from photomeasure.seen.centre.ball.glance import Glance
from photomeasure.seen.centre.ball.neck import find_neck
from photomeasure.seen.centre.ball.odds import FAR, Odds, closer_looks, eligible, evidence, signs
from photomeasure.seen.centre.ball.search import SearchedPicture, search_region
from tests.experiments.ball_backgrounds import on_discs, on_photograph
from tests.experiments.ball_cases import draw_case, draw_yard
from tests.experiments.ball_scenes import BallPicture
from tests.experiments.ball_traced import load

Float = NDArray[np.float64]

NEAR_RADII, TRACED_COUNT, NONE_COUNT = 0.2, 3, 3
NETWORKS, HIDDEN, RIDGE, STEPS = 5, 6, 0.3, 600
TAILS, WIDER = (
    4.0,
    1.35,
)  # degrees of freedom of how far off centres are; what rigs that taught nothing asked for on top


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The evidence of each candidate that may be taken, and how far off the ball it is; bare: there is one."""

    evidence: tuple[dict[str, float], ...]
    off_radii: tuple[float, ...]
    bare: bool

    @property
    def right(self) -> tuple[bool, ...]:
        return tuple(off < NEAR_RADII for off in self.off_radii)


def drawn_picture(drawn: BallPicture) -> Picture:
    return looked_at(drawn.view(), drawn.centre_px)


def traced_pictures(folder: Path) -> Iterator[Picture]:
    for path in sorted(folder.glob("ball-*.json")):
        for chat in (False, True):
            view, centre, _ = load(path, chat=chat)
            yield looked_at(view, centre)


def pictures_without(count: int, traced: Sequence[Path], photographs: Path | None) -> Iterator[Picture]:
    """Discs, and photographs of other things, before the cameras of the traced tow bars."""
    scenes = sorted(path for folder in traced for path in folder.glob("ball-*.json"))
    others = [] if photographs is None else sorted(photographs.iterdir())
    for number in range(count if scenes else 0):
        rng = np.random.default_rng([number, 991])
        view, _, _ = load(scenes[int(rng.integers(len(scenes)))], chat=bool(rng.random() < 0.5))
        yield looked_at(on_discs(view, rng), None)
        if others:
            photograph = np.asarray(cv2.imread(str(others[number % len(others)]), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
            yield looked_at(on_photograph(view, photograph, rng), None)


def looked_at(view: SearchedPicture, centre_px: Float | None) -> Picture:
    items, off_radii = [], []
    region = search_region(view)
    if region is not None:
        glance = Glance(view, region)
        circles = [circle for circle in ranked(view, glance.spots()) if circle.support > ball.MIN_SUPPORT][
            : ball.FITTED
        ]
        pairs = [(circle, outline) for circle in circles if (outline := fit_outline(view, circle)) is not None]
        closer = closer_looks(glance, [outline for _, outline in pairs])
        for (circle, outline), close in zip(pairs, closer, strict=True):
            found = evidence(circle, outline, find_neck(view, outline), close)
            if not eligible(found):
                continue
            items.append(found)
            off = np.inf if centre_px is None else np.linalg.norm(outline.sight.centre_px - centre_px)
            off_radii.append(float(off / outline.sight.radius_px))
    return Picture(evidence=tuple(items), off_radii=tuple(off_radii), bare=centre_px is not None)


def fitted(pictures: Sequence[Picture]) -> Odds:
    names = tuple(next(p.evidence[0] for p in pictures if p.evidence))
    rows = np.array([[items[name] for name in names] for p in pictures for items in p.evidence])
    sign = np.array([1.0 if right else -1.0 for p in pictures for right in p.right])
    middle, spread = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    scaled = np.clip((rows - middle) / spread, -FAR, FAR)
    networks = [_network(scaled, sign, seed) for seed in range(NETWORKS)]
    hidden, hidden_offset, out, out_offset = (np.array(part) for part in zip(*networks, strict=True))
    return Odds(
        names=names,
        middle=middle,
        spread=spread,
        hidden=hidden,
        hidden_offset=hidden_offset,
        out=out,
        out_offset=out_offset,
        doubt=fitted_doubt(pictures),
    )


def fitted_doubt(pictures: Sequence[Picture]) -> Float:
    """Weights of `signs` under which the right candidates' centres are off as Student's t on each axis of that scale."""
    near = [
        (signs(e), off)
        for p in pictures
        for e, off in zip(p.evidence, p.off_radii, strict=True)
        if off < 1.75 * NEAR_RADII
    ]
    rows, off = np.array([row for row, _ in near]), np.array([each for _, each in near])

    def loss(w: Float) -> tuple[float, Float]:
        scale = rows @ w
        share = off**2 / (TAILS * np.exp(2.0 * scale))
        value = (2.0 * scale + 0.5 * (TAILS + 2.0) * np.log1p(share)).sum() + (w[1:] ** 2).sum()
        slope = rows.T @ (2.0 - (TAILS + 2.0) * share / (1.0 + share))
        return float(value), slope + 2.0 * np.concatenate([[0.0], w[1:]])

    start = np.concatenate([[np.log(0.01)], np.zeros(rows.shape[1] - 1)])
    weights = np.asarray(minimize(loss, start, jac=True).x)
    weights[0] += np.log(WIDER)
    return weights


def _network(scaled: Float, sign: Float, seed: int) -> tuple[Float, Float, Float, float]:
    n = scaled.shape[1]

    def parts(w: Float) -> tuple[Float, Float, Float, float]:
        return (
            w[: n * HIDDEN].reshape(n, HIDDEN),
            w[n * HIDDEN : (n + 1) * HIDDEN],
            w[(n + 1) * HIDDEN : -1],
            float(w[-1]),
        )

    def loss(w: Float) -> tuple[float, Float]:
        inner, inner_offset, out, out_offset = parts(w)
        hidden = np.tanh(scaled @ inner + inner_offset)
        z = sign * (hidden @ out + out_offset)
        pull = -sign / (1.0 + np.exp(np.clip(z, -500.0, 500.0)))
        back = np.outer(pull, out) * (1.0 - hidden * hidden)
        value = float(np.logaddexp(0.0, -z).sum() + 0.5 * RIDGE * ((inner * inner).sum() + (out * out).sum()))
        slopes = [(scaled.T @ back + RIDGE * inner).ravel(), back.sum(axis=0), hidden.T @ pull + RIDGE * out]
        return value, np.concatenate([*slopes, [pull.sum()]])

    rng = np.random.default_rng(seed)
    start = [rng.normal(0.0, 0.4, n * HIDDEN), np.zeros(HIDDEN), rng.normal(0.0, 0.5, HIDDEN), [0.0]]
    return parts(minimize(loss, np.concatenate(start), jac=True, options={"maxiter": STEPS}).x)


def table(pictures: Sequence[Picture], by: Odds) -> str:
    """Balls taken and things mistaken for one, by the probability from which a candidate is taken."""
    taken = []
    for picture in pictures:
        if picture.evidence:
            logits = by.log_odds(np.array([[items[name] for name in by.names] for items in picture.evidence]))
            each = np.exp(np.clip(logits, -50.0, 50.0))
            best = int(np.argmax(each))
            taken.append((float(each[best] / (1.0 + each.sum())), picture.right[best]))
    lines = [f"{sum(p.bare for p in pictures)} bare balls in {len(pictures)} pictures"]
    for limit in (0.5, 0.8, 0.9, 0.94, 0.95, 0.97, 0.98):
        right = sum(p >= limit and good for p, good in taken)
        wrong = sum(p >= limit and not good for p, good in taken)
        lines.append(f"from {limit}: {right} right, {wrong} wrong or off by more than a twelfth of the radius")
    return "\n".join(lines)


def written(by: Odds) -> bytes:
    buffer = io.BytesIO()
    arrays = {
        name: getattr(by, name).astype(np.float32)
        for name in ("middle", "spread", "hidden", "hidden_offset", "out", "doubt")
    }
    np.savez_compressed(buffer, names=np.array(by.names), out_offset=by.out_offset.astype(np.float32), **arrays)
    return buffer.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--fit", type=int, nargs=2, action="append", required=True)
    parser.add_argument("--yard", type=int, nargs=2, default=(0, 0))
    parser.add_argument("--traced", type=Path, nargs="*", default=[])
    parser.add_argument(
        "--none", type=int, default=0, help="so many drawn discs and as many photographs without a ball"
    )
    parser.add_argument("--photographs", type=Path)
    parser.add_argument("--judge", type=int, nargs=2)
    parser.add_argument("--judge-traced", type=Path)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    learnt = [drawn_picture(draw_case(seed)) for first, last in options.fit for seed in range(first, last)]
    learnt += [drawn_picture(draw_yard(seed)) for seed in range(*options.yard)]
    for folder in options.traced:
        learnt += TRACED_COUNT * list(traced_pictures(folder))
    learnt += NONE_COUNT * list(pictures_without(options.none, options.traced, options.photographs))
    by = fitted(learnt)
    if options.judge:
        print(table([drawn_picture(draw_case(seed)) for seed in range(*options.judge)], by))
    if options.judge_traced:
        print(table(list(traced_pictures(options.judge_traced)), by))
    if options.write:
        write_atomic(Path(ball_odds.__file__).with_name("odds.npz"), written(by))


if __name__ == "__main__":
    main()
