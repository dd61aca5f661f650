"""Which end of the trailer is taken for the front."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.levelling import _nose_side
from photomeasure.solution.estimate import finish
from photomeasure.solution.model import layout
from photomeasure.solution.pose_starts import all_starts
from photomeasure.solution.starts import first_guess
from tests.points.simulate_level import Side, draw_side


@pytest.mark.parametrize(
    ("first_mm", "second_mm", "side", "known_from"),
    [
        (400.0, 3400.0, "left", "sheet"),  # the trailer lies to the right of the sheet
        (3400.0, 400.0, "left", "sheet"),
        (-3400.0, -400.0, "right", "sheet"),
        (-300.0, 2700.0, "left", "sheet"),  # the rail begins a little in front of the sheet
        (2700.0, -300.0, "left", "sheet"),
        (-1500.0, 1500.0, "left", "first mark"),  # the sheet stands at the wheels
        (1500.0, -1500.0, "right", "first mark"),
    ],
)
def test_nose(first_mm: float, second_mm: float, side: str, known_from: str) -> None:
    seen = draw_side(Side(), np.random.default_rng(1))
    where = layout(seen.scene)
    x = first_guess(seen.scene, where, [options[0][0] for options in all_starts(seen.scene)])
    x[where.at("rail0.0", "rail0.1")] = first_mm, second_mm
    solved = finish(seen.scene, where, x)
    assert _nose_side(seen.asked, solved) == (side, known_from)
    assert _nose_side(replace(seen.asked, nose="right"), solved) == ("right", "said")
