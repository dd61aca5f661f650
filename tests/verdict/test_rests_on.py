"""What the photographs cannot show of how the sheet stands is said beside the verdict, with what it would do.

Effects are compared with geometry by hand (lens, mark and sheet as they were set up), and with pictures in which the sheet
stands so (`tests.scenes.pasted`): inside the interval, noticed, or told.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photomeasure.asked.state import State
from photomeasure.interval.expanded import expanded
from photomeasure.pipeline import Result
from photomeasure.rules.load import default_rule
from photomeasure.scene.priors import DEG
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.geometry import lens_mm
from photomeasure.verdict.judge import Verdict, judge
from photomeasure.verdict.rests_on import CURE, rests_on
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, simulate
from tests.scenes.pasted import Stance
from tests.solution.test_stances import inside, measured

NEVER_OFF = Shot(corner_px=0.01, pick_px=0.1, scatter_mm=0.0)


def solved(shot: Shot, seed: int = 3) -> Estimate:
    found = estimate(simulate(shot, np.random.default_rng(seed)).scene)
    assert isinstance(found, Estimate)
    return found


def verdict_at(one: Estimate, height_mm: float) -> tuple[tuple[float, float], Verdict]:
    """The interval of a solution moved to a height, and the verdict on it."""
    U_mm = expanded(one).U_mm
    interval = (height_mm - U_mm, height_mm + U_mm)
    return interval, judge(
        height_mm, U_mm / 2, default_rule("ball-50"), State(coupled=True, laden=True), "ball-50", interval_mm=interval
    )


def figure(lines: tuple[str, ...], word: str, unit: str) -> list[float]:
    line = next(line for line in lines if word in line)
    return [float(number) for number in re.findall(rf"(\d+(?:\.\d+)?) {unit}", line)]


def told(one: Estimate) -> tuple[str, ...]:
    return rests_on(one, *verdict_at(one, one.height_mm))


def test_a_roll_is_the_distance_aside_times_its_sine() -> None:
    """Turned about a corner of the foot line: z' = z cos r + (x + half of it) sin r, of the two corners the worse one."""
    one = solved(replace(NEVER_OFF, aside_mm=(200.0, 200.0)))
    x, z = one.value("centre.x"), one.value("centre.z")
    expected = (abs(x) + 105.0) * np.sin(5.0 * DEG) - z * (1.0 - np.cos(5.0 * DEG))
    assert figure(told(one), "not on a corner", "mm")[0] == pytest.approx(expected, abs=1.0)


@pytest.mark.parametrize("height_mm", [900.0, 1400.0])
def test_a_coupling_before_or_behind_moves_by_how_steeply_it_is_seen(height_mm: float) -> None:
    """A ray from the lens through the mark: 100 mm of depth are 100 mm times its slope, (lens - centre) over their distance."""
    one = solved(replace(NEVER_OFF, lenses_mm=((0.0, -1900.0, height_mm),), aside_mm=(0.0, 0.0)))
    lens = lens_mm(one, 0)
    slope = (lens[2] - one.value("centre.z")) / (one.value("centre.y") - lens[1])
    assert figure(told(one), "before or behind", "mm")[1] == pytest.approx(100.0 * slope, abs=1.0)


def test_what_would_change_the_verdict_is_said() -> None:
    """Within by 3 mm beyond the guard band: 3 mm of gap would change it; within by 40 mm no usual gap would. The same above."""
    one = solved(replace(NEVER_OFF, aside_mm=(200.0, 200.0)))
    U_mm = expanded(one).U_mm
    near, far = rests_on(one, *verdict_at(one, 457.0 - U_mm)), rests_on(one, *verdict_at(one, 405.0))
    assert figure(near, "touch the ground", "mm") == [3.0] and figure(far, "touch the ground", "mm") == []
    assert 0.1 < figure(near, "not on a corner", "degrees")[1] < 1.5
    assert len(figure(far, "not on a corner", "degrees")) == 1
    above = rests_on(one, *verdict_at(one, 465.0 + U_mm))
    assert figure(above, "touch the ground", "mm") == []  # a gap makes it higher still
    assert 2.0 < figure(above, "not on a corner", "degrees")[1] < 4.0
    undecided = rests_on(one, *verdict_at(one, 460.0))
    assert not any("change the verdict" in line for line in undecided)


def test_what_photographs_show_is_not_said() -> None:
    assert told(solved(Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True))) == ()
    seen = told(solved(Shot(lenses_mm=((0.0, -2000.0, 1300.0),), ground_sheet=True)))
    assert len(seen) == 2 and "under the coupling" in seen[0] and seen[1] == CURE
    several = told(solved(Shot(lenses_mm=(LEFT, RIGHT))))
    assert any("touch the ground" in line for line in several)
    assert not any("before or behind" in line for line in several)


UNSEEN = {
    "gap of 20 mm": (Stance(gap_mm=20.0), "touch the ground"),
    "rolled by 5 degrees": (Stance(roll_rad=5.0 * DEG), "not on a corner"),
    "leaning by 12 degrees": (Stance(lean_rad=12.0 * DEG), "stand upright"),
    "100 mm behind": (Stance(behind_mm=100.0), "under the coupling"),
    "100 mm before": (Stance(behind_mm=-100.0), "under the coupling"),
}


FURTHER = {
    "rolled by 5 degrees": "leaning by 12 degrees",
    "100 mm before": "100 mm behind",
}  # relative that fails with it


@pytest.mark.parametrize(
    "what", [pytest.param(what, marks=pytest.mark.slow) if what in FURTHER else what for what in UNSEEN]
)
def test_a_mark_by_a_sheet_that_stands_wrongly_is_inside_or_told(what: str, tmp_path: Path) -> None:
    """One photograph, the centre marked, no ground sheet: nothing in the picture tells, so the words beside it do, and how much."""
    stance, word = UNSEEN[what]
    outcome, height_mm = measured(tmp_path, stance, "above", "pick")
    assert isinstance(outcome, Result)
    lines = rests_on(outcome.estimate, outcome.expanded.interval_mm, outcome.verdict)
    error_mm = abs(outcome.expanded.height_mm - height_mm)
    assert inside(outcome, height_mm) == (word == "under the coupling")  # the lens was level with the coupling
    if not inside(outcome, height_mm) and word != "touch the ground":
        assert figure(lines, word, "mm")[0] >= error_mm - 1.0
    assert any("touch the ground" in line for line in lines)
