"""With what a browser goes on by itself from the last solution, while a mark is dragged.

One marked photograph: the ray through the mark meets the upright plane in which the centre was solved. With one mark nothing
else gives way (two pixels and a depth tell three coordinates), so that this is the solution itself, lens distortion included.

Several: the height's slope by each mark, from the one linearisation at the solution (gradient x covariance x Jacobian^T).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.pipeline import Result, Standing
from photomeasure.scene.scene import CENTRE
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.geometry import solved_camera
from photomeasure.uncertainty.printed import decimals
from photomeasure.verdict.conformity import measured_height
from photomeasure.verdict.judge import Verdict, decided

_REACH_MM, _STEP_MM, _FINE_MM = 400.0, 10.0, 0.01  # how far verdicts are told around the figure, and how exactly


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveTable:
    """cameras: of each photograph intrinsics (9,), rotation (9,) and translation (3,), camera from world; plane_mm: of the
    centre's depth; slopes: millimetres of height a pixel, (right, down), of each marked photograph; verdicts: (from this height
    on, the verdict), upwards."""

    cameras: tuple[tuple[list[float], list[float], list[float]], ...]
    plane_mm: float
    ball_mm: float | None
    slopes: tuple[tuple[float, float] | None, ...]
    verdicts: tuple[tuple[float, str], ...]
    decimals: int

    def as_json(self) -> dict[str, Any]:
        return {
            "cameras": [{"lens": lens, "turn": turn, "move": move} for lens, turn, move in self.cameras],
            "plane": self.plane_mm,
            "ball": self.ball_mm,
            "slopes": self.slopes,
            "verdicts": self.verdicts,
            "decimals": self.decimals,
        }


def first_table(standing: Standing) -> LiveTable:
    """Before anything is marked: where the cameras stood by the sheets alone, the centre in the upright sheet's plane."""
    count = len(standing.views)
    return LiveTable(
        cameras=tuple(map(_numbers, standing.cameras)),
        plane_mm=0.0,
        ball_mm=_ball_mm(standing),
        slopes=(None,) * count,
        verdicts=(),
        decimals=1,
    )


def table_of(standing: Standing, result: Result) -> LiveTable:
    """About the last solution."""
    solved, count = result.estimate, len(result.views)
    known = result.expanded
    return LiveTable(
        cameras=tuple(_numbers(solved_camera(solved, photo)) for photo in range(count)),
        plane_mm=solved.value(CENTRE[1]),
        ball_mm=_ball_mm(standing),
        slopes=tuple(_slope(solved, photo) for photo in range(count)),
        verdicts=_verdicts(result),
        decimals=decimals((known.interval_mm[1] - known.interval_mm[0]) / 2.0),
    )


def _numbers(camera: SolvedCamera) -> tuple[list[float], list[float], list[float]]:
    parts = (camera.intrinsics, camera.cam_from_world.ravel(), camera.world_in_cam_mm)
    intrinsics, turn, move_mm = ([*map(float, part)] for part in parts)
    return intrinsics, turn, move_mm


def _ball_mm(standing: Standing) -> float | None:
    """The ring's size; none where no bare ball is to be seen."""
    request = standing.request
    return None if request.coupling == "pin" or request.state.coupled is True else request.ball_diameter_mm


def _slope(solved: Estimate, photo: int) -> tuple[float, float] | None:
    """Millimetres of height by the mark's two pixel coordinates: a pixel moves its residual by 1/sigma."""
    order = [point.photo for point in solved.scene.points]
    if photo not in order:
        return None
    picks: NDArray[np.int64] = np.flatnonzero([quantity == "pick" for quantity in solved.rows.quantities])
    rows = picks[2 * order.index(photo) : 2 * order.index(photo) + 2]
    sigma_px = solved.scene.points[order.index(photo)].sigma_px
    slope = -solved.gradient @ solved.covariance @ solved.rows.jacobian[rows].T / sigma_px
    return float(slope[0]), float(slope[1])


def _verdicts(result: Result) -> tuple[tuple[float, str], ...]:
    """The verdict at every height near the figure, if everything else stays as it is."""
    known, verdict = result.expanded, result.verdict
    low = max(known.height_mm - _REACH_MM, 0.0)

    def at(height_mm: float) -> str:
        shift = height_mm - known.height_mm
        return _verdict_at(result, verdict, height_mm, (known.interval_mm[0] + shift, known.interval_mm[1] + shift))

    band = verdict.band
    # at a band's own ends it is too close to call, however narrow that is: steps alone would stride over it
    ends = [] if band is None else [end for end in (band.low_mm, band.high_mm) if end is not None]
    steps = [low + step * _STEP_MM for step in range(1, int(2 * _REACH_MM / _STEP_MM) + 1)]
    found, before = [(low, at(low))], low
    for upper in sorted({*steps, *(end for end in ends if low < end)}):
        if at(upper) != found[-1][1]:
            below, above = before, upper
            while above - below > _FINE_MM:
                middle = (below + above) / 2.0
                below, above = (middle, above) if at(middle) == found[-1][1] else (below, middle)
            found.append((above, at(upper)))
        before = upper
    return tuple(found)


def _verdict_at(result: Result, verdict: Verdict, height_mm: float, interval_mm: tuple[float, float]) -> str:
    band, request = verdict.band, result.request
    if band is None:
        return verdict.verdict
    known = measured_height(height_mm, result.expanded.u_mm, interval_mm=interval_mm)
    decision = request.rule.decision if request.decision is None else request.decision
    return decided(known, known.probabilities(band.low_mm, band.high_mm), band, decision)
