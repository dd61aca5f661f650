"""From a grey picture to measured sheets: codes find and name a sheet, saddles predicted from them measure it.

Coarse to fine: codes are looked for quickly in the picture halved to 1000 px or more, and where that does not show all of one
sheet plainly, in larger pictures and harder; the saddles are fitted first in the picture in which the codes were found, then in
the full one. A sheet counts only when its own chequer confirms it, so a false code alone is never a sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.codes import FoundCode, find_codes
from calib.finding.deblur import deblurred
from calib.finding.saddle import Saddles, fit_saddles
from calib.finding.shrink import shrunk
from calib.kit.kit import Paper, Sheet, sheet_of_code
from calib.kit.sheet import Code
from calib.outcome.refusal import Refusal
from calib.words.said import said

# Long sides of the picture, halved so often as it goes, that are looked in quickly; those tried thoroughly before the full one
QUICK_PX, LEVELS_PX = (1000, 2500), (1600, 2600)
HARD_LOOK_PX = 3200  # long side of the last looks
HardWay = Literal["as it is", "darkened", "deblurred"]
HARD_WAYS: tuple[HardWay, ...] = get_args(HardWay)
_DARKENED = np.rint(255.0 * (np.arange(256) / 255.0) ** 3).astype(np.uint8)  # `tests/experiments/kit_second.md`
MIN_SADDLES = 8
FAR_CODE_PX = (
    20.0  # side of a code in the picture that is looked in; at 12-13 codes begin to be missed (path-traced trailers)
)
MOST_TRIED = 24  # codes of one sheet, each taken for a sheet of its own
# Steps at which saddles are settled: the small picture only has to tell where to look in the full one; there a corner is then
# within 0.001 px of where it would end (its noise: 0.01 px and more)
_SETTLE_COARSE_PX, _SETTLE_PX = 0.03, 5e-3
_SEEN_BLUR_PX = 0.7  # of edges in the full picture, to begin with, where nothing is known of them
# A code that was missed is looked for this far around its middle, times half its size, in a part that is at most so large
_AROUND_CODE, _PART_PX, _LEAST_CODE_PX = 2.4, 160, 10
_NEAR_CELLS, _NEAR_ROUNDS = 0.4, 10  # of the window in which a saddle is looked for quickly
_ORDINARY_MISFIT = 1.25  # over the sheet's median; above it a saddle is doubted,
_COVERED_MISFIT = 2.5  # and from here on left out: something lies over it
_CODE_SPREAD_CELLS = 0.6  # of a code's centre from where the chequer says it is
_FARTHEST_ASTRAY_CELLS = 3.0  # further off it is another sheet's
_CONFIRM_SPREAD_CELLS = 0.12  # a saddle further from the board's homography than this is not one of ours


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundSheet:
    """A sheet of the kit, measured in one picture.

    index:     (N,) rows of `sheet.points_mm` that were measured.
    points_px: (N, 2); sigma_px: (N,); blur_px, contrast: medians over the saddles.
    px_from_page: (3, 3) homography, page mm to pixels, of the measured saddles.
    codes:     the codes that were read.
    astray:    codes of this design that lie beside the sheet's places for them, and on no other sheet that was measured.
    """

    sheet: Sheet
    index: NDArray[np.int64]
    points_px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    blur_px: float
    contrast: float
    px_from_page: NDArray[np.float64]
    codes: tuple[FoundCode, ...]
    astray: tuple[FoundCode, ...] = ()
    edges_px: tuple[float, float] = (0.0, 0.0)  # blur of its upright and of its level edges, medians

    @property
    def cell_px(self) -> float:
        """Length of a cell in pixels at the sheet's middle, the shorter of the two axes."""
        middle = self.sheet.points_mm.mean(axis=0, keepdims=True)
        axes = cell_axes_px(self.px_from_page, middle, self.sheet.cell_mm)
        return float(np.linalg.norm(axes[0], axis=0).min())

    @property
    def codes_off_cells(self) -> NDArray[np.float64]:
        """(K,) how far each code, astray or not, lies from where the measured chequer says, in cells."""
        return _off_cells(self.px_from_page, self.sheet, (*self.codes, *self.astray))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """All sheets measured in one picture; at most one of each role, all of one paper.

    second: another upright sheet of the same design, which only its number tells from the first.
    """

    sheets: tuple[FoundSheet, ...]
    codes: tuple[FoundCode, ...]
    second: FoundSheet | None = None

    @property
    def all(self) -> tuple[FoundSheet, ...]:
        """Every sheet that was found, the second upright one too."""
        return self.sheets if self.second is None else (*self.sheets, self.second)

    def of_role(self, role: str) -> FoundSheet | None:
        """The sheet of that role ("upright", "ground"); the second upright one is not meant."""
        return next((found for found in self.sheets if found.sheet.role == role), None)


