"""What counts as the same: to a reader of the printed digit, not to the last bit."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import BudgetRow, Record
from photomeasure.repeat.compare import compare
from photomeasure.repeat.search import Sought
from photomeasure.repeat.text import document
from photomeasure.repeat.verify import Verified
from tests.sample_requests import sample_request
from tests.shown.test_terminal import record, refused


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


def test_a_number_in_a_sentence_may_be_another_only_where_its_figure_is() -> None:
    """Half a printed digit is tolerated in a figure, so its rounding may come out as the neighbour."""
    one = changed(record(height=412.549), sentence="412.5 mm, probability 98.8 %")
    assert keys(one, changed(one, sentence="412.6 mm, probability 98.8 %")) == ["sentence"]  # the figure has not moved
    moved = {"height_mm": 412.551}
    assert keys(one, changed(one, **moved, sentence="412.6 mm, probability 98.8 %")) == []
    assert keys(one, changed(one, **moved, sentence="412.7 mm, probability 98.8 %")) == ["sentence"]
    assert keys(one, changed(one, **moved, sentence="412.60 mm, probability 98.8 %")) == ["sentence"]
    assert keys(one, changed(one, **moved, sentence="412.6 mm, probability 98.9 %")) == ["sentence"]


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from leaves(inner, (*path, number))
    else:
        yield path, value


def others(value: Any) -> list[Any]:
    """Other values that a reader would take for another statement; of a figure, ten times what the last digit shows."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, str):
        counted = []
        for found in re.finditer(r"\d+(?:\.\d+)?", value):
            decimals = len(found.group().partition(".")[2])
            counted.append(
                f"{value[: found.start()]}{float(found.group()) + 10.0**-decimals:.{decimals}f}{value[found.end() :]}"
            )
        return [*counted, f"{value}x", value[:-1]]
    return [value + (1 if isinstance(value, int) else 1.5)] if isinstance(value, int | float) else []


def with_leaf(written: dict[str, Any], path: tuple[Any, ...], value: Any) -> Record | None:
    """The record as written with one leaf changed; None where it is no record any more."""
    copy = json.loads(json.dumps(written))
    part = copy
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = value
    try:
        return Record.model_validate(copy)
    except ValidationError:
        return None


@pytest.mark.parametrize("every", [False, pytest.param(True, marks=pytest.mark.slow)], ids=["one way", "every way"])
def test_no_single_change_to_a_record_passes(every: bool) -> None:
    """Every leaf of a real record that is compared, changed alone; file names are not compared, digests tell.

    One way in turn for each leaf, or every way in which each can be another.
    """
    whole = recorded(sample_request(), tape=TapeSaid(reading_mm=402.0))[1]
    written = whole.model_dump(by_alias=True, mode="json")
    tried, passed = 0, []
    for path, value in leaves(written):
        if path[0] in ("computed", "version", "software", "asked") or path[-1] == "file":
            continue
        ways = [*others(value), *([] if value is None else [None])]
        turn = tried % max(len(ways), 1)
        for other in (*ways[turn:], *ways[:turn]):
            forged = with_leaf(written, path, other)
            if forged is None:
                continue
            tried += 1
            if not compare(forged, whole).differing:
                passed.append((path, value, other))
            if not every:
                break
    assert tried > 300 and passed == []


def test_what_was_stated_has_no_tolerance() -> None:
    one = recorded(sample_request(), tape=TapeSaid(reading_mm=402.0))[1]
    assert one.rule is not None and one.tape is not None and one.rule.low_mm is not None
    rule = one.rule.model_copy(update={"low_mm": one.rule.low_mm + 1e-6})
    assert keys(changed(one, rule=rule), one) == ["rule.low_mm"]
    tape = one.tape.model_copy(update={"reading_mm": 402.001})
    assert keys(changed(one, tape=tape), one) == ["tape.reading_mm"]


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
    assert (found.recorded, found.now, found.change) == (400.0, 401.5, 1.5)
    assert found.tolerance == pytest.approx(0.05)


def test_what_programs_read_names_where_each_photograph_was_found() -> None:
    """A path as text, which JSON can hold, and nothing where it was not found."""
    sought = [
        Sought(file="a.jpg", sha256="0" * 64, state="found", path=Path("yard") / "a.jpg"),
        Sought(file="b.jpg", sha256="1" * 64, state="missing", path=None),
    ]
    one = Verified(
        record_file=Path("r.json"),
        outcome="photo-missing",
        record=record(),
        photos=tuple(sought),
        why="b.jpg is missing",
    )
    (entry,) = json.loads(json.dumps(document([one], {"x.json": "no record"})))["records"]
    assert [(photo["file"], photo["path"]) for photo in entry["photos"]] == [
        ("a.jpg", str(Path("yard/a.jpg"))),
        ("b.jpg", None),
    ]
