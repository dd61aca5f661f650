"""Are rows that a damaged file lost or shifted noticed, and are whole photographs left in peace?

By hand: python -m tests.experiments.seam_study PICTURE... [--damaged 4]

Each picture as it is stored, and twice shrunk, cut and saved anew (JPEG quality 70 and 90): none of these is broken, along rows
or along columns. Then each of the three with 8, 16 or 32 rows taken out, or with everything below a row moved sideways by 8 to
88 pixels, or everything right of a column moved down by 3 to 40, saved at quality 70 to 95. Printed: how many whole ones are
taken for broken, and how many broken ones are found (the row itself, to a pixel). Pictures are grey, at least 400 pixels high
and wide.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.seams import seam_column, seam_row

Picture = NDArray[np.uint8]
LOST_ROWS = (8, 16, 32)


def saved(picture: Picture, quality: int) -> Picture:
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def forms(picture: Picture, rng: np.random.Generator) -> Iterator[Picture]:
    """As it is, and as people pass it on."""
    yield picture
    for quality in (70, 90):
        ratio = float(rng.uniform(0.45, 0.9))
        small = np.asarray(cv2.resize(picture, None, fx=ratio, fy=ratio, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        top, left = (int(rng.integers(0, side // 8)) for side in small.shape)
        yield saved(small[top:, left:], quality)


def damaged(picture: Picture, how: str, rng: np.random.Generator) -> tuple[Picture, int]:
    """The picture with rows lost, or shifted from a row or column on; and that row or column."""
    row = 8 * int(rng.integers(len(picture) // 32, 3 * len(picture) // 32))
    if how == "moved":
        row = int(rng.integers(picture.shape[1] // 4, 3 * picture.shape[1] // 4))
        broken = picture.copy()
        broken[:, row:] = np.roll(broken[:, row:], int(rng.integers(3, 40)), axis=0)
        return saved(broken, int(rng.integers(70, 96))), row
    if how == "shifted":
        broken = picture.copy()
        broken[row:] = np.roll(broken[row:], 8 * int(rng.integers(1, 12)), axis=1)
    else:
        broken = np.vstack([picture[:row], picture[row + int(how) :]])
    return saved(broken, int(rng.integers(70, 96))), row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("pictures", type=Path, nargs="+")
    parser.add_argument("--damaged", type=int, default=2, help="times each picture is broken in each way")
    options = parser.parse_args()
    rng = np.random.default_rng(1)
    ways = (*(str(rows) for rows in LOST_ROWS), "shifted", "moved")
    whole, alarms, found = 0, [], dict.fromkeys(ways, 0)
    pictures = 0
    for path in options.pictures:
        read = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
        if read is None or min(read.shape) < 400:
            continue
        pictures += 1
        for picture in forms(np.asarray(read, dtype=np.uint8), rng):
            for along, look in (("row", seam_row), ("column", seam_column)):
                whole += 1
                at = look(picture)
                if at is not None:
                    alarms.append(f"{path.parent.name}/{path.name} at {along} {at} of {picture.shape}")
            for how in ways:
                for _ in range(options.damaged):
                    broken, at = damaged(picture, how, rng)
                    found[how] += (seam_column if how == "moved" else seam_row)(broken) == at
    print(f"{pictures} pictures, {whole} whole forms, taken for broken: {len(alarms)} {alarms}")
    tried = 3 * pictures * options.damaged
    print(
        ", ".join(f"{how}: {100 * number / max(tried, 1):.0f} %" for how, number in found.items()), f"of {tried} each"
    )


if __name__ == "__main__":
    main()