def apply_homography(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 3) on (N, 2) points."""
    mapped = points @ matrix[:, :2].T + matrix[:, 2]
    result: NDArray[np.float64] = mapped[:, :2] / mapped[:, 2:]
    return result


def cell_axes_px(
    px_from_page: NDArray[np.float64], points_mm: NDArray[np.float64], cell_mm: float
) -> NDArray[np.float64]:  # (N, 2, 2)
    """The step of one cell to the right and down the page at each point, in pixels (columns of the 2 x 2)."""
    right = apply_homography(px_from_page, points_mm + np.array([0.5 * cell_mm, 0.0]))
    left = apply_homography(px_from_page, points_mm - np.array([0.5 * cell_mm, 0.0]))
    down = apply_homography(px_from_page, points_mm - np.array([0.0, 0.5 * cell_mm]))
    up = apply_homography(px_from_page, points_mm + np.array([0.0, 0.5 * cell_mm]))
    return np.stack([right - left, down - up], axis=2)


def shrink(grey: NDArray[np.uint8], long_side_px: int) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """The picture with its long side at most `long_side_px`, and the factors (x, y) back to full size."""
    height, width = grey.shape
    ratio = long_side_px / max(height, width)
    if ratio >= 1.0:
        return grey, np.ones(2)
    size = (max(1, round(width * ratio)), max(1, round(height * ratio)))
    return shrunk(grey, size), np.array([width / size[0], height / size[1]])


def _homography(page_mm: NDArray[np.float64], px: NDArray[np.float64]) -> NDArray[np.float64] | None:
    if len(page_mm) < 4:
        return None
    matrix, _ = cv2.findHomography(page_mm, px, 0)
    if matrix is None or not np.isfinite(matrix).all():
        return None
    return np.asarray(matrix, dtype=np.float64)


def _visible(matrix: NDArray[np.float64], sheet: Sheet, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    points = apply_homography(matrix, sheet.points_mm)
    depth = sheet.points_mm @ matrix[2, :2] + matrix[2, 2]
    margin = 3.0
    inside = (points > margin).all(axis=1) & (points < np.array([shape[1], shape[0]]) - 1 - margin).all(axis=1)
    same_side = depth * np.sign(np.median(depth)) > 0
    axes = cell_axes_px(matrix, sheet.points_mm, sheet.cell_mm)
    area = np.abs(np.linalg.det(axes))
    return np.asarray(inside & same_side & (area > 4.0), dtype=bool)


def _measure(
    grey: NDArray[np.uint8], sheet: Sheet, matrix: NDArray[np.float64], blur_px: float, settle_px: float = _SETTLE_PX
) -> tuple[NDArray[np.int64], Saddles, NDArray[np.float64]] | None:
    """One pass: predict, fit, keep what the board's own homography confirms: (index, saddles, homography)."""
    index = np.flatnonzero(_visible(matrix, sheet, grey.shape))
    if len(index) < 4:
        return None
    start = apply_homography(matrix, sheet.points_mm[index])
    axes = cell_axes_px(matrix, sheet.points_mm[index], sheet.cell_mm)
    saddles = fit_saddles(grey, start, axes, sheet.polarity[index], blur_px=blur_px, settle_px=settle_px)
    keep = saddles.good.copy()
    if keep.sum() < 4:
        return None
    cell = float(np.median(np.linalg.norm(axes, axis=1)))
    threshold = max(0.5, _CONFIRM_SPREAD_CELLS * cell)
    refined, inliers = cv2.findHomography(sheet.points_mm[index][keep], saddles.points_px[keep], cv2.RANSAC, threshold)
    if refined is None or inliers.sum() < 4:
        return None
    keep[np.flatnonzero(keep)[~inliers.ravel().astype(bool)]] = False
    like_the_others = keep & (saddles.misfit < _COVERED_MISFIT * np.median(saddles.misfit[keep]))
    if like_the_others.sum() >= MIN_SADDLES:
        keep = like_the_others
    refit = _homography(sheet.points_mm[index][keep], saddles.points_px[keep])
    if refit is None:
        return None
    kept = Saddles(
        points_px=saddles.points_px[keep],
        sigma_px=saddles.sigma_px[keep] * _doubt(saddles.misfit[keep]),
        contrast=saddles.contrast[keep],
        blur_px=saddles.blur_px[keep],
        edges_px=saddles.edges_px[keep],
        misfit=saddles.misfit[keep],
        good=saddles.good[keep],
    )
    return index[keep], kept, refit


