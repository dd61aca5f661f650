"""Pictures without a ball, in the camera of a picture whose sheet is solved: photographs of other things, and drawn discs.

    python -m tests.experiments.ball_backgrounds FOLDER ... [--tiles 300 430 700 1100] [--share 0 1]

Every photograph of the folders is cut into tiles that do not overlap (heights in its own pixels; one after the other, each height
again from the whole photograph), each is laid behind the sheets of a drawn picture where a ball would be looked for, and the ball
is looked for: what is taken for one is wrong, and so is what a person would be asked about.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.ball import RIVAL, SURE, SURE_BARE, decide, find_candidates
from photomeasure.seen.centre.ball.search import SearchedPicture, radius_map, search_region
from tests.experiments.ball_cases import draw_case

Grey = NDArray[np.uint8]


def on_photograph(view: SearchedPicture, photograph: Grey, rng: np.random.Generator) -> SearchedPicture:
    """The view's sheets before a part of a photograph (H, W), scaled by chance, mirrored or not, with some noise."""
    rows, columns = view.grey.shape
    scale = max(rows / photograph.shape[0], columns / photograph.shape[1]) * float(rng.uniform(1.0, 2.6))
    size = max(columns, round(photograph.shape[1] * scale)), max(rows, round(photograph.shape[0] * scale))
    whole = cv2.resize(photograph, size, interpolation=cv2.INTER_CUBIC if scale > 1.0 else cv2.INTER_AREA)
    y, x = (int(rng.integers(0, n - m + 1)) for n, m in zip(whole.shape, (rows, columns), strict=True))
    part = whole[y : y + rows, x : x + columns].astype(np.float64)
    part = part[:, ::-1] if rng.random() < 0.5 else part
    return _behind_the_sheets(view, part + rng.normal(0, rng.uniform(0, 3), part.shape))


def on_discs(view: SearchedPicture, rng: np.random.Generator) -> SearchedPicture:
    """The view's sheets before discs of about a ball's size: in a grid, stacked, on plates, one in another, shaded alike."""
    rows, columns = view.grey.shape
    region = search_region(view)
    assert region is not None
    middle = region.hull_px.mean(axis=0)
    usual = float(radius_map(view, middle[0], middle[1]))
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    picture = rng.uniform(10, 230) + rng.normal(0, 20) * (2 * x / columns - 1) + rng.normal(0, 20) * (2 * y / rows - 1)
    shade = rng.normal(0, 25, 3) * (rng.random(3) < 0.6)

    def disc(at_x: float, at_y: float, radius: float) -> None:
        low_x, low_y = max(0, int(at_x - radius - 3)), max(0, int(at_y - radius - 3))
        part = slice(low_y, max(low_y, int(at_y + radius + 4))), slice(low_x, max(low_x, int(at_x + radius + 4)))
        right, down = (x[part] - at_x) / radius, (y[part] - at_y) / radius
        far = np.hypot(right, down)
        share = np.clip((1.0 - far) * radius + 0.5, 0, 1)
        dome = np.sqrt(np.clip(1.0 - far * far, 0, 1))
        picture[part] += share * (
            rng.uniform(15, 235) + shade[0] * right + shade[1] * down + shade[2] * dome - picture[part]
        )

    if rng.random() < 0.5:
        radius, kept = usual * rng.uniform(0.9, 1.1), rng.uniform(0.4, 0.9)
        apart = radius * rng.uniform(1.95, 3.2)
        for row in np.arange(0, rows, apart):
            for column in np.arange(0, columns, apart):
                if rng.random() < kept:
                    disc(column, row, radius * rng.uniform(0.97, 1.03))
    else:
        for _ in range(int(rng.integers(4, 30))):
            radius = usual * (rng.uniform(0.92, 1.08) if rng.random() < 0.7 else rng.uniform(0.3, 2.2))
            at_x, at_y, kind = rng.uniform(0, columns), rng.uniform(0, rows), rng.random()
            if kind < 0.25:  # on a plate
                wide, top, bottom = rng.uniform(0.9, 3), rng.uniform(-1, 0.6), rng.uniform(1, 4)
                plate = (np.abs(x - at_x) < wide * radius) & (y > at_y + top * radius) & (y < at_y + bottom * radius)
                picture[plate] = rng.uniform(15, 235)
            disc(at_x, at_y, radius)
            if kind > 0.75:
                disc(at_x, at_y, radius * rng.uniform(0.3, 0.8))
            elif kind > 0.6:
                disc(at_x, at_y + radius * rng.uniform(1.2, 2.2), radius * rng.uniform(0.8, 1.2))
    soft = cv2.GaussianBlur(picture, (0, 0), float(rng.uniform(0.5, 2.0)))
    return _behind_the_sheets(view, soft + rng.normal(0, rng.uniform(0.5, 4), soft.shape))


