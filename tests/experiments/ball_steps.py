"""How far off a ball's centre is after each step of its search, for how many of each are worth their time.

    python -m tests.experiments.ball_steps FOLDER ... [--scale 0.5]

FOLDER: path-traced rigs with truth (`ball_views`), at a part of their pixels through JPEG once more where --scale says so. Told in
hundredths of a radius (a quarter of a millimetre): close looks from beside the truth, as far as the coarse network's places are,
by how far aside the first one sees the centre; rounds of the outline's fit; looks at the rim, by how far the first one moves it.
"""

from __future__ import annotations

import argparse
from itertools import pairwise
from pathlib import Path
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball import fit, rim
from photomeasure.seen.centre.ball.circle import find_circle
from photomeasure.seen.centre.ball.glance import ERROR_RADII, Glance
from photomeasure.seen.centre.ball.search import Spot, search_region
from tests.experiments.ball_views import Seen, seen_in

Array = NDArray[np.float64]
START_RADII = 0.15
ASIDE, MOVED = (0.0, 0.1, 0.2, 0.3, 9.0), (0.0, 0.005, 0.01, 0.015, 0.02, 0.03, 9.0)


def looks(seen: Seen, glance: Glance, rng: np.random.Generator) -> tuple[float, list[float]]:
    """How far aside a first look sees the centre, and how far off it is at the start, after it, and after a second."""
    radius = float(glance.looked_at([seen.centre_px])[2][0])
    px = seen.centre_px + START_RADII * radius * rng.normal(size=2)
    off, first = [float(np.linalg.norm(px - seen.centre_px)) / radius], 0.0
    for look in range(2):
        aside = glance.looked_at([px])[1][0]
        px = px + np.clip(aside, -1.0, 1.0) * radius
        off.append(float(np.linalg.norm(px - seen.centre_px)) / radius)
        first = first if look else float(np.hypot(*aside))
    return first, off


def rounds(seen: Seen, rng: np.random.Generator, radius: float) -> list[float]:
    """How far off the outline's middle is after one round, two, and so on."""
    px = seen.centre_px + 0.1 * radius * rng.normal(size=2)
    circle = find_circle(seen.view, Spot(px=px, likeness=0.0, close=0.0, error_px=ERROR_RADII * radius))
    off = []
    for number in range(1, 6):
        with patch.object(fit, "ROUNDS", number):
            outline = None if circle is None else fit.fit_outline(seen.view, circle)
        off.append(np.nan if outline is None else _off(seen, outline.sight.centre_px, outline.sight.radius_px))
    return off


def rim_looks(seen: Seen, start: fit.Outline) -> tuple[float, list[float]]:
    off, first = [_off(seen, start.sight.centre_px, start.sight.radius_px)], np.nan
    for number in range(1, 4):
        with patch.object(rim, "LOOKS", number), patch.object(rim, "SETTLED_RADII", 0.0):
            found = rim.see_rim(seen.view, start.sight)
        off.append(np.nan if found is None else _off(seen, found[0].centre_px, found[0].radius_px))
        if number == 1 and found is not None:
            first = float(np.linalg.norm(found[0].centre_px - start.sight.centre_px)) / start.sight.radius_px
    return first, off


def _off(seen: Seen, px: Array, radius: float) -> float:
    return float(np.linalg.norm(px - seen.centre_px)) / radius


def told(name: str, rows: list[list[float]]) -> None:
    off = 100.0 * np.array(rows)
    off = off[np.isfinite(off).all(axis=1) & (off[:, -1] < 20.0)]
    if len(off):
        rms, middle = np.sqrt(np.square(off).mean(axis=0)), np.median(off, axis=0)
        print(f"{name}: {len(off)}, rms {np.round(rms, 2).tolist()}, median {np.round(middle, 2).tolist()}")


def told_by(name: str, first: list[float], rows: list[list[float]], edges: tuple[float, ...]) -> None:
    for low, high in pairwise(edges):
        told(f"{name} {low:g} to {high:g}", [row for at, row in zip(first, rows, strict=True) if low <= at < high])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--scale", type=float, default=1.0)
    options = parser.parse_args()
    rng = np.random.default_rng(5)
    looked, fitted, rims = [], [], []
    for whole in seen_in(options.folders):
        seen = whole if options.scale == 1.0 else whole.shrunk(options.scale)
        region = search_region(seen.view)
        if not seen.bare or region is None:
            continue
        glance = Glance(seen.view, region)
        looked.append(looks(seen, glance, rng))
        radius = float(glance.looked_at([seen.centre_px])[2][0])
        fitted.append(rounds(seen, rng, radius))
        circle = find_circle(seen.view, Spot(px=seen.centre_px, likeness=0.0, close=0.0, error_px=ERROR_RADII * radius))
        start = None if circle is None else fit.fit_outline(seen.view, circle)
        if start is not None:
            rims.append(rim_looks(seen, start))
    told_by("first close look sees the centre aside by", [a for a, _ in looked], [b for _, b in looked], ASIDE)
    told("rounds of the outline's fit", fitted)
    told_by("first look at the rim moves it by", [a for a, _ in rims], [b for _, b in rims], MOVED)


if __name__ == "__main__":
    main()
