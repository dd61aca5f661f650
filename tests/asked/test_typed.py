"""Numbers as people type them: one parser for every door."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calib.outcome.errors import InputError
from photomeasure.asked.limits import BAR_MM, PICK_U_PX, SLOPE_MM_PER_M, TAPE_MM
from photomeasure.asked.typed import number_typed


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("412", 412.0), ("412,5", 412.5), (" 412.5 mm ", 412.5), ("412MM", 412.0), ("41.2 cm", 412.0), ("0,412 m", 412.0),
        ("16 1/4 in", 412.75), ('16-1/4"', 412.75), ("16 1/4 inches", 412.75), ("16.25in", 412.75), ("16\u00bc\u2033", 412.75),
    ],
)  # fmt: skip
def test_a_length_as_people_write_it(text: str, mm: float) -> None:
    """An inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    assert number_typed(text, "--tape", TAPE_MM) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "mm", "abc", "4l2", "1.234,5", "1,234.5", "16 1/0 in", "412 px", "nan", "inf", "1e400", "412 413", "9" * 60]
)  # fmt: skip
def test_what_is_no_length_is_told_by_its_name(text: str) -> None:
    with pytest.raises(InputError, match="--tape") as told:
        number_typed(text, "--tape", TAPE_MM)
    assert "100 to 1500 mm" in told.value.expected and len(str(told.value)) < 400


def test_other_units_are_no_lengths() -> None:
    assert number_typed("0,4 px", "--pick-u", PICK_U_PX) == 0.4
    assert number_typed("5 mm/m", "--level-within", SLOPE_MM_PER_M) == 5.0
    for text in ("1 in", "1 cm"):
        with pytest.raises(InputError):
            number_typed(text, "--pick-u", PICK_U_PX)


@settings(max_examples=50)  # files of such texts: tests/fuzz
@given(st.text(max_size=60))
def test_any_text_is_a_number_within_the_limit_or_an_input_error(text: str) -> None:
    try:
        value = number_typed(text, "--bar-x", BAR_MM)
    except InputError:
        return
    assert BAR_MM.low <= value <= BAR_MM.high
