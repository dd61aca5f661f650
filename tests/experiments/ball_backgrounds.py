"""Pictures without a ball, in the camera of a picture whose sheet is solved: photographs of other things, and drawn discs."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.search import SearchedPicture, radius_map, search_region

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