def _behind_the_sheets(view: SearchedPicture, picture: NDArray[np.float64]) -> SearchedPicture:
    sheets = np.zeros(view.grey.shape, dtype=np.uint8)
    for polygon in view.keep_out_px:
        cv2.fillPoly(sheets, [np.rint(polygon).astype(np.int32)], 1)
    return replace(view, grey=np.where(sheets > 0, view.grey, np.clip(picture, 0, 255)).astype(np.uint8))


def on_tile(view: SearchedPicture, tile: Grey, rng: np.random.Generator) -> SearchedPicture:
    """The view's sheets before a tile that fills the part in which a ball is looked for; mirrored by chance, with some noise."""
    region = search_region(view)
    assert region is not None
    x0, y0, x1, y1 = region.crop
    tile = tile[:, ::-1] if rng.random() < 0.5 else tile
    whole = np.full(view.grey.shape, float(tile.mean()))
    larger = cv2.resize(np.ascontiguousarray(tile), (x1 - x0, y1 - y0), interpolation=cv2.INTER_CUBIC)
    whole[y0:y1, x0:x1] = larger
    return _behind_the_sheets(view, whole + rng.normal(0, rng.uniform(0, 3), whole.shape))


def tiles_of(photograph: Grey, tall: int, shape: float) -> Iterator[Grey]:
    """Parts of a photograph, `tall` pixels high, that do not overlap; shape: width over height."""
    wide = round(tall * shape)
    rows, columns = photograph.shape[0] // tall, photograph.shape[1] // wide
    for row in range(rows):
        for column in range(columns):
            yield photograph[row * tall : (row + 1) * tall, column * wide : (column + 1) * wide]


def counted(
    folders: Sequence[Path], heights: Sequence[int], share: tuple[int, int]
) -> Iterator[tuple[str, int, float, bool]]:
    """Photograph, height of its tile, the best candidate's probability, and whether it would be taken, of each tile."""
    cases = [draw_case(seed) for seed in range(190_000, 190_012)]
    views = [case.view() for case in cases]
    paths = sorted(p for folder in folders for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg", ".png"))
    for number, path in enumerate(paths):
        if number % share[1] != share[0]:
            continue
        rng = np.random.default_rng([5, number])
        grey = np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
        for tall in heights:
            view = views[int(rng.integers(len(views)))]
            region = search_region(view)
            assert region is not None
            x0, y0, x1, y1 = region.crop
            for tile in tiles_of(grey, tall, (x1 - x0) / (y1 - y0)):
                some = find_candidates(on_tile(view, tile, rng))
                taken = hasattr(decide(some, SURE_BARE), "outline_px")
                yield path.name, tall, some[0].confidence if some else 0.0, taken


def told(rows: Sequence[tuple[str, int, float, bool]], heights: Sequence[int]) -> None:
    """Print what came of the tiles (`counted`)."""
    for tall in heights:
        best = np.array([confidence for _, height, confidence, _ in rows if height == tall])
        if len(best):
            print(
                f"tiles of {tall} px: {len(best)}, above 0.05 {int((best > 0.05).sum())}, above {RIVAL} {int((best > RIVAL).sum())}, "
                f"above {SURE_BARE} {int((best > SURE_BARE).sum())}, above {SURE} {int((best > SURE).sum())}, highest {best.max():.3f}"
            )
    wrong = sum(taken for *_, taken in rows)
    bound = 1.0 - 0.05 ** (1.0 / len(rows)) if not wrong else float("nan")
    print(
        f"{len(rows)} tiles of {len({name for name, *_ in rows})} photographs, taken for a ball {wrong}; 95 % bound {100 * bound:.2f} %"
    )
    for name, tall, confidence, taken in sorted(rows, key=lambda row: -row[2])[:8]:
        print(f"{name} {tall} px: {confidence:.3f}{' taken' if taken else ''}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--tiles", type=int, nargs="*", default=(300, 430, 700, 1100))
    parser.add_argument("--share", type=int, nargs=2, default=(0, 1), help="only every nth photograph, from this one")
    options = parser.parse_args()
    told(list(counted(options.folders, options.tiles, tuple(options.share))), options.tiles)


if __name__ == "__main__":
    main()
