"""Fit what tells from the coarse network's early layers where it is worth being asked to the end, and what that loses.

Run by hand:  python -m tests.experiments.ball_sieve FOLDER ... [--drawn 400000 400055] [--judge FOLDER ...] [--write]

FOLDER: path-traced rigs with truth (`ball_views`); --drawn: seeds of drawn scenes besides. Fitted by least squares to the whole
network's answers, the more weight the nearer to a picture's best. Fitted to every second picture it is judged on the others, and
on the folders of --judge, which teach nothing: how often the best place was not among those that were asked, and rivals of it.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.outcome.files import write_atomic
from photomeasure.seen.centre.ball import sieve
from photomeasure.seen.centre.ball.glance import MAX_BEHIND, PEAKS, allowed_answers, peaks
from photomeasure.seen.centre.ball.nets import COARSE_PX, early_coarse, late_coarse
from photomeasure.seen.centre.ball.search import SearchedPicture, search_region, turned
from photomeasure.seen.centre.ball.sieve import CLEAR, by_cell, hinted, windows
from tests.experiments.ball_cases import draw_case
from tests.experiments.ball_views import seen_in

NEAR, RIDGE = 10.0, 1e-4  # how far behind the best a place counts a third; of the fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """early (h, w, C): what the early layers say of a picture; odds (2 h, 2 w): the whole network's, -inf where no centre can be."""

    early: NDArray[np.float32]
    odds: NDArray[np.float32]


def looked_at(view: SearchedPicture) -> Looked | None:
    region = search_region(view)
    small = None if region is None else turned(view, region, COARSE_PX)
    if small is None:
        return None
    whole = small.part()
    early = early_coarse(whole.picture, whole.ignored)
    odds = late_coarse(early[None])[0]
    odds[~allowed_answers(small.allowed() & ~whole.ignored, odds.shape)] = -np.inf
    return Looked(early=early, odds=odds)


def fitted(some: Sequence[Looked]) -> NDArray[np.float32]:
    """(C,) what each of the early layers' answers counts."""
    size = some[0].early.shape[-1] + 1
    normal, right = np.zeros((size, size)), np.zeros(size)
    for one in some:
        best = by_cell(one.odds)
        there = np.isfinite(best)
        x = np.column_stack([one.early[there], np.ones(there.sum())]).astype(np.float64)
        y = best[there].astype(np.float64)
        weighted = x * (np.exp((y - y.max()) / NEAR) / len(y))[:, None]
        normal, right = normal + weighted.T @ x, right + weighted.T @ y
    return np.asarray(np.linalg.solve(normal + RIDGE * np.eye(size), right)[:-1], dtype=np.float32)


def lost(some: Sequence[Looked], weights: NDArray[np.float32]) -> str:
    unclear, best_lost, asked, rivals = 0, 0, [], []
    for one in some:
        hint = hinted(one.early, weights)
        hint[~np.isfinite(by_cell(one.odds))] = -np.inf
        those = windows(hint)
        covered = np.zeros(one.odds.shape, dtype=np.bool_)
        for window in those:
            covered[window.answers] = True
        best = one.odds[covered].max()
        asked.append(len(those))
        unclear += best < CLEAR
        if best >= CLEAR:
            best_lost += best < one.odds.max()
            row, column = peaks(one.odds, PEAKS)
            behind = best - one.odds[row, column]
            rivals += [
                gap for gap, had in zip(behind, covered[row, column], strict=True) if not had and gap < MAX_BEHIND
            ]
    return (
        f"{len(some)} pictures, {np.mean(asked):.1f} windows; unclear, so asked everywhere: {unclear}; of the others best lost: {best_lost}, "
        f"rivals lost: {len(rivals)}" + (f", the nearest {min(rivals):.1f} behind" if rivals else "")
    )


def _all(folders: Sequence[Path], drawn: range) -> Iterator[Looked]:
    views = [seen.view for seen in seen_in(folders)]
    for view in (*views, *(draw_case(seed).view() for seed in drawn)):
        if (one := looked_at(view)) is not None:
            yield one


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--drawn", type=int, nargs=2, default=(0, 0))
    parser.add_argument("--judge", type=Path, nargs="*", default=())
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    taught = list(_all(options.folders, range(*options.drawn)))
    for first in (0, 1):
        print("fitted to every second one, the others:", lost(taught[1 - first :: 2], fitted(taught[first::2])))
    weights = fitted(taught)
    print("fitted to all, themselves:", lost(taught, weights))
    if options.judge:
        print("fitted to all, what taught nothing:", lost(list(_all(options.judge, range(0))), weights))
    if options.write:
        file = io.BytesIO()
        np.savez(file, weights=weights)
        write_atomic(Path(sieve.__file__).with_name("sieve.npz"), file.getvalue())


if __name__ == "__main__":
    main()
