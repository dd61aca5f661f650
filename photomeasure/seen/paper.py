"""The paper's own edges in a picture: its width against what is printed on it, and where its lower edge is.

A print that was shrunk has wider margins, for paper keeps its size: the width between the paper's sides, measured in printed
millimetres, tells the print's scale. The lower edge belongs on the foot line. Profiles are read along the page's own axes by
the homography of its saddles, from white paper outwards to the first plain step; an edge counts only where most profiles put
it on one line. What is white behind white paper is not seen, and nothing is said then.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import FoundSheet, cell_axes_px
from photomeasure.scene.paper import Paper

Array = NDArray[np.float64]

STEP_MM = 0.25  # along a profile
INSIDE_MM, BEYOND_MM = (
    4.5,
    14.0,
)  # where a side's profiles begin on the paper, and how far beyond the page's edge they go
ROWS = 60  # profiles of a side
LEAST_STEP = 0.15  # of the sheet's contrast: from white paper to what is behind it
AGREE_MM, MOST = 0.8, 0.6  # how near to one line, and how many of the profiles
# ISO 216: +/- 2 mm for sides of 150 to 600 mm (reference tables); most paper is cut nearer to its size than to those ends, which is
# a triangle (JCGM 100:2008 4.3.9)
ISO_216_MM = 2.0 / float(np.sqrt(6.0))
EDGE_PX = 0.4  # of each side, both outwards together: bloom and tone curve (judgement)
CURL_MM = 1.5  # by which a paper's side stands out of the sheet's plane (judgement)
# A page lies no further beside the paper's middle: one that was shrunk to 94 % towards a corner is 6 mm off, and fed 1-2 mm askew
FARTHEST_OFF_MM = 7.5
NARROWER_MM, WIDER_MM = 3.0, 17.0  # cut at a side, or a board under it in place of the paper
BLANK_MM = ((22.0, 58.0), (152.0, 188.0))  # of A4's width, where nothing is printed above the foot line
COLUMNS, MOST_COLUMNS = 40, 0.75
LEAST_APART, GROUND_LIKE, PAPER_LIKE = 0.12, 0.25, 0.35  # of the sheet's contrast; of what paper and ground differ by


def paper_seen(grey: NDArray[np.uint8], found: FoundSheet) -> Paper:
    """The paper of an upright sheet in a grey picture (h, w)."""
    white, contrast = _levels(grey, found)
    sides = [_side(grey, found, white, contrast, right=right) for right in (False, True)]
    left, right = sides
    width, u = None, 0.0
    if left is not None and right is not None and abs(left - right) < 2.0 * FARTHEST_OFF_MM:
        beyond = left + right
        if -NARROWER_MM < beyond < WIDER_MM:
            width, u = found.sheet.width_mm + beyond, _width_u_mm(found)
    return Paper(width_mm=width, u_mm=u, lower_mm=_lower(grey, found, white, contrast))


def _levels(grey: NDArray[np.uint8], found: FoundSheet) -> tuple[float, float]:
    """Grey level of the paper, and what it is above the ink's."""
    dark = found.sheet.dark_mm
    middle = np.stack([(dark[:, 0] + dark[:, 2]) / 2, (dark[:, 1] + dark[:, 3]) / 2], axis=1)
    beside = middle + np.array([found.sheet.cell_mm, 0.0])
    extent = found.sheet.points_mm.max(axis=0)
    ink = float(np.median(_read(grey, found, middle)))
    paper = float(np.median(_read(grey, found, beside[beside[:, 0] < extent[0]])))
    return paper, paper - ink


