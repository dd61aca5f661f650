"""How boxes look: straightened, in their own grid, ink from paper to black, beside what a blank sheet prints there."""

from __future__ import annotations

import numpy as np

from calib.finding.box_looks import GRID, box_looks
from calib.finding.sheets import Finding, find_sheets
from calib.kit.kit import kit
from tests.experiments.boxes_pictures import CONDITIONS, answers_of, draw_mark, printed, take

SHEET = kit("a4").upright
BY_NAME = {condition.name: condition for condition in CONDITIONS}


def test_a_filled_box_is_dark_and_the_others_look_as_printed() -> None:
    rng = np.random.default_rng(3)
    light, answers = printed("a4", 468_779), answers_of(SHEET, rng)
    ticked = np.array([box.value in answers[box.question] for box in SHEET.boxes])
    for box in np.array(SHEET.boxes, dtype=object)[ticked]:
        draw_mark(light, SHEET, box, "fill", 2.0, rng)
    grey = take(light, SHEET, BY_NAME["12 MP, 1.5-2.5 m"], rng)
    found = find_sheets(grey)
    assert isinstance(found, Finding)
    upright = found.of_role("upright")
    assert upright is not None
    seen = box_looks(grey, upright)
    assert seen.looks.shape == (len(SHEET.boxes), 3, GRID, GRID) and seen.seen.all()
    assert seen.excess()[ticked].min() > 0.3 and np.abs(seen.excess()[~ticked]).max() < 0.1
    outline = seen.looks[~ticked, 1] > 0.25  # of boxes and words as printed: what is dark there is dark in the picture
    assert seen.looks[~ticked, 0][outline].mean() > 3.0 * np.abs(seen.looks[~ticked, 0][~outline]).mean()


def test_a_box_outside_the_picture_is_not_seen() -> None:
    rng = np.random.default_rng(3)
    grey = take(printed("a4", 468_779), SHEET, BY_NAME["1600 px, 1.5 m"], rng)
    found = find_sheets(grey)
    assert isinstance(found, Finding)
    upright = found.of_role("upright")
    assert upright is not None
    cut = np.ascontiguousarray(grey[:, : int(0.86 * grey.shape[1])])
    seen = box_looks(cut, upright).seen
    right_of = np.array([box.question == "bar-y" for box in SHEET.boxes])
    assert seen[right_of].mean() < 0.1 and seen[~right_of].mean() > 0.8  # the sheet leans a little
