"""The first page of a case: what it is about, every rig with its figure and headline, who signs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from calib.drawing.colours import MID
from calib.drawing.pen import Pen
from calib.words.said import say, say_many, shown
from photomeasure.record.cautions import CAUTIONS
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import headline
from photomeasure.shown.report.blocks import FONT, Drawn, facts, gap, grid, heading, listed
from photomeasure.shown.report.page import date_words
from photomeasure.shown.report.style import LEAD, QUIET, RULE, SMALL, SMALL_BOLD, colour_of, paragraph, printable

_TITLE_MM = 13.0
_WIDTHS_MM = (7.0, 38.0, 32.0, 49.0, 42.0, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One rig of the table. page: where it stands; None while that is not known."""

    record: Record
    name: str
    page: int | None


def cover(rigs: Sequence[Listed], title: str, width: float) -> list[Flowable]:
    """Title, case, summary, table, how to read it, signature."""
    return [
        Drawn(width, _TITLE_MM, lambda pen: _title(pen, title, rigs, width)),
        gap(4.0),
        *facts(_rows([rig.record for rig in rigs]), width, 30.0),
        gap(3.0),
        paragraph(summary([rig.record for rig in rigs]), LEAD),
        gap(3.0),
        _table(rigs),
        gap(2.0),
        paragraph(
            say(
                "The band is the rule's, named on each rig's page with its source. \"If ...\" after a verdict: it "
                "holds only under what that page says; such a rig is not decided."
            ),
            QUIET,
        ),
        *heading(say("Before anything is decided")),
        *listed(CAUTIONS, SMALL),
        gap(18.0),
        _signature(),
    ]


def summary(records: Sequence[Record]) -> str:
    """ "3 rigs: 2 within the band, 1 above the band, if ..." """
    counts = Counter(headline(record).within for record in records)
    places = "; ".join(f"{count} {shown(title)}" for title, count in counts.items())
    return say_many(
        "{count} rig: {places}.", "{count} rigs: {places}.", count=len(records), places=places.removesuffix(".")
    )


def _title(pen: Pen, title: str, rigs: Sequence[Listed], width: float) -> None:
    text, size = printable(title), 20.0
    while size > 10.0 and pen.width_of(text, size=size, bold=True) > width:
        size -= 0.5
    pen.text((0.0, 6.4), text, size=size, bold=True)
    newest = max(rig.record.computed for rig in rigs)
    pen.text((0.0, 2.2), say("From photographs with a printed target in them."), size=8, colour=MID)
    pen.text(
        (width, 2.2),
        say("Last computed {when}", when=date_words(newest)),
        size=8,
        anchor="right",
        colour=MID,
    )
    pen.line((0.0, 0.0), (width, 0.0), weight=0.3, colour=RULE)


def _rows(records: Sequence[Record]) -> list[tuple[str, str]]:
    """What was said of the case; where rigs differ, all that was said."""
    cases = [record.asked.case for record in records if record.asked is not None]

    def stated(field: str) -> str:
        return "; ".join(dict.fromkeys(text for case in cases if (text := getattr(case, field))))

    times = sorted(record.photographed for record in records if record.photographed)
    days = list(dict.fromkeys((times[0][:10], times[-1][:10]))) if times else []
    rules = dict.fromkeys(record.rule.title for record in records if record.rule is not None)
    return [
        (say("Case"), stated("case")),
        (say("Place"), stated("place")),
        (say("Measured by"), stated("by")),
        (say("Photographed"), _days(days)),
        (say("Rules"), "; ".join(rules)),
    ]


def _days(days: Sequence[str]) -> str:
    if not days:
        return ""
    if len(days) == 1:
        return say("{day} (by the cameras' clocks)", day=days[0])
    return say("{first} to {last} (by the cameras' clocks)", first=days[0], last=days[-1])


def _table(rigs: Sequence[Listed]) -> Flowable:
    head = ("", say("rig"), say("height, 95 %"), say("verdict"), say("tape"), say("page"))
    rows = [
        (
            str(number),
            paragraph(rig.name, SMALL_BOLD),
            _figure(rig.record),
            paragraph(headline(rig.record).title, SMALL_BOLD),
            _tape(rig.record),
            "" if rig.page is None else str(rig.page),
        )
        for number, rig in enumerate(rigs, start=1)
    ]
    return grid(head, rows, _WIDTHS_MM, numbers=(5,))


def _figure(record: Record) -> str:
    height, spread = words.height(record), words.plus_minus(record)
    return say("no figure") if height is None or spread is None else f"{height} {spread}"


def _tape(record: Record) -> str:
    tape = record.tape
    if tape is None:
        return say("not taped")
    if tape.agrees is None:
        return f"{tape.centre_mm:.0f} mm"
    if tape.agrees:
        return say("{mm:.0f} mm, agrees", mm=tape.centre_mm)
    return say("{mm:.0f} mm, DISAGREES", mm=tape.centre_mm)


def _signature() -> Flowable:
    """Three lines to write on."""
    labels = (say("Name"), "", say("Date"), "", say("Signature"))
    return Table(
        [[paragraph(label, SMALL) if label else "" for label in labels]],
        colWidths=[width * mm for width in (62.0, 6.0, 36.0, 6.0, 70.0)],
        style=[
            FONT,
            *(("LINEABOVE", (i, 0), (i, 0), 0.5, colour_of(MID)) for i in (0, 2, 4)),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ],
        hAlign="LEFT",
    )
