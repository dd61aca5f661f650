"""What counts as the same: to a reader of the printed digit, not to the last bit."""

from __future__ import annotations

from typing import Any

import pytest

from photomeasure.record.schema import BudgetRow, Record
from photomeasure.repeat.compare import compare
from tests.test_terminal import record, refused


def changed(one: Record, **changes: Any) -> Record:
    return one.model_copy(update=changes)


def keys(one: Record, other: Record) -> list[str]:
    return [difference.key for difference in compare(one, other).differing]


def test_a_record_is_the_same_as_itself_made_at_another_time() -> None:
    one = record()
    found = compare(one, changed(one, computed="2031-01-01T00:00:00+00:00", version="9", software={"numpy": "9"}))
    assert found.identical and not found.differing and found.largest_mm == 0.0


def test_the_last_bits_are_no_difference_but_are_told() -> None:
    one = record()
    assert one.height_mm is not None
    found = compare(one, changed(one, height_mm=one.height_mm + 3e-9))
    assert not found.identical and not found.differing
    assert found.largest_mm == pytest.approx(3e-9, rel=1e-3) and found.largest_key == "height_mm"


@pytest.mark.parametrize(("U_mm", "digit"), [(2.96, 0.1), (9.9, 0.1), (10.1, 1.0)])
def test_half_of_the_printed_digit_is_where_a_length_differs(U_mm: float, digit: float) -> None:
    """Printed to a tenth of a millimetre, from U = 10 mm on to a whole one (`photomeasure.shown.words.decimals`)."""
    one = record(U_mm=U_mm, height=400.0)
    assert keys(one, changed(one, height_mm=400.0 + 0.49 * digit)) == []
    assert keys(one, changed(one, height_mm=400.0 - 0.51 * digit)) == ["height_mm"]


@pytest.mark.parametrize(("change", "differs"), [(0.0004, False), (-0.0006, True)])
def test_probabilities_are_compared_as_printed(change: float, differs: bool) -> None:
    one = record()
    assert one.p_inside is not None
    assert keys(one, changed(one, p_inside=one.p_inside + change)) == (["p_inside"] if differs else [])


def test_verdicts_and_words_have_to_be_the_same() -> None:
    one = record()
    assert keys(one, changed(one, verdict="undecided")) == ["verdict"]
    assert keys(one, changed(one, sentence="Said otherwise.")) == ["sentence"]
    assert keys(one, changed(one, indicative=True)) == ["indicative"]


def test_a_sentence_may_round_its_figures_to_the_neighbouring_digit() -> None:
    one = changed(record(), sentence="412.5 mm, probability 98.8 %")
    assert keys(one, changed(one, sentence="412.6 mm, probability 98.8 %")) == []
    assert keys(one, changed(one, sentence="412.7 mm, probability 98.8 %")) == ["sentence"]
    assert keys(one, changed(one, sentence="412.50 mm, probability 98.8 %")) == ["sentence"]


def test_rows_of_the_budget_may_change_places_but_not_go() -> None:
    rows = [BudgetRow(quantity=name, u_mm=0.5, share=0.5) for name in ("depth", "pick")]
    one = changed(record(), budget=rows)
    assert keys(one, changed(one, budget=rows[::-1])) == []
    assert keys(one, changed(one, budget=rows[:1])) == ["budget.pick"]


@pytest.mark.parametrize(("change", "differs"), [(0.0004, False), (-0.0006, True)])
def test_contributions_are_compared_as_the_report_prints_them(change: float, differs: bool) -> None:
    """Three decimals of a millimetre (`photomeasure.shown.report.budget_table`)."""
    one = changed(record(), budget=[BudgetRow(quantity="depth", u_mm=0.5, share=1.0)])
    other = changed(one, budget=[BudgetRow(quantity="depth", u_mm=0.5 + change, share=1.0)])
    assert keys(one, other) == (["budget.depth.u_mm"] if differs else [])


def test_a_refusal_against_a_measurement_differs_in_all_that_matters() -> None:
    assert {"height_mm", "verdict", "refusal", "interval_mm"} <= set(keys(record(), refused()))


def test_more_or_fewer_warnings_differ() -> None:
    one = record()
    assert keys(one, changed(one, warnings=[*one.warnings, "One more."])) == ["warnings"]


def test_a_change_is_now_less_recorded() -> None:
    one = record(height=400.0)
    (found,) = compare(one, changed(one, height_mm=401.5)).differing
    assert (found.recorded, found.now, found.change, found.tolerance) == (400.0, 401.5, 1.5, pytest.approx(0.05))
