"""The ratio of a printed object's two axes, found together with the camera, so that a printer's feed bends no lens.

A sheet that came out of the printer 0.2 % too long looks, in views held one way up, exactly like pixels that are 0.2 %
too tall: fx and fy take the error up. Views turned by a quarter tell the two apart. What a rule reads of the print is
the prior; the photographs sharpen it as far as they can, and what remains goes into the camera's covariance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.calibration.adjust import adjusted_shared
from calib.calibration.solve import Solved, shared_scheme, solve_intrinsics
from calib.camera.lens_models import model_named
from calib.camera.views import PointsSeen

Array = NDArray[np.float64]

FREE = model_named("fx+fy+k1+k2+p1+p2")  # with it nothing is laid on the print that the lens may have done
ROUNDS = 6
STEP = 1e-3  # of the ratio, for the parabola through three solutions: far above rounding, far below a fold


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintRatio:
    """value: how much longer the object is along y, against x, than it was said to be (a share); u: standard."""

    value: float
    u: float


def stretched(views: Sequence[PointsSeen], share: float) -> list[PointsSeen]:
    """The views of an object that is longer by `share` along y."""
    factor = np.array([1.0, 1.0 + share, 1.0])
    return [replace(view, object_mm=view.object_mm * factor) for view in views]


def find_ratio(
    views: Sequence[PointsSeen], size_px: tuple[int, int], u: float, *, focal_px: float | None = None
) -> PrintRatio | None:
    """The ratio from the photographs and a prior of 0 with standard uncertainty `u`; None where nothing solves.

    The robust cost over noise^2 is a chi-squared; its parabola over the ratio gives value and variance. The variance
    is widened by as much as the views disagree (see `solve.clustering`).
    """
    scheme, value, information = shared_scheme(FREE, size_px), 0.0, u**-2
    solved = solve_intrinsics(views, size_px, focal_px=focal_px, model=FREE)
    for _ in range(ROUNDS):  # the first solution's noise holds the wrong ratio, which would count as noise
        if solved is None:
            return None
        costs = []
        for share in (-STEP, STEP):
            moved = adjusted_shared(
                stretched(views, value + share), solved.adjusted.poses, solved.adjusted.shared, scheme
            )
            if moved is None:
                return None
            costs.append(moved[1])
        variance = solved.adjusted.noise**2 * solved.clustering
        slope = (costs[1] - costs[0]) / (2 * STEP) / variance
        bend = (costs[1] + costs[0] - 2 * solved.adjusted.cost) / STEP**2 / variance
        information = max(bend / 2, 0.0) + u**-2
        step = (slope / 2 + value * u**-2) / information
        if abs(step) < 0.1 / math.sqrt(information):
            break
        value -= step
        solved = solve_intrinsics(stretched(views, value), size_px, model=FREE, start=solved)
    return PrintRatio(value=value, u=1 / math.sqrt(information))


def with_ratio_u(solved: Solved, views: Sequence[PointsSeen], size_px: tuple[int, int], u: float) -> Solved:
    """The solution with a covariance that holds the ratio's uncertainty: the intrinsics' shift with it, squared."""
    moved = solve_intrinsics(stretched(views, u), size_px, model=solved.model, start=solved)
    if moved is None:
        return solved
    shift = moved.intrinsics - solved.intrinsics
    return replace(solved, covariance=solved.covariance + np.outer(shift, shift))
