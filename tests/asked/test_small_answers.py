"""Small answers at their bounds: bars, notes, stand tests, what a bar tag carries on."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from calib.outcome.errors import InputError
from photomeasure.asked.carried import N_CARRIED, Bar
from photomeasure.asked.case import LONGEST, LONGEST_NOTE, case_text
from photomeasure.asked.facts import bar_value
from photomeasure.asked.limits import check_length
from photomeasure.asked.sag import Sag


@pytest.mark.parametrize(("mm", "told"), [(150.0, "150.0"), (150.5, "150.5"), (149.7, "149.7"), (149.73, "149.73")])
def test_a_bars_reading_is_told_as_its_box_has_it(mm: float, told: str) -> None:
    """On the grid of half millimetres with its tenth, else as it was typed."""
    assert bar_value(mm) == told


@pytest.mark.parametrize(("reading_mm", "fits"), [(226.0, True), (274.0, True), (224.0, False), (276.0, False)])
def test_a_reading_is_of_a_bar_about_as_long_as_the_one_in_the_picture(reading_mm: float, fits: bool) -> None:
    """Up to a tenth off either way: no printer scales by as much (`BAR_RANGE`, judgement)."""
    if fits:
        check_length("Bar X", reading_mm, 250.0)
    else:
        with pytest.raises(InputError, match=r"it is drawn 250 mm long"):
            check_length("Bar X", reading_mm, 250.0)


def test_a_note_may_be_longer_than_what_else_is_said_of_a_case() -> None:
    assert case_text("x" * LONGEST_NOTE, "The note") == "x" * LONGEST_NOTE
    for longer, name in ((LONGEST_NOTE, "The note"), (LONGEST, "The rig's name")):
        with pytest.raises(InputError, match="characters long"):
            case_text("x" * (longer + 1), name)


def test_half_a_stand_test_is_told_of_in_no_sentence() -> None:
    assert Sag(stand_drop_mm=12.0).text == "" == Sag(stand_mass_kg=80.0).text
    assert Sag(stand_drop_mm=12.0, stand_mass_kg=80.0).text == "12 mm down under 80 kg on the bar"


@pytest.mark.parametrize(("more", "count"), [((), N_CARRIED), ((27,), 2 * N_CARRIED), ((27, 28), 3 * N_CARRIED)])
def test_each_bar_tag_carries_six_numbers(more: tuple[int, ...], count: int) -> None:
    def bar(rows: int, skewed: float = 0.0) -> Bar:
        square = [[100.0 if i == j else 0.0 for j in range(rows)] for i in range(rows)]
        square[0][1] += skewed
        return Bar.model_validate(
            {
                "tag": 26, "more": more, "mean": [0.0] * rows, "covariance": square, "with_height": [0.0] * rows,
                "height_mm": 400.0, "u_mm": 1.0, "effects": {"depth": [0.0] * (rows + 1)},
            }
        )  # fmt: skip

    assert len(bar(count).mean) == count
    for wrong in (count - 6 if more else count + 1, count + 6):
        with pytest.raises(ValidationError, match="six for each bar tag"):
            bar(wrong)
    with pytest.raises(ValidationError, match="not symmetric"):
        bar(count, skewed=0.01)
