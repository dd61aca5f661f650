"""Marks that cannot be what they are said to be, what is judged of a pitch, and what would make it surer: without a picture."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from photomeasure import levelling
from photomeasure.asked.level import Allowed
from photomeasure.levelling import LEAST_APART_PX, _better, _misplaced, _verdict
from photomeasure.solution.estimate import Estimate, estimate
from tests.points.simulate_level import Side, draw_side

GROUND, RAIL = ((500.0, 2300.0), (3000.0, 2300.0)), ((400.0, 1900.0), (3100.0, 1900.0))
STEEP = ((500.0, 1500.0), (3000.0, 2700.0))  # a ground line that runs down across the picture
Pair = tuple[tuple[float, float], tuple[float, float]]


def code_of(ground: Pair, rail: Pair, *, second: bool = False) -> str | None:
    """The refusal of one photograph's marks; second: of the second of two, the first one's being in order."""
    asked = SimpleNamespace(
        ground_px=(*GROUND, *ground) if second else ground, rail_px=(*RAIL, *rail) if second else rail
    )
    views = [
        SimpleNamespace(photo=SimpleNamespace(path=Path(name), size_px=(4000, 3000))) for name in ("a.jpg", "b.jpg")
    ]
    found = _misplaced(asked, tuple(views[: 1 + second]))  # type: ignore[arg-type]
    if found is not None:
        assert found.reason.count("b.jpg" if second else "a.jpg") == 1
    return None if found is None else found.code


@pytest.mark.parametrize("second", [False, True])
@pytest.mark.parametrize(
    ("ground", "rail", "code"),
    [
        (GROUND, RAIL, None),
        (((-0.5, 2999.5), (3999.5, 2999.5)), RAIL, None),  # the picture's own corners (pixel centres are whole numbers)
        (((-0.6, 2300.0), GROUND[1]), RAIL, "mark-outside"),
        (GROUND, (RAIL[0], (3999.6, 1900.0)), "mark-outside"),
        (GROUND, (RAIL[0], (3100.0, -1.0)), "mark-outside"),
        ((GROUND[0], (GROUND[0][0] + LEAST_APART_PX - 1.0, 2300.0)), RAIL, "marks-too-near"),
        (GROUND, (RAIL[0], (RAIL[0][0], RAIL[0][1] + LEAST_APART_PX - 1.0)), "marks-too-near"),
        (RAIL, GROUND, "marks-exchanged"),
        (STEEP, ((2000.0, 1700.0), (3100.0, 2000.0)), None),
        (STEEP, ((2000.0, 2500.0), (3100.0, 2700.0)), "marks-exchanged"),
    ],
)
def test_marks_that_cannot_be_meant_are_refused(ground: Pair, rail: Pair, code: str | None, second: bool) -> None:
    assert code_of(ground, rail, second=second) == code


@pytest.mark.parametrize(
    ("pitch_deg", "verdict"),
    [(0.0, "within"), (1.5, "nose-up"), (-2.5, "nose-down"), (0.95, "undecided"), (-1.95, "undecided")],
)
def test_a_pitch_is_judged_as_a_height_is(pitch_deg: float, verdict: str) -> None:
    """Allowed from 2 degrees nose-down to 1 nose-up, u 0.2: by the normal distribution (scipy)."""
    found, p_inside = _verdict(pitch_deg, 0.2, Allowed(nose_up_deg=1.0, nose_down_deg=2.0, source="typed"))
    of_normal = norm(pitch_deg, 0.2)
    assert found == verdict
    assert p_inside == pytest.approx(of_normal.cdf(1.0) - of_normal.cdf(-2.0), abs=1e-9)


def test_advice_is_about_the_largest_part_and_says_higher_where_the_lens_is_low(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solved = estimate(draw_side(Side(), np.random.default_rng(1)).scene)
    assert isinstance(solved, Estimate)

    def told(largest: str, low_mm: float) -> str:
        monkeypatch.setattr("photomeasure.interval.budget.budget", lambda _: [SimpleNamespace(quantity=largest)])
        monkeypatch.setattr(levelling, "_LOW_LENS_MM", low_mm)
        return " ".join(_better(solved))

    assert "Hold the phone higher" in told("sheet roll", 1e6) and "foot line" in told("sheet roll", 0.0)
    assert "Mark the rail" in told("marks on the rail", 1e6) and "(--level-within)" in told("ground evenness", 0.0)
    assert told("what nobody can do anything about", 0.0) == ""