def _doubt(misfit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Factor (N,) on sigma, from 1 up, for a saddle that fits worse than its neighbours.

    What is left over there is not noise but a shadow's edge or a covering across the saddle, which moves it further
    than its sigma says: 2.3 times at 1.5-2 medians, 2.9 times at 2-2.5, about once below 1.5 (half in shadow, in
    `tests/experiments/kit_pictures.py`).
    """
    ratio = misfit / max(float(np.median(misfit)), 1e-9)
    factor: NDArray[np.float64] = np.maximum(1.0, ratio / _ORDINARY_MISFIT) ** 1.5
    return factor


def _scaled(matrix: NDArray[np.float64], factor: NDArray[np.float64]) -> NDArray[np.float64]:
    """A homography into a small picture turned into one into the full picture: full = (small + 0.5) s - 0.5."""
    enlarge = np.array([[factor[0], 0, 0.5 * factor[0] - 0.5], [0, factor[1], 0.5 * factor[1] - 0.5], [0, 0, 1.0]])
    return enlarge @ matrix


def measure_sheet(
    grey: NDArray[np.uint8],
    small: NDArray[np.uint8],
    factor: NDArray[np.float64],
    sheet: Sheet,
    codes: tuple[FoundCode, ...],
) -> FoundSheet | None:
    """Measure one sheet from the codes read on it in `small` (corners in the small picture's pixels)."""
    by_id = {code.id: code for code in sheet.codes}
    page = np.concatenate([by_id[code.id].corners_mm() for code in codes])
    matrix = _homography(page, np.concatenate([code.corners_px for code in codes]))
    enlarged = bool((factor != 1.0).any())
    at_once = None
    if enlarged and matrix is not None and len(codes) > 1:  # one code alone says too little of the other end
        at_once = _whole_at_once(grey, small, factor, sheet, matrix)
    if at_once is not None:
        full_codes = tuple(code.enlarged(factor) for code in codes)
        if _codes_in_place(at_once[2], sheet, full_codes):
            return _as_found(sheet, *at_once, full_codes)
    passed = None
    blur = 0.8
    for _ in range(3 if len(codes) < len(sheet.codes) else 1):
        if matrix is None:
            return None
        passed = _measure(small, sheet, matrix, blur, _SETTLE_COARSE_PX if enlarged else _SETTLE_PX)
        if passed is None:
            return None
        matrix, blur = passed[2], float(np.median(passed[1].blur_px))
        if len(passed[0]) == len(sheet.points_mm):
            break
    if passed is None or matrix is None or not _codes_in_place(matrix, sheet, codes):
        return None
    if enlarged:
        passed = _measure(grey, sheet, _scaled(matrix, factor), max(blur * float(factor[0]) * 0.7, _SEEN_BLUR_PX))
        if passed is None:
            return None
    index, saddles, matrix = passed
    if len(index) < MIN_SADDLES:
        return None
    return _as_found(sheet, index, saddles, matrix, tuple(code.enlarged(factor) for code in codes))


def _as_found(
    sheet: Sheet,
    index: NDArray[np.int64],
    saddles: Saddles,
    matrix: NDArray[np.float64],
    codes: tuple[FoundCode, ...],
) -> FoundSheet:
    return FoundSheet(
        sheet=sheet,
        index=index,
        points_px=saddles.points_px,
        sigma_px=saddles.sigma_px,
        blur_px=float(np.median(saddles.blur_px)),
        edges_px=tuple(np.median(saddles.edges_px, axis=0).tolist()),
        contrast=float(np.median(saddles.contrast)),
        px_from_page=matrix,
        codes=codes,
    )


def _whole_at_once(
    grey: NDArray[np.uint8],
    small: NDArray[np.uint8],
    factor: NDArray[np.float64],
    sheet: Sheet,
    matrix: NDArray[np.float64],
) -> tuple[NDArray[np.int64], Saddles, NDArray[np.float64]] | None:
    """As `_measure`, in the full picture, of a sheet that is wholly there and plain: None where one saddle is missing.

    matrix: page mm to pixels of the small picture. Where gradients point from the crossing, quickly, tells where to look.
    """
    index = np.flatnonzero(_visible(matrix, sheet, small.shape))
    if len(index) < len(sheet.points_mm):
        return None
    start = apply_homography(matrix, sheet.points_mm).astype(np.float32)
    cell = np.linalg.norm(cell_axes_px(matrix, sheet.points_mm, sheet.cell_mm), axis=1).min()
    half = max(2, round(_NEAR_CELLS * float(cell)))
    until = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, _NEAR_ROUNDS, _SETTLE_COARSE_PX)
    near = cv2.cornerSubPix(small, start.copy(), (half, half), (-1, -1), until)
    refined = _homography(sheet.points_mm, near.astype(np.float64))
    if refined is None:
        return None
    passed = _measure(grey, sheet, _scaled(refined, factor), _SEEN_BLUR_PX)
    return passed if passed is not None and len(passed[0]) == len(sheet.points_mm) else None


def _codes_in_place(matrix: NDArray[np.float64], sheet: Sheet, codes: tuple[FoundCode, ...]) -> bool:
    """Whether the codes lie where the measured chequer says.

    A chequer moved by one cell on both axes looks like itself; its codes then lie more than a cell beside their places.
    """
    return bool((_off_cells(matrix, sheet, codes) < _CODE_SPREAD_CELLS).all())


def _off_cells(matrix: NDArray[np.float64], sheet: Sheet, codes: tuple[FoundCode, ...]) -> NDArray[np.float64]:
    """(K,) distances of codes from where a homography has them, in cells."""
    by_id = {code.id: code for code in sheet.codes}
    centres_mm = np.array([by_id[code.id].centre_mm for code in codes]).reshape(-1, 2)
    offset = apply_homography(matrix, centres_mm) - np.array([code.corners_px.mean(axis=0) for code in codes]).reshape(
        -1, 2
    )
    cell = np.linalg.norm(cell_axes_px(matrix, centres_mm, sheet.cell_mm), axis=1).max(axis=1)
    return np.asarray(np.linalg.norm(offset, axis=1) / cell, dtype=np.float64)


def _grouped(codes: tuple[FoundCode, ...]) -> dict[tuple[Paper, str, int], tuple[Sheet, list[FoundCode]]]:
    groups: dict[tuple[Paper, str, int], tuple[Sheet, list[FoundCode]]] = {}
    for code in codes:
        sheet = sheet_of_code().get(code.id)
        if sheet is not None:
            groups.setdefault((sheet.paper, sheet.role, sheet.edition), (sheet, []))[1].append(code)
    return groups


def _repeated(codes: tuple[FoundCode, ...] | list[FoundCode]) -> bool:
    ids = [code.id for code in codes]
    return len(set(ids)) < len(ids)


def _on_board(found: FoundSheet, codes: list[FoundCode], factor: NDArray[np.float64]) -> list[FoundCode]:
    """Those of the codes (in the small picture's pixels) that lie where a measured sheet has them, one of each at most."""
    by_id = {code.id: code for code in found.sheet.codes}
    nearest: dict[int, tuple[float, FoundCode]] = {}
    for code in codes:
        centre_mm = np.array([by_id[code.id].centre_mm])
        seen_px = (code.corners_px.mean(axis=0) + 0.5) * factor - 0.5
        off = float(np.linalg.norm(apply_homography(found.px_from_page, centre_mm)[0] - seen_px))
        cell = cell_axes_px(found.px_from_page, centre_mm, found.sheet.cell_mm)[0]
        if off < _CODE_SPREAD_CELLS * np.linalg.norm(cell, axis=0).max() and off < nearest.get(code.id, (np.inf,))[0]:
            nearest[code.id] = (off, code)
    return [code for _, code in nearest.values()]


def _apart(
    grey: NDArray[np.uint8], small: NDArray[np.uint8], factor: NDArray[np.float64], sheet: Sheet, group: list[FoundCode]
) -> list[FoundSheet]:
    """The sheets of one design in a picture that shows the same code more than once, three at most.

    Each sheet's codes lie together under one homography: one code proposes a sheet, the chequer has to confirm it, and
    the codes that lie where that sheet has them are its own and measure it anew; what is left over proposes the next.
    """
    left, found, placed = list(group), [], []  # type: list[FoundCode], list[FoundSheet], list[FoundCode]
    for _ in range(MOST_TRIED):
        if not left or len(found) > 2:
            break
        measured = measure_sheet(grey, small, factor, sheet, (left[0],))
        own = [] if measured is None else _on_board(measured, left, factor)
        if measured is not None and len(own) > 1:
            measured = measure_sheet(grey, small, factor, sheet, tuple(own)) or measured
        if measured is not None and not _same_place(measured, found):
            found.append(measured)
            placed += own
        left = [code for code in left[1:] if not any(code is one for one in own)]
    stray = [code.enlarged(factor) for code in group if not any(code is one for one in placed)]
    return [replace(sheet, astray=_beside(sheet, stray)) for sheet in found]


def _beside(found: FoundSheet, codes: list[FoundCode]) -> tuple[FoundCode, ...]:
    """Those of the codes that lie no further from their places on a measured sheet than a part of it may have been moved."""
    return tuple(
        code for code in codes if _off_cells(found.px_from_page, found.sheet, (code,))[0] < _FARTHEST_ASTRAY_CELLS
    )


def find_sheets(grey: NDArray[np.uint8]) -> Finding | Refusal:
    """Find and measure every sheet of the kit in a grey picture (h, w) uint8.

    Two upright sheets of one design are both measured; whether they are two prints, their numbers have to tell.
    Refuses with `no-sheet` (no code read), `sheet-unclear` (codes read, chequer not confirmed), `two-kits` (more than
    two upright sheets, two ground sheets, or two papers, in the picture).
    """
    seen: tuple[FoundCode, ...] = ()
    best: tuple[list[FoundSheet], tuple[FoundCode, ...]] = ([], ())
    long_side = max(grey.shape)
    tried = looks(long_side)
    for (level, quick), (_, quick_again) in zip(tried, [*tried[1:], (long_side, False)], strict=True):
        small, factor = shrink(grey, level)
        codes = find_codes(small, quick=quick)
        seen = seen or codes
        found = best[0] if _known(best[0], codes, factor) else _measured(grey, small, factor, codes)
        if _told(found) > _told(best[0]):
            best = found, codes
        uprights = [sheet for sheet in best[0] if sheet.sheet.role == "upright"]
        enough = len(uprights) > 1 or (len(uprights) == 1 and not _hardly_read(uprights[0], factor))
        enough = enough and (not quick_again or _whole(found, codes))
        if enough or (best[0] and level == long_side and not quick):
            return _checked(*best)
    for way in HARD_WAYS:
        codes = look_hard(grey, min(2.0, HARD_LOOK_PX / long_side), way)
        found = _measured(grey, grey, np.ones(2), codes)
        if found:
            return _checked(found, codes)
    if seen and _grouped(seen):
        return Refusal(
            code="sheet-unclear",
            reason=said(
                "A code of the sheet was read, but fewer than {least} of its chequer corners could be measured: the sheet is too "
                "small, too blurred, too oblique or covered.",
                least=MIN_SADDLES,
            ),
            remedy=said(
                "Photograph again from 1.5 to 2.5 m, square to the sheet, holding still, with the whole sheet in view."
            ),
        )
    if _mirrored(grey):
        return Refusal(
            code="mirrored",
            reason=said(
                "The picture is mirrored: the sheet's codes read only with left and right exchanged, as front cameras and some "
                "programs save them."
            ),
            remedy=said("Send the photograph as the camera wrote it, from the main camera, or mirror it back."),
        )
    return Refusal(
        code="no-sheet",
        reason=said(
            "No sheet of the kit was found in the picture: none is there, or it is too blurred, too small, covered too much or "
            "mirrored."
        ),
        remedy=said(
            "If the sheet is in the picture, photograph again from 1.5 to 2.5 m, the phone held still, in focus, the sheet "
            "whole and facing the camera. Else print the kit and stand the upright sheet under or beside the coupling."
        ),
    )


def _hardly_read(found: FoundSheet, factor: NDArray[np.float64]) -> bool:
    """Whether a sheet was found near the end of what this look reads: another one further away may have been missed."""
    return min(code.side_px for code in found.codes) < FAR_CODE_PX * float(factor.max())


def _told(found: list[FoundSheet]) -> tuple[int, int]:
    """How much was found: sheets, and codes on them."""
    return len(found), sum(len(sheet.codes) for sheet in found)


def _known(found: list[FoundSheet], codes: tuple[FoundCode, ...], factor: NDArray[np.float64]) -> bool:
    """Whether a look read nothing but what is known of sheets that are measured already: their codes, in their places."""
    there = 0
    for sheet in found:
        read = {code.id for code in sheet.codes}
        there += len(_on_board(sheet, [code for code in codes if code.id in read], factor))
    return bool(found) and there == sum(code.id in sheet_of_code() for code in codes)


def _whole(found: list[FoundSheet], codes: tuple[FoundCode, ...]) -> bool:
    """Whether all codes of each sheet were read, and none of a sheet that was not measured."""
    whole = all(len(sheet.codes) == len(sheet.sheet.codes) for sheet in found)
    return whole and sum(len(sheet.codes) for sheet in found) >= sum(code.id in sheet_of_code() for code in codes)


def only_one(finding: Finding) -> Finding | Refusal:
    """The finding, refused where a second upright sheet is in the picture: for what is read of one print."""
    if finding.second is None:
        return finding
    return Refusal(
        code="two-kits",
        reason=said("More than one kit is in the picture: the same sheet twice."),
        remedy=said(
            "Leave one upright sheet (and at most one ground sheet of the same print) in view, and photograph again."
        ),
    )


def _mirrored(grey: NDArray[np.uint8]) -> bool:
    """Whether the picture shows a sheet that is the wrong way round; its chequer has to confirm it, as for any sheet."""
    small, factor = shrink(np.ascontiguousarray(grey[:, ::-1]), LEVELS_PX[0])
    return bool(_measured(small, small, np.ones_like(factor), find_codes(small)))


def looks(long_side: int) -> list[tuple[int, bool]]:
    """Long sides of the picture in which codes are looked for, and whether quickly, in this order."""
    halved = [long_side]
    while halved[0] >= 2 * QUICK_PX[0]:
        halved.insert(0, round(long_side / 2 ** len(halved)))
    quick = [level for level in halved if level <= QUICK_PX[1]]
    thorough = [*(level for level in LEVELS_PX if level < 0.8 * long_side), long_side]
    return [*((level, True) for level in quick), *((level, False) for level in thorough)]


def _measured(
    grey: NDArray[np.uint8], small: NDArray[np.uint8], factor: NDArray[np.float64], codes: tuple[FoundCode, ...]
) -> list[FoundSheet]:
    found: list[FoundSheet] = []
    for sheet, group in _grouped(codes).values():
        if _repeated(group):
            found += _apart(grey, small, factor, sheet, group)
            continue
        measured = measure_sheet(grey, small, factor, sheet, tuple(group))
        if measured is not None:
            found.append(measured)
        elif len(group) > 1:  # some codes of one sheet and the others of another
            found += _apart(grey, small, factor, sheet, group)
    return [_with_missing_codes(grey, sheet) for sheet in found]


def _with_missing_codes(grey: NDArray[np.uint8], found: FoundSheet) -> FoundSheet:
    """With the codes that were not read, looked for once more where the measured chequer has them; beside there they are astray."""
    read = {code.id for code in (*found.codes, *found.astray)}
    more = [one for code in found.sheet.codes if code.id not in read for one in _read_at(grey, found, code)]
    if not more:
        return found
    in_place = _off_cells(found.px_from_page, found.sheet, tuple(more)) < _CODE_SPREAD_CELLS
    own = tuple(code for code, there in zip(more, in_place, strict=True) if there)
    beside = tuple(code for code, there in zip(more, in_place, strict=True) if not there)
    return replace(found, codes=(*found.codes, *own), astray=(*found.astray, *beside))


def _read_at(grey: NDArray[np.uint8], found: FoundSheet, code: Code) -> list[FoundCode]:
    """That code, thoroughly looked for around its place on a measured sheet: one at most, in the whole picture's pixels."""
    corners = apply_homography(found.px_from_page, code.corners_mm())
    middle = corners.mean(axis=0)
    reach = _AROUND_CODE * np.abs(corners - middle).max(axis=0)
    left, top = np.maximum(np.floor(middle - reach), 0).astype(int)
    right, bottom = np.ceil(middle + reach).astype(int)
    part = np.ascontiguousarray(grey[top : max(bottom, top), left : max(right, left)])
    if min(part.shape) < _LEAST_CODE_PX:
        return []
    small, factor = shrink(part, _PART_PX)
    read = [one.enlarged(factor) for one in find_codes(small) if one.id == code.id]
    return [replace(one, corners_px=one.corners_px + np.array([left, top])) for one in read[:1]]


def look_hard(grey: NDArray[np.uint8], ratio: float, way: HardWay = "as it is") -> tuple[FoundCode, ...]:
    """A last look, in the picture enlarged by `ratio` and forgiving wrong bits: for a sheet bleached by the sun.

    darkened: for black that the sun's white has eaten into; deblurred: for a sheet that is far out of focus. What is read
    only tells where to measure, in the picture as it is.
    """
    height, width = grey.shape
    size = (max(1, round(width * ratio)), max(1, round(height * ratio)))
    view = grey
    if way == "deblurred":
        view = deblurred(_resized(grey, (max(1, size[0] // 2), max(1, size[1] // 2))))
    elif way == "darkened":
        view = np.asarray(cv2.LUT(grey, _DARKENED), dtype=np.uint8)
    view = _resized(view, size)
    factor = np.array([width / size[0], height / size[1]])
    return tuple(code.enlarged(factor) for code in find_codes(view, keen=True))


def _resized(grey: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    if (grey.shape[1], grey.shape[0]) == size:
        return grey
    way = cv2.INTER_CUBIC if size[0] > grey.shape[1] else cv2.INTER_AREA
    return np.asarray(cv2.resize(grey, size, interpolation=way), dtype=np.uint8)


def _same_place(measured: FoundSheet, found: list[FoundSheet]) -> bool:
    return any(
        other.sheet is measured.sheet
        and np.linalg.norm(other.points_px.mean(axis=0) - measured.points_px.mean(axis=0)) < 2 * other.cell_px
        for other in found
    )


def _checked(found: list[FoundSheet], codes: tuple[FoundCode, ...]) -> Finding | Refusal:
    uprights = [sheet for sheet in found if sheet.sheet.role == "upright"]
    others = [sheet for sheet in found if sheet.sheet.role != "upright"]
    roles = [sheet.sheet.role for sheet in others]
    papers = sorted({sheet.sheet.paper for sheet in found})
    editions = {sheet.sheet.edition for sheet in uprights}
    if len(uprights) > 2:
        return Refusal(
            code="two-kits",
            reason=said("More than two upright sheets are in the picture."),
            remedy=said(
                "Leave one upright sheet in view, or two prints with numbers of their own, and photograph again."
            ),
        )
    if len(papers) > 1 or len(set(roles)) < len(roles) or len(editions) > 1:
        return Refusal(
            code="two-kits",
            reason=said(
                "More than one kit is in the picture: kits of different paper ({papers}).",
                papers=", ".join(papers),
            )
            if len(papers) > 1
            else said("More than one kit is in the picture: the same sheet twice."),
            remedy=said(
                "Leave one upright sheet (and at most one ground sheet of the same print) in view, and photograph again."
            ),
        )
    in_order = sorted(uprights, key=lambda sheet: float(sheet.points_px[:, 0].mean()))
    second = in_order[1] if len(in_order) > 1 else None
    return Finding(sheets=(*in_order[:1], *others), codes=codes, second=second)
