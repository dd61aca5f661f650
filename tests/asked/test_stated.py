"""What is stated and kept for later: one bar after the other, a bay's plane, numbers that are none, answers of one rig."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from calib.kit.kit import kit
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import Bay
from photomeasure.asked.carried import Bar
from photomeasure.asked.case import case_text
from photomeasure.asked.fields import QUESTIONS
from photomeasure.asked.level import USUAL
from photomeasure.asked.limits import bars_meant
from photomeasure.asked.prints import RememberedPrint, remember_bars, remember_print, remembered_print


def test_a_bar_that_is_read_anew_leaves_the_other_one_as_it_was(tmp_path: Path) -> None:
    """A card told both with its own uncertainty; a ruler on one of them has its own, and the other keeps the card's."""
    by_card = Bars(x_mm=149.2, y_mm=149.6, x_u_mm=0.11, y_u_mm=0.12)
    remember_print(tmp_path, RememberedPrint(number=7, bars=by_card))
    across = remember_bars(tmp_path, 7, 149.5, None).bars
    assert (across.x_mm, across.x_u_mm, across.y_mm, across.y_u_mm) == (149.5, None, 149.6, 0.12)
    up = remember_bars(tmp_path, 7, None, 150.0).bars
    assert (up.x_mm, up.x_u_mm, up.y_mm, up.y_u_mm) == (149.5, None, 150.0, None)
    kept = remembered_print(tmp_path, 7)
    assert kept is not None and kept.bars == up


def bay(**plane: Any) -> Bay:
    corners = [[0.0, 0.0, 0.0], [50.0, 0.0, 0.0], [50.0, 0.0, 50.0], [0.0, 0.0, 50.0]]
    marker = {"id": 1, "corners_mm": corners}
    return Bay.model_validate(
        {"schema": "photomeasure/bay/1", "dictionary": "DICT_4X4_50", "u_mm": 0.3, "markers": [marker], **plane}
    )


def test_a_bays_plane_has_a_direction() -> None:
    assert bay().coupling_plane is None
    plane = {"point_mm": [0.0, 0.0, 0.0], "normal": [0.0, 1.0, 0.0], "u_mm": 5.0}
    assert bay(coupling_plane=plane).coupling_plane is not None
    with pytest.raises(ValidationError, match="has no direction"):
        bay(coupling_plane={**plane, "normal": [0.0, 0.0, 0.0]})


@pytest.mark.parametrize("field", ["height_mm", "placement_mm", "u_mm"])
@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_carried_is_finite(field: str, value: float) -> None:
    unit = [[float(i == j) for j in range(6)] for i in range(6)]
    sound: dict[str, Any] = {"tag": 26, "mean": [0.0] * 6, "covariance": unit, "with_height": [0.0] * 6, "effects": {}}
    sound |= {"height_mm": 400.0, "u_mm": 1.0}
    assert Bar.model_validate(sound).placement_mm == 0.0
    with pytest.raises(ValidationError, match="finite"):
        Bar.model_validate(sound | {field: value})


def test_no_answer_of_one_rig_becomes_the_next_ones() -> None:
    """Weights, drops, readings, names and what was touched are of that rig; kit, camera, rule and the yard's tape may stay."""
    assert {one.name for one in QUESTIONS if one.of_one_rig} == {
        "ball_load_kg", "stand_mass_kg", "stand_drop_mm", "load_drop_mm", "tag_by_gauge", "from_record", "sheet_untouched",
        "tape_mm", "tape_flat_mm", "rig", "note",
    }  # fmt: skip


def test_nothing_typed_is_nothing_and_bars_are_those_of_the_sheet_that_is_seen() -> None:
    assert case_text("  ", "--rig") is None and case_text(None, "--rig") is None
    for edition in (1, 2):
        upright = kit("a4", edition).upright
        assert bars_meant(upright, (None, None)) == upright.bars_mm


def test_usual_practice_is_level_or_a_degree_nose_down() -> None:
    assert (USUAL.nose_up_deg, USUAL.nose_down_deg) == (0.0, 1.0) and "our own" in USUAL.source