def _read(grey: NDArray[np.uint8], found: FoundSheet, page_mm: Array) -> Array:
    """Grey levels (N,) at page points (N, 2), bilinear; NaN outside the picture."""
    px = cv2.perspectiveTransform(page_mm[None], found.px_from_page)[0].astype(np.float32)
    values = cv2.remap(
        grey.astype(np.float32) if grey.dtype != np.uint8 else grey,
        px[None, :, 0],
        px[None, :, 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0.0,
    )[0].astype(np.float64)
    height, width = grey.shape
    across, down = px[:, 0], px[:, 1]
    inside = (across > 1.0) & (down > 1.0) & (across < width - 2) & (down < height - 2)
    return np.where(inside, values, np.nan)


def _profiles(grey: NDArray[np.uint8], found: FoundSheet, starts: Array, way: Array, steps: int) -> Array:
    """(N, steps) grey levels along `way` (2,), a step of STEP_MM each, from starts (N, 2)."""
    places = np.empty((len(starts), steps, 2))
    for axis in (0, 1):
        np.add.outer(starts[:, axis], STEP_MM * np.arange(steps) * way[axis], out=places[:, :, axis])
    return _read(grey, found, places.reshape(-1, 2)).reshape(len(starts), steps)


def _side(grey: NDArray[np.uint8], found: FoundSheet, white: float, contrast: float, *, right: bool) -> float | None:
    """How far the paper goes on beyond the page's side, printed mm; None where that is not plain."""
    sheet = found.sheet
    foot = sheet.foot_line_mm or 0.0
    y = np.linspace(foot + 12.0, sheet.height_mm - 14.0, ROWS)
    x0 = sheet.width_mm - INSIDE_MM if right else INSIDE_MM
    starts = np.stack([np.full(ROWS, x0), y], axis=1)
    steps = round((INSIDE_MM + BEYOND_MM) / STEP_MM)
    values = _profiles(grey, found, starts, np.array([1.0 if right else -1.0, 0.0]), steps)
    edges = _first_steps(values, contrast)
    return _on_one_line(edges - INSIDE_MM, y)


def _first_steps(values: Array, contrast: float) -> Array:
    """(N,) where each profile first leaves its own paper's level, mm from its start, half-way to what follows; NaN: nowhere."""
    flat, steps = round(1.5 / STEP_MM), values.shape[1]
    paper: Array = np.median(values[:, :flat], axis=1)[:, None]  # a row that leaves the picture is NaN, and stays it
    off = np.abs(values - paper) > LEAST_STEP * contrast
    plain = (
        ~np.isnan(values).any(axis=1) & ~off[:, :flat].any(axis=1) & off.any(axis=1)
    )  # nothing printed or lying there
    behind_at = off.argmax(axis=1)[:, None] + np.arange(round(0.75 / STEP_MM), round(2.5 / STEP_MM))[None, :]
    there = behind_at < steps
    plain &= there.sum(axis=1) >= 3
    behind = np.where(there, np.take_along_axis(values, np.minimum(behind_at, steps - 1), axis=1), np.inf)
    half = 0.5 * (paper + _median_of_finite(behind, there.sum(axis=1)))
    with np.errstate(invalid="ignore", divide="ignore"):
        over = (values - half) * np.sign(paper - half)
        k = (over <= 0.0).argmax(axis=1)[:, None]
        at, before = (np.take_along_axis(over, where, axis=1)[:, 0] for where in (k, np.maximum(k - 1, 0)))
        edges: Array = STEP_MM * (k[:, 0] - at / (at - before))
    return np.where(plain & (k[:, 0] > 0), edges, np.nan)


def _median_of_finite(values: Array, counts: NDArray[np.intp]) -> Array:
    """(N, 1) the median of each row's first `counts` values when sorted: the others are infinite."""
    ordered = np.sort(values, axis=1)
    lower, upper = (np.maximum((counts - 1) // 2, 0)[:, None], (counts // 2)[:, None])
    both = np.take_along_axis(ordered, lower, axis=1) + np.take_along_axis(ordered, upper, axis=1)
    return np.asarray(0.5 * both, dtype=np.float64)


def _on_one_line(edge: Array, along: Array) -> float | None:
    """The middle of the straight line that most edges lie on; None where they do not."""
    seen = np.isfinite(edge)
    if seen.mean() < MOST:
        return None
    x, t = edge[seen], along[seen] - along.mean()
    one, other = _pairs(len(x))
    slope = float(np.median((x[one] - x[other]) / (t[one] - t[other])))
    middle = float(np.median(x - slope * t))
    near = np.abs(x - slope * t - middle) < AGREE_MM
    if near.sum() < MOST * len(edge) or abs(slope) > 0.03:
        return None
    return float(np.mean((x - slope * t)[near]))


@cache
def _pairs(count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Numbers of each two of `count` profiles that are eight or more apart; read-only."""
    found = np.triu_indices(count, 8)
    for part in found:
        part.setflags(write=False)
    return found


def _width_u_mm(found: FoundSheet) -> float:
    """Of the width: the paper's tolerance, the edges' common shift, and sides that curl where the sheet is seen aslant."""
    sheet = found.sheet
    middle = np.array([[sheet.width_mm / 2, sheet.height_mm / 2]])
    axes = cell_axes_px(found.px_from_page, middle, sheet.cell_mm)[0]
    mm_per_px = sheet.cell_mm / float(np.linalg.norm(axes[:, 0]))
    stretch = np.linalg.svd(axes, compute_uv=False)
    aslant = float(np.sqrt(max((stretch[0] / max(stretch[1], 1e-9)) ** 2 - 1.0, 0.0)))  # tangent, at most
    return float(np.linalg.norm([ISO_216_MM, 2.0 * EDGE_PX * mm_per_px, CURL_MM * aslant]))


def _lower(grey: NDArray[np.uint8], found: FoundSheet, white: float, contrast: float) -> float | None:
    """Where the paper ends below, printed mm above the foot line."""
    sheet = found.sheet
    foot = sheet.foot_line_mm
    if foot is None:
        return None
    share = sheet.width_mm / 210.0
    x = np.concatenate([np.linspace(low * share, high * share, COLUMNS // 2) for low, high in BLANK_MM])
    top, steps = 6.0, round((6.0 + 1.6 * foot) / STEP_MM)
    starts = np.stack([x, np.full(len(x), foot + top)], axis=1)
    values = _profiles(grey, found, starts, np.array([0.0, -1.0]), steps)
    if np.isnan(values).any():
        return None
    depth = top - STEP_MM * np.arange(steps)  # above the foot line
    strip: Array = np.median(values[:, (depth > 1.5) & (depth < 5.5)], axis=1)
    below = np.median(values[:, (depth < -2.0) & (depth > -0.75 * foot)], axis=1)
    far: Array = np.median(values[:, depth < -1.25 * foot], axis=1)
    ground = float(np.median(far))
    if abs(white - ground) < LEAST_APART * contrast:
        return None
    if abs(float(np.median(strip)) - ground) < GROUND_LIKE * abs(white - ground):
        return top  # no paper where it should be: it ends further up, or something is before it
    apart = np.abs(strip - far) > LEAST_APART * contrast
    like_paper = apart & (np.abs(below - strip) < PAPER_LIKE * np.abs(far - strip))
    if like_paper.mean() > MOST_COLUMNS:
        return _uncut(values, depth, strip, far, like_paper)
    return 0.0 if apart.mean() > MOST_COLUMNS else None


def _uncut(values: Array, depth: NDArray[np.floating], strip: Array, far: Array, use: NDArray[np.bool_]) -> float:
    """Where the strip below the foot line ends: half-way between paper and ground, the last place of each column."""
    ends = []
    for profile, paper, ground in zip(values[use], strip[use], far[use], strict=True):
        paperlike = np.flatnonzero(np.abs(profile - ground) > 0.5 * abs(paper - ground))
        ends.append(depth[paperlike[-1]] if len(paperlike) else 0.0)
    return float(np.median(ends))
