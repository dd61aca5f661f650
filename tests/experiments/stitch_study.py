"""Can a picture that was put together from two with their edges blended be told from a whole one? Four looks, tried by hand.

    python -m tests.experiments.stitch_study whole FOLDER... [--workers 4] [--keep FILE]       pictures as they are: what each look says
    python -m tests.experiments.stitch_study stitched FOLDER... [--each 24]                    put together from two, then the same
    python -m tests.experiments.stitch_study table FILE...                                     at the limit that no whole one reaches

Two frames of one view, each with its own noise and its own JPEG, the second turned, grown and moved by what a hand does and a
stitching program does not put right, blended over a width along a row or a column, and saved again. The noise has to be each
frame's own, or it would tell by itself: so pictures are shrunk by --ratio before, which averages what they bring along. Looks:

echo   within the blended band everything is there twice: the picture correlates with itself at the misfit, there and nowhere
       else. Differences along the seam, over their own scale; parts of the length weigh alike, the extremes left out.
calm   two frames' noise averages: fine detail is weaker along the band than on both sides of it.
step   fine detail changes along a line and stays changed: the one side was resampled, the other not.
grid   blocks of an earlier JPEG lie at another place on one side than on the other.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Array = NDArray[Any]
STRIP, HOP, LONGEST, ASIDE, PART = 24, 8, 26, 2, 128  # px of the shrunk picture
LEAST_LAG = 3
LONG_SIDE_PX = 1800
OFFSETS_PX, BLENDS_PX = (2.5, 5.0, 10.0, 20.0), (4, 20, 50)  # of the shrunk picture: twice as much of 12 MP
NOISE = 2.0
Told = tuple[float, int]  # score, and the line


def shrunk(picture: Picture, ratio: float) -> Picture:
    return np.asarray(cv2.resize(picture, None, fx=ratio, fy=ratio, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def saved(picture: Picture, quality: int) -> Picture:
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def two_frames(
    clean: Picture, move: tuple[float, float], at: float, rng: np.random.Generator
) -> tuple[Picture, Picture]:
    height, width = clean.shape
    matrix = np.vstack(
        [cv2.getRotationMatrix2D((width / 2, at), rng.normal(0, 0.05), 1 + rng.normal(0, 0.001)), [0, 0, 1]]
    )
    matrix[:2, 2] += np.array(move) + rng.uniform(-0.3, 0.3, 2)
    other = cv2.warpPerspective(clean, matrix, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    one, two = (np.clip(p + rng.normal(0, NOISE, p.shape), 0, 255).astype(np.uint8) for p in (clean, other))
    return saved(one, 93), saved(two, 93)


def put_together(clean: Picture, offset: float, blend: int, at: int, rng: np.random.Generator) -> Picture:
    """Along the row `at`: what is below lies `offset` (2,) further."""
    one, two = two_frames(clean, (float(offset[0]), float(offset[1])), at, rng)  # type: ignore[index]
    share = np.clip((np.arange(len(clean)) - at) / blend + 0.5, 0.0, 1.0)[:, None]
    return saved(np.rint((1 - share) * one + share * two).astype(np.uint8), 90)


def _standard(value: Array) -> Array:
    """Over the usual scatter about the middle."""
    off = value - np.median(value, axis=0)
    return np.asarray(off / (1.4826 * np.median(np.abs(off), axis=0) + 1e-3))


def _prepared(picture: Picture) -> Array:
    grey = picture.astype(np.float32)
    along = grey[:, 1:] - grey[:, :-1]
    usual = cv2.boxFilter(np.abs(along), -1, (33, 9)) + 1.0
    return np.asarray(np.clip(along / usual, -1.5, 1.5))


def _best(tops: Array, lags: Array, floor: float) -> Told:
    """lags (strips, parts, lag, aside): how much the plainest stands out among strips, times over the best of the others."""
    parts = lags.shape[1]
    middle = np.sort(lags, axis=1)[:, parts // 5 : parts - parts // 5].mean(axis=1)[:, LEAST_LAG:]
    off = middle - np.median(middle, axis=0)
    z = off / (1.4826 * np.median(np.abs(off), axis=0) + floor)
    z = z / np.maximum(1.4826 * np.median(np.abs(z), axis=(1, 2), keepdims=True), 1.0)
    strip = int(np.unravel_index(int(np.argmax(z)), z.shape)[0])
    others = np.abs(np.arange(len(z)) - strip) * HOP > 2 * (STRIP + LONGEST)
    rival = float(z[others].max()) if others.any() else 1.0
    return float(z[strip].max() / max(rival, 2.5)), int(tops[strip])


def echo_across(picture: Picture) -> Told:
    """A misfit across the seam, which runs along a row: a row is like the one `lag` below it."""
    along = _prepared(picture)
    height, width = along.shape
    parts = (width - 2 * ASIDE) // PART
    blocks = along[:, ASIDE : ASIDE + parts * PART].reshape(height, parts, PART)
    own, tops = (blocks**2).sum(axis=2), np.arange(0, height - STRIP - LONGEST, HOP)
    lags = np.empty((len(tops), parts, LONGEST, 2 * ASIDE + 1), np.float32)
    for number, aside in enumerate(range(-ASIDE, ASIDE + 1)):
        other = along[:, ASIDE + aside : ASIDE + aside + parts * PART].reshape(height, parts, PART)
        for strip, top in enumerate(tops):
            product = blocks[top : top + STRIP].transpose(1, 0, 2) @ other[top : top + STRIP + LONGEST].transpose(
                1, 2, 0
            )
            s0, s1, s2 = product.strides
            diagonals = np.lib.stride_tricks.as_strided(product, (parts, STRIP, LONGEST), (s0, s1 + s2, s2))
            lags[strip, :, :, number] = diagonals.sum(axis=1) / (own[top : top + STRIP].sum(axis=0)[:, None] + 1)
    return _best(tops, lags, 0.004)


def echo_along(picture: Picture) -> Told:
    """A misfit along the seam, which runs along a row: a pixel is like the one `lag` to its right."""
    along = _prepared(picture)
    height, width = along.shape
    parts = (width - LONGEST) // PART
    tops = np.arange(ASIDE, height - STRIP - ASIDE, HOP)
    total = _running((along[:, : parts * PART].reshape(height, parts, PART) ** 2).sum(axis=2))
    norm = total[tops + STRIP] - total[tops] + 1
    lags = np.empty((len(tops), parts, LONGEST, 2 * ASIDE + 1), np.float32)
    for number, aside in enumerate(range(-ASIDE, ASIDE + 1)):
        for lag in range(LONGEST):
            one = along[ASIDE : height - ASIDE, : parts * PART]
            two = along[ASIDE + aside : height - ASIDE + aside, lag : lag + parts * PART]
            total = _running((one * two).reshape(len(one), parts, PART).sum(axis=2))
            lags[:, :, lag, number] = (total[tops - ASIDE + STRIP] - total[tops - ASIDE]) / norm
    return _best(tops, lags, 0.004)


def _running(rows: Array) -> Array:
    return np.concatenate([np.zeros((1, *rows.shape[1:]), np.float32), np.cumsum(rows, axis=0)])


def _fine(picture: Picture) -> Array:
    """(h, parts) log2 of how much fine detail there is in each row of each part: by the median, so edges do not count."""
    grey = picture.astype(np.float32)
    fine = np.abs(grey[:, 1:-1] * 2 - grey[:, 2:] - grey[:, :-2])
    parts = fine.shape[1] // PART
    return np.asarray(np.log2(fine[:, : parts * PART].reshape(len(fine), parts, PART).mean(axis=2) + 0.25))


def calm(picture: Picture) -> Told:
    total = _running(_fine(picture))
    tops = np.arange(40, len(picture) - 60, 4)
    inside = (total[tops + 16] - total[tops]) / 16
    beside = 0.5 * ((total[tops - 8] - total[tops - 32]) / 24 + (total[tops + 48] - total[tops + 24]) / 24)
    score = -_standard(np.median(inside - beside, axis=1))
    return float(score.max()), int(tops[np.argmax(score)])


def step(picture: Picture) -> Told:
    total = _running(_fine(picture))
    tops = np.arange(72, len(picture) - 72, 4)
    change = (total[tops + 64] - total[tops + 8]) / 56 - (total[tops - 8] - total[tops - 64]) / 56
    score = np.abs(_standard(np.median(change, axis=1)))
    return float(score.max()), int(tops[np.argmax(score)])


def grid(picture: Picture) -> Told:
    """By the columns' and rows' blocks in strips of 64 rows: another phase than 0 that is there on one side only."""
    grey = picture.astype(np.float32)
    height = len(grey) // 64 * 64
    worst: Told = (0.0, 0)
    broken = np.abs(grey[:, 1:-2] - 3 * grey[:, 2:-1] + 3 * grey[:, 2:-1] - grey[:, 3:]) - np.abs(
        grey[:, 1:-2] - grey[:, 2:-1]
    )
    width = broken.shape[1] // 8 * 8
    by_phase = broken[:height, :width].reshape(height // 64, 64, width // 8, 8).mean(axis=(1, 2))
    by_phase = by_phase - by_phase.mean(axis=1, keepdims=True)
    for split in range(2, len(by_phase) - 2):
        above, below = by_phase[:split], by_phase[split:]
        apart = (above.mean(axis=0) - below.mean(axis=0)) / np.sqrt(
            above.var(axis=0) / split + below.var(axis=0) / len(below) + 1e-4
        )
        score = float(np.abs(apart).max())
        worst = max(worst, (score, split * 64))
    return worst


LOOKS: dict[str, Callable[[Picture], Told]] = {
    "echo across": echo_across, "echo along": echo_along, "calm": calm, "step": step, "grid": grid,
}  # fmt: skip


def _looked(picture: Picture, along: str) -> dict[str, Told]:
    upright = picture if along == "row" else np.ascontiguousarray(picture.T)
    return {name: look(upright) for name, look in LOOKS.items()}


def whole(path: Path, each: int, ratio: float) -> Iterator[dict[str, Any]]:
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None or min(picture.shape) < 400:
        return
    small = min(1.0, LONG_SIDE_PX / max(picture.shape))
    grey = np.asarray(picture, dtype=np.uint8)
    forms = {"as it is": grey if small == 1.0 else shrunk(grey, small)}
    forms["passed on"] = saved(shrunk(forms["as it is"], 0.8), 70)
    for form, shown in forms.items():
        for along in ("row", "column"):
            yield {
                "picture": f"{path.parent.name}/{path.name}",
                "form": form,
                "along": along,
                "told": _looked(shown, along),
            }


def stitched(path: Path, each: int, ratio: float) -> Iterator[dict[str, Any]]:
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None or min(picture.shape) < 400:
        return
    rng = np.random.default_rng(sum(path.name.encode()))
    clean = shrunk(np.asarray(picture, dtype=np.uint8), min(ratio, LONG_SIDE_PX / max(picture.shape)))
    cases = [(along, which, sign * off, blend)
             for along in ("row", "column") for which in ("across", "along")
             for off in OFFSETS_PX for sign in (1, -1) for blend in BLENDS_PX]  # fmt: skip
    for number in rng.permutation(len(cases))[:each]:
        along, which, offset, blend = cases[number]
        upright = clean if along == "row" else np.ascontiguousarray(clean.T)
        at = int(rng.uniform(0.3, 0.7) * len(upright))
        moved = (0.0, offset) if which == "across" else (offset, 0.0)
        made = put_together(upright, np.array(moved), blend, at, rng)  # type: ignore[arg-type]
        yield {
            "picture": path.name, "along": along, "misfit": which, "offset": offset, "blend": blend, "at": at,
            "told": {name: look(made) for name, look in LOOKS.items()},
        }  # fmt: skip


def _one(job: tuple[str, str, int, float]) -> list[dict[str, Any]]:
    cv2.setNumThreads(1)
    return list({"whole": whole, "stitched": stitched}[job[0]](Path(job[1]), job[2], job[3]))


def table(rows: list[dict[str, Any]]) -> None:
    wholes = [row for row in rows if "form" in row]
    made = [row for row in rows if "form" not in row]
    print(f"{len({row['picture'] for row in wholes})} whole pictures, {len(wholes)} looks; {len(made)} put together")
    for name in LOOKS:
        scores = sorted(
            ((row["told"][name][0], row["picture"], row["form"], row["along"]) for row in wholes), reverse=True
        )
        limit = scores[0][0] if scores else 0.0
        print(f"\n{name}: whole ones reach {', '.join(f'{one[0]:.2f}' for one in scores[:6])} ({scores[:1]})")
        for which in ("across", "along"):
            for blend in BLENDS_PX:
                cells = []
                for offset in OFFSETS_PX:
                    own = [row["told"][name][0] > limit for row in made
                           if row["misfit"] == which and row["blend"] == blend and abs(row["offset"]) == offset]  # fmt: skip
                    cells.append(f"{sum(own)}/{len(own)}")
                print(f"  misfit {which} the seam, blend {blend}: {', '.join(cells)} at {OFFSETS_PX} px")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("what", choices=("whole", "stitched", "table"))
    parser.add_argument("paths", type=Path, nargs="+")
    parser.add_argument("--each", type=int, default=24)
    parser.add_argument("--ratio", type=float, default=0.6)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    if options.what == "table":
        table([json.loads(line) for path in options.paths for line in path.read_text().splitlines()])
        return
    pictures = [
        p
        for folder in options.paths
        for p in sorted(folder.rglob("*"))
        if p.suffix.lower() in (".jpg", ".png", ".jpeg")
    ]
    with get_context("spawn").Pool(options.workers) as pool:
        for rows in pool.imap_unordered(_one, [(options.what, str(p), options.each, options.ratio) for p in pictures]):
            with (options.keep or Path("stitch.jsonl")).open("a") as stream:
                stream.writelines(json.dumps(row) + "\n" for row in rows)


if __name__ == "__main__":
    main()
