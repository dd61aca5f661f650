"""A ground sheet that lies under the coupling, away from the upright sheet, tells the ground there.

The upright sheet stands 300 mm aside on something 20 mm high: by itself every height is 20 mm short. Points drawn from the
priors (`tests.points.simulate`), the height above the ground on which the ground sheet lies.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from photomeasure.interval.expanded import expanded
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.withdrawn import Reconciled, reconciled
from tests.points.groups import LEFT, MIDDLE, RIGHT, STANDING
from tests.points.simulate import Harm, Rng, Shot, simulate

BOARD_MM, ASIDE_MM = 20.0, 300.0


def just(value: float) -> Callable[[Rng], float]:
    return lambda rng: value


UNDER_THE_COUPLING = {"flat.x": just(ASIDE_MM), "flat.y": just(-140.0), "flat.yaw": just(0.1)}


def _settled(
    lenses_mm: tuple[tuple[float, float, float], ...], seed: int, count: int
) -> list[tuple[Reconciled, float]]:
    """Solutions, and how far each height is off."""
    rng, found = np.random.default_rng(seed), []
    shot = Shot(source="ball", aside_mm=(ASIDE_MM, ASIDE_MM), ground_sheet=True, lenses_mm=lenses_mm)
    for _ in range(count):
        rig = simulate(shot, rng, Harm(values={**UNDER_THE_COUPLING, "sheet.gap": just(BOARD_MM)}))
        stated = estimate(rig.scene)
        assert isinstance(stated, Estimate)
        done = reconciled(rig.scene, stated)
        found.append((done, done.estimate.height_mm - rig.height_mm))
    return found


def test_in_three_photographs_the_ground_under_the_coupling_counts() -> None:
    """And the step is told, to its height."""
    found = _settled((LEFT, MIDDLE, RIGHT), seed=31, count=8)
    assert sum(abs(error_mm) <= expanded(done.estimate).U_mm for done, error_mm in found) >= 7
    for done, _ in found:
        assert done.withdrawn == ("foot gap",)
        assert done.estimate.value("sheet.gap") == pytest.approx(BOARD_MM, abs=4.0)


def test_one_photograph_from_above_leaves_a_doubt() -> None:
    """There a step may be taken for a picture that was cut: whatever is blamed, something is."""
    assert all(done.causes for done, _ in _settled(STANDING, seed=31, count=6))


def test_a_ground_sheet_there_is_no_contradiction_where_the_ground_is_flat() -> None:
    rng = np.random.default_rng(32)
    for _ in range(6):
        shot = Shot(source="ball", aside_mm=(ASIDE_MM, ASIDE_MM), ground_sheet=True, lenses_mm=(LEFT, MIDDLE, RIGHT))
        rig = simulate(shot, rng, Harm(values=UNDER_THE_COUPLING))
        stated = estimate(rig.scene)
        assert isinstance(stated, Estimate)
        done = reconciled(rig.scene, stated)
        assert done.withdrawn == ()
        assert abs(done.estimate.height_mm - rig.height_mm) <= 1.5 * expanded(done.estimate).U_mm
