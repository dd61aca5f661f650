"""The pages of tags: centre tags mark a hidden ball's centre, bar tags stay on the tow bar from picture to picture."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np

from calib.kit.code_bits import CODE_MODULES
from calib.kit.sheet import Code, Paper, Sheet, frozen

CENTRE_TAG_IDS = tuple(range(18, 26))
BAR_TAG_IDS = tuple(range(26, 33))

TagRows = tuple[tuple[float, int], ...]  # (code side mm, how many), row by row

# Near and far, all told apart by their codes.
CENTRE_TAG_ROWS: TagRows = ((60.0, 2), (40.0, 3), (40.0, 3))
BAR_TAG_ROWS: TagRows = ((60.0, 2), (40.0, 3), (40.0, 2))


def tag_sheet(
    role: Literal["centre-tag", "bar-tag"],
    *,
    ids: tuple[int, ...],
    rows: TagRows,
    paper: Paper,
    page: int,
    page_mm: tuple[float, float],
) -> Sheet:
    """A page of tags in rows; a tag's code and size are the same on every paper."""
    width, height = page_mm
    return Sheet(
        role=role,
        paper=paper,
        page=page,
        width_mm=width,
        height_mm=height,
        origin_mm=(0.0, 0.0),
        foot_line_mm=None,
        cell_mm=0.0,
        point_names=(),
        points_mm=frozen(np.empty((0, 2))),
        polarity=frozen(np.empty(0, dtype=np.int8)),
        dark_mm=frozen(np.empty((0, 4))),
        codes=tuple(_placed(iter(ids), rows, width, height - 42.0)),
    )


def _placed(ids: Iterator[int], rows: TagRows, width_mm: float, top_mm: float) -> Iterator[Code]:
    y = top_mm
    for side, count in rows:
        quiet = side / CODE_MODULES
        pitch = (width_mm - 20.0) / max(
            count, 3 if side < 50.0 else 2
        )  # a row that is not full keeps its neighbours' pitch
        y -= side / 2 + quiet
        for i in range(count):
            yield Code(id=next(ids), centre_mm=(10.0 + pitch * (i + 0.5), y), size_mm=side, quiet_mm=quiet)
        y -= side / 2 + quiet + 12.0
