"""Centre tags and bar tags: found near the sheet and measured whole, for a coupling whose head hides the ball.

What reads like a tag counts only when its whole pattern fits the picture. Figures: `tests/experiments/tag_study.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import tag_codes
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.centre.tag.fit import CodeFit, diagonal_crossing, fit_code
from photomeasure.seen.centre.tag.pattern import black_modules
from photomeasure.seen.centre.tag.search import PixelWindow, all_tags, read_tags, search_window

# Of the pattern with the picture, and grey levels from black to white: prints are above 0.95 even where a shadow's edge
# crosses them.
MIN_CORRELATION, MIN_CONTRAST = 0.9, 12.0
CENTRE_FLOOR_PX = 0.02  # paper, print and lens are never better than this


@dataclass(frozen=True, slots=True, kw_only=True)
class TagSeen:
    """One tag in one picture.

    side_mm:     as printed.
    corners_px:  (4, 2) as printed, clockwise from the top-left.
    sigma_px:    of each coordinate, independent: chosen so that the size is as sure as the fit says and the centre
                 (half of it) not surer.
    """

    id: int
    side_mm: float
    corners_px: NDArray[np.float64]
    sigma_px: float

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """(2,) image of the tag's middle: the crossing of the diagonals."""
        return diagonal_crossing(self.corners_px)

    def local_mm(self) -> NDArray[np.float64]:  # (4, 2) x right, y up from the tag's middle
        half = self.side_mm / 2
        return np.array([[-half, half], [half, half], [half, -half], [-half, -half]])


def find_tags(
    grey: NDArray[np.uint8],
    *,
    intrinsics: NDArray[np.float64],
    rotation: NDArray[np.float64],
    translation: NDArray[np.float64],
) -> tuple[TagSeen, ...]:
    """Every centre tag and bar tag of a picture. rotation (3, 3), translation (3,): camera from world."""
    window = search_window(grey.shape, intrinsics, rotation, translation)
    if window is None:
        return ()
    return tags_in(grey, window, float(np.sqrt(intrinsics[0] * intrinsics[1])) / max(float(translation[2]), 50.0))


def tags_in(grey: NDArray[np.uint8], window: PixelWindow, px_per_mm: float) -> tuple[TagSeen, ...]:
    """Every centre tag and bar tag in a part of the picture (left, top, right, bottom); px_per_mm: at the sheet's distance."""
    seen = []
    for reading in read_tags(grey, window, px_per_mm):
        fit = fit_code(grey, reading.corners_px, black_modules(reading.id))
        if fit is not None and _is_the_print(fit):
            size_mm = all_tags()[reading.id].size_mm
            sigma_px = independent_sigma_px(fit)
            seen.append(TagSeen(id=reading.id, side_mm=size_mm, corners_px=fit.corners_px, sigma_px=sigma_px))
    return tuple(seen)


def the_centre_tag(seen: Sequence[TagSeen]) -> TagSeen | Refusal | None:
    """The one centre tag among the tags of a picture; refused with `two-tags` where there are more."""
    return _only(
        [tag for tag in seen if tag.id in tag_codes()],
        lambda count: said(
            "{count} centre tags are in the picture; which of them marks the coupling's centre cannot be told.",
            count=count,
        ),
        said("Leave one tag on the coupling, take the others (and the rest of the printed page) out of view."),
    )


def _only(tags: Sequence[TagSeen], more: Callable[[int], str], remedy: str) -> TagSeen | Refusal | None:
    if len(tags) > 1:
        return Refusal(code="two-tags", reason=more(len(tags)), remedy=remedy)
    return tags[0] if tags else None


def independent_sigma_px(fit: CodeFit) -> float:
    """Sigma of four independent corners that says of the size what the fit does, and of the centre no less.

    Four corners of sigma s give the centre to s / 2 and the mean side to s / sqrt(2).
    """
    return float(max(np.sqrt(2.0) * fit.u_side_px, 2.0 * np.hypot(fit.u_centre_px, CENTRE_FLOOR_PX)))


def _is_the_print(fit: CodeFit) -> bool:
    return fit.correlation >= MIN_CORRELATION and fit.contrast >= MIN_CONTRAST
