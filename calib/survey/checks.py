"""Tests of a solved survey: which tape or marker does not fit the others, and what to do about it.

Reference for the test of single observations: W. Baarda, "A testing procedure for use in geodetic networks", 1968.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calib.survey.data import MarkerCheck, Survey, Tape, TapeCheck
from calib.survey.network import NetworkSolution, Observed, Unknowns, distance
from calib.words.said import said, said_many

Array = NDArray[np.float64]

SUSPICIOUS_W = 3.29  # 0.1 %, two-sided
SUSPICIOUS_MISS = 3.0  # times the median marker's miss
LEAST_TAPES_TO_CHECK = 3


def tape_check(tape: Tape, state: Unknowns, covariance: Array, row: dict[str, int]) -> TapeCheck:
    """A taped distance against the solved points: residual over what is left of its variance.

    covariance: (n, n) of all unknowns, mm; row: of each named point.
    """
    line = distance(state, row[tape.start], row[tape.end])
    solved_variance = float(line.slopes @ covariance[np.ix_(line.columns, line.columns)] @ line.slopes)
    residual = tape.distance_mm - line.residual
    # the solved points have used this tape: what is left of its variance is the residual's
    u = math.sqrt(max(tape.u_mm**2 - solved_variance, (0.05 * tape.u_mm) ** 2))
    w = residual / u
    return TapeCheck(tape=tape, solved_mm=line.residual, residual_mm=residual, w=w, suspicious=abs(w) > SUSPICIOUS_W)


def marker_checks(
    adjustment: NetworkSolution, final: Observed, covariance: Array, ids: list[int]
) -> tuple[MarkerCheck, ...]:
    """How well each marker's corners are met, by their mean over its photographs, px. covariance: (n, n)."""
    sizes: dict[int, list[float]] = {number: [] for number in range(len(ids))}
    for seen, miss in zip(final.photos, adjustment.misses, strict=True):
        lengths = np.linalg.norm(miss, axis=1)
        for number in np.unique(seen.points[seen.points < 4 * len(ids)] // 4):
            sizes[int(number)].append(float(np.sqrt((lengths[seen.points // 4 == number] ** 2).mean())))
    # a marker that moved between photographs misses in some of them: the mean shows it, a median would not
    misses = np.array([float(np.mean(sizes[number])) for number in range(len(ids))])
    usual = float(np.median(misses))
    variances = np.diag(covariance)
    return tuple(
        MarkerCheck(
            id=marker,
            corners_mm=adjustment.state.points[4 * number : 4 * number + 4],
            side_mm=float(adjustment.state.sides[number]),
            u_mm=float(np.sqrt(variances[12 * number : 12 * number + 12].mean())),
            photos=len(sizes[number]),
            miss_px=float(misses[number]),
            suspicious=bool(misses[number] > SUSPICIOUS_MISS * usual),
        )
        for number, marker in enumerate(ids)
    )


def warnings_of(survey: Survey, tapes: tuple[TapeCheck, ...], markers: tuple[MarkerCheck, ...]) -> tuple[str, ...]:
    """What to look at again, in words: suspicious tapes and markers."""
    found = [
        said(
            "The tape {tape} reads {distance_mm:.0f} mm where {solved_mm:.1f} mm was solved: tape it again.",
            tape=check.tape.name,
            distance_mm=check.tape.distance_mm,
            solved_mm=check.solved_mm,
        )
        for check in tapes
        if check.suspicious
    ]
    found += [
        said(
            "Marker {marker} misses by {miss_px:.1f} px: it moved between photographs, is not flat, or its id is "
            "there twice.",
            marker=check.id,
            miss_px=check.miss_px,
        )
        for check in markers
        if check.suspicious
    ]
    found += [
        said("Marker {marker} was seen in one photograph only; add another from a different place.", marker=check.id)
        for check in markers
        if check.photos < 2
    ]
    if len(tapes) < LEAST_TAPES_TO_CHECK:
        found.append(
            said_many(
                "{count} tape cannot show that one of them is wrong; three or more can.",
                "{count} tapes cannot show that one of them is wrong; three or more can.",
                count=len(tapes),
            )
        )
    return tuple(found)
