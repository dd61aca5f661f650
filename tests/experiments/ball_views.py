"""The views in which the program looks for a ball in path-traced rigs with truth, as it solved their cameras."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.centre.ball.ball import find_candidates
from photomeasure.seen.centre.ball.search import SearchedPicture

JPEG_QUALITY = 75


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A view, the sizes (mm) that are tried beside the stated one, and where the centre truly is; bare: the ball is to be seen."""

    name: str
    view: SearchedPicture
    other_sizes_mm: tuple[float, ...]
    centre_px: NDArray[np.float64]
    bare: bool

    def shrunk(self, scale: float) -> Seen:
        """The same photograph of fewer pixels, through JPEG once more."""
        tall, wide = self.view.grey.shape
        size = round(wide * scale), round(tall * scale)
        small = cv2.resize(self.view.grey, size, interpolation=cv2.INTER_AREA)
        code = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])[1]
        k = self.view.intrinsics.copy()
        k[:2], k[2:4] = k[:2] * scale, (k[2:4] + 0.5) * scale - 0.5
        view = replace(
            self.view,
            grey=np.asarray(cv2.imdecode(code, cv2.IMREAD_GRAYSCALE), dtype=np.uint8),
            intrinsics=k,
            keep_out_px=tuple((polygon + 0.5) * scale - 0.5 for polygon in self.view.keep_out_px),
        )
        return replace(self, view=view, centre_px=(self.centre_px + 0.5) * scale - 0.5)


def seen_in(folders: Sequence[Path]) -> Iterator[Seen]:
    """Each photograph of the rigs (`make_scenes.py --study`) whose cameras the program can solve."""
    for told in sorted(path for folder in folders for path in folder.glob("*.toml")):
        truth = tomllib.loads(told.read_text(encoding="utf-8"))
        views: list[tuple[SearchedPicture, tuple[float, ...]]] = []

        def looked_for(view: SearchedPicture, other_sizes_mm: Sequence[float] = (), views: list = views) -> tuple[()]:  # type: ignore[type-arg]
            views.append((view, tuple(other_sizes_mm)))
            return ()

        with patch(f"{find_candidates.__module__}.find_candidates", looked_for):
            measure(
                Request(
                    photos=tuple(told.with_name(file) for file in truth["files"]),
                    rule=default_rule("ball-50"),
                    bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
                    state=State(coupled=truth["coupled"], laden=True, level_ground=True),
                )
            )
        for number, ((view, others), px) in enumerate(zip(views, truth["centre_px"], strict=False)):
            yield Seen(
                name=f"{told.stem}/{number}",
                view=view,
                other_sizes_mm=others,
                centre_px=np.array(px),
                bare=not truth["coupled"],
            )
