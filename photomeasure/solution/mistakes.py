"""What else may have been the case than what was stated: each possible mistake as a direction in the residuals.

A mistake of size m would change the whitened residuals by m times a column. One prior by itself is a unit column; a mistake
that touches several rows (both check bars typed from memory, a picture that an editor stretched) is a column over all of
them. `contradicted` tests each against the photographs (score test, from memory: Rao 1948; Baarda's w-test where the column
is a unit vector).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.paper import PAPER_WIDTH
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import centre_px, intrinsics_of

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]

# Rows, pixels (N, 2), change of the rows by a pixel right and down (rows, 2), photograph
Seen = tuple[slice, Array, Array, int]

# Real cameras and rolling shutters stretch and shear by 0.05-0.2 % (published; standard deviation, judgement).
HONEST_EDIT = 0.001
BARS, SKEW, ASPECT = "check bars", "skew", "aspect"
NOTICE_SIGMAS = 3.5  # 0.05 % of honest statements each
# A length typed as it is drawn, on a print that looks smaller: nobody measured is so common that less will do, unless the paper's
# width speaks for the length. One print in fifty that is true to scale would be doubted if what checks it were no surer than it
# claims (`tests/experiments/print_study.md`). Any other length may be of another print, or of the one that this is a copy of:
# the paper's width and the ball's size together, one in 200.
UNREAD_SIGMAS, OF_ANOTHER_SIGMAS = 2.1, 2.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """rows (k,), values (k,): change of the whitened residuals by a mistake of size one, 0 in all other rows.

    honest_u: standard deviation of its size where nothing is wrong (0: none at all is honest). limits: test values from
    which it is believed, of a negative and of a positive size.
    """

    quantity: str
    rows: NDArray[np.int64]
    values: Array
    honest_u: float = 0.0
    limits: tuple[float, float] = (NOTICE_SIGMAS, NOTICE_SIGMAS)


FEW = 200_000  # numbers: up to so many a whole matrix is quicker than a sparse one, which is slow to load too


def columns_of(found: Sequence[Mistake], size: int) -> Array | csr_array:
    """(A, size) one row a mistake: most of them touch one of the many residuals."""
    if len(found) * size <= FEW:
        columns = np.zeros((len(found), size))
        for row, one in zip(columns, found, strict=True):
            row[one.rows] = one.values
        return columns
    from scipy.sparse import csr_array

    first = np.cumsum([0, *(len(one.rows) for one in found)])
    at = np.concatenate([one.rows for one in found])
    return csr_array((np.concatenate([one.values for one in found]), at, first), shape=(len(found), size))


def mistakes(solved: Estimate) -> tuple[Mistake, ...]:
    """Every mistake that is looked for in a solution, the prior rows in their order first.

    Not that the paper is of another size, for nobody states it: where it speaks against the bars, it is those that are asked about.
    """
    rows = solved.rows
    found = []
    known = np.flatnonzero(~rows.observed)
    alone = np.ones(1)
    for row, number in zip(known[:, None], known.tolist(), strict=True):
        if rows.quantities[number] != PAPER_WIDTH:
            found.append(Mistake(quantity=rows.quantities[number], rows=row, values=alone))
    bars = both_bars(solved)
    if bars is not None:
        found.append(replace(_of_column(BARS, bars), limits=(NOTICE_SIGMAS, _over_limit(solved))))
    seen = _seen(solved)
    by_photo = [_edits(solved, photo, seen) for photo in range(solved.scene.n_photos)]
    for number, quantity in enumerate((SKEW, ASPECT)):
        columns = [edits[number] for edits in by_photo]
        if len(columns) > 1:  # all of them edited alike
            columns.append(np.sum(columns, axis=0))
        found += [_of_column(quantity, column, HONEST_EDIT) for column in columns]
    return tuple(found)


def _over_limit(solved: Estimate) -> float:
    """From which test value it is believed that both bars were typed longer than they are."""
    bars = [prior for prior in solved.scene.priors if prior.quantity in ("check bar x", "check bar y")]
    if solved.scene.paper_vouches:
        return NOTICE_SIGMAS
    if all(bar.mean == solved.scene.bars_mm["xy".index(bar.quantity[-1])] for bar in bars):
        return UNREAD_SIGMAS
    return OF_ANOTHER_SIGMAS if PAPER_WIDTH in solved.rows.quantities else NOTICE_SIGMAS


def _of_column(quantity: str, column: Array, honest_u: float = 0.0) -> Mistake:
    at = np.flatnonzero(column)
    return Mistake(quantity=quantity, rows=at, values=column[at], honest_u=honest_u)


def both_bars(solved: Estimate) -> Array | None:
    """(R,) by how much residuals change where both bars are typed longer than they are by the same share."""
    rows, means = solved.rows, {prior.quantity: prior for prior in solved.scene.priors}
    at = [rows.quantities.index(f"check bar {axis}") for axis in "xy" if f"check bar {axis}" in rows.quantities]
    if len(at) < 2:
        return None
    column = np.zeros(len(rows.residual))
    for row in at:
        prior = means[rows.quantities[row]]
        column[row] = prior.mean / prior.u
    return column


def _edits(solved: Estimate, photo: int, seen: Sequence[Seen]) -> tuple[Array, Array]:
    """(R,) twice: the residuals' change where one photograph was sheared along its rows, and where it was stretched down."""
    scene, rows = solved.scene, solved.rows
    skew, aspect = np.zeros(len(rows.residual)), np.zeros(len(rows.residual))
    middle_y = float(intrinsics_of(scene, solved.where, solved.x, photo)[3])
    for own, px, across, of_photo in seen:
        if of_photo != photo:
            continue
        down = np.repeat(px[:, 1] - middle_y, len(across) // len(px))
        skew[own], aspect[own] = across[:, 0] * down, across[:, 1] * down
    return skew, aspect


def _seen(solved: Estimate) -> list[Seen]:
    """Of each sighting."""
    scene, places, found = solved.scene, solved.rows.places, list[Seen]()
    for view, own in zip(scene.planes, places.planes, strict=True):
        found.append((own, view.px, _each_way(view.sigma_px), view.photo))
    for point, own in zip(scene.points, places.points, strict=True):
        found.append((own, point.px[None], _each_way(np.array([point.sigma_px])), point.photo))
    for seen, own in zip(scene.markers, places.markers, strict=True):
        found.append((own, seen.px, _each_way(seen.sigma_px), seen.photo))
    for outline, own in zip(scene.outlines, places.outlines, strict=True):
        away = outline.px - centre_px(scene, solved.where, solved.x, outline)
        away /= np.linalg.norm(away, axis=1, keepdims=True)
        found.append((own, outline.px, -away / outline.sigma_px[:, None], outline.photo))
    return found


def _each_way(sigma_px: Array) -> Array:
    """(2 N, 2) of points with standard uncertainties (N,): right moves their first row, down the second."""
    ways = np.zeros((len(sigma_px), 2, 2))
    ways[:, 0, 0] = ways[:, 1, 1] = 1.0 / sigma_px
    return ways.reshape(-1, 2)
