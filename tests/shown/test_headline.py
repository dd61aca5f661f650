"""One headline at every surface: what a tape contradicts, or what hangs on something, never looks like a plain verdict."""

from __future__ import annotations

from typing import Any, get_args

import pypdfium2
import pytest

from photomeasure.asked.tape_said import TapeSaid
from photomeasure.batch.rows import row_of
from photomeasure.record.schema import Record, TapePart, VerdictWord
from photomeasure.record.with_tape import with_tape
from photomeasure.shown import terminal
from photomeasure.shown.headline import DISAGREE, headline
from photomeasure.shown.look import BADGES
from photomeasure.shown.picture.caption import head_lines
from photomeasure.shown.report.measurement import measurement_pdf
from photomeasure.shown.words import TITLES
from photomeasure.web.page import result_page
from tests.shown.report.samples import filled, measured, pages_text

MEASURED: tuple[VerdictWord, ...] = ("within", "above", "below", "undecided", "no-band")
SURE: dict[str, Any] = {"indicative": False, "indicative_why": []}


def contradicted(verdict: VerdictWord) -> Record:
    record = measured(verdict, **SURE, advice=["Nothing to change: there is room for 59 mm lower; 3 mm is best."])
    return with_tape(record, TapeSaid(reading_mm=(record.height_mm or 0.0) + 60.0))


def first_words(record: Record) -> list[str]:
    """What each surface says first."""
    page, pdf = result_page(record), pages_text(measurement_pdf(record, []))[0]
    return [
        terminal.plain(record).splitlines()[0].lower(),
        page.title.lower(),
        pdf.lower(),
        row_of("rig", "a.jpg", record, "a.json").headline.lower(),
    ]


@pytest.mark.parametrize("verdict", MEASURED)
def test_a_tape_that_contradicts_wins_everywhere_and_advice_is_gone(verdict: VerdictWord) -> None:
    record = contradicted(verdict)
    assert record.verdict == verdict and record.indicative and headline(record).title == DISAGREE
    assert all(DISAGREE.lower() in said for said in first_words(record))
    everything = terminal.plain(record) + " ".join(line.text for line in head_lines(record))
    everything += " ".join(pages_text(measurement_pdf(record, [])))
    everything += " ".join(line for part in result_page(record).sections for line in part.lines) + (
        result_page(record).lead or ""
    )
    assert "Nothing to change" not in everything and "is best" not in everything and "room for" not in everything
    assert "Confirm with a tape\n" not in everything and everything.count("read the tape again") >= 3


@pytest.mark.parametrize("verdict", ["within", "above", "below"])
def test_what_hangs_on_something_has_an_if_everywhere(verdict: VerdictWord) -> None:
    record = measured(verdict)
    assert record.indicative and all(f"{TITLES[verdict].lower()}, if ..." in said for said in first_words(record))
    assert not result_page(record).sure and not any("if ..." in said for said in first_words(measured(verdict, **SURE)))


@pytest.mark.parametrize("verdict", MEASURED)
def test_only_a_sure_verdict_is_a_filled_badge_on_paper(verdict: VerdictWord) -> None:
    """By pdfium: paths filled with the badge's colour and as high as a badge (13 mm is 37 points)."""
    ground, _ = BADGES[verdict]
    for record, there in (
        (measured(verdict, **SURE), True),
        (measured(verdict), False),
        (contradicted(verdict), False),
    ):
        page = pypdfium2.PdfDocument(measurement_pdf(record, []))[0]
        assert any(top - bottom > 30 for _, bottom, _, top in filled(page, ground)) == there


def test_every_look_has_a_badge() -> None:
    assert set(BADGES) == {*get_args(VerdictWord), "disagree"}


def test_agreement_with_verdicts_on_two_sides_of_an_end_is_open() -> None:
    """458.9 is inside by the figure alone and the tape's 461 outside, 2.1 mm apart: both may be right about the height."""
    part = TapePart(
        reading_mm=461.0, height_mm=461.0, u_mm=0.9, verdict="above", agrees=True, En=0.6, sentence="They agree."
    )
    from photomeasure.record.with_tape import _settled

    record = _settled(measured("within", **SURE), part)
    assert record.indicative and record.adjustment is None and "two verdicts" in headline(record).title
    assert headline(_settled(measured("within", **SURE), part.model_copy(update={"verdict": "within"}))).sure
