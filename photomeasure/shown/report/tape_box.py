"""The box to confirm with a tape: how to hold it, and the reading, or lines to write it on."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from calib.drawing.colours import MID
from calib.words.said import said
from photomeasure.record.schema import Record
from photomeasure.shown.report.blocks import FONT, facts, gap, listed
from photomeasure.shown.report.style import QUIET, SMALL, STRONG, colour_of, paragraph
from photomeasure.shown.rows import tape_rows

_LONGEST_RIG = 28
_RIG, _WHO = said("Rig or registration"), (said("Date and time"), said("Name, signature"))
_STEPS_MM, _LINES_MM, _LABEL_MM, _FACTS_MM = 88.0, 80.0, 31.0, 20.0


def tape_box(record: Record) -> Flowable:
    """A framed box of two columns: the steps, and what is entered; once a tape was read, what came of it and who read it."""
    if record.tape is None:
        title = said("Confirm with a tape") if record.refusal is None else said("Until then, measure with a tape")
        left = [paragraph(title, STRONG), gap(1.5), *listed(record.confirm, SMALL, numbered=True)]
        right = [
            paragraph(said("To fill in by hand, or to add to the record later."), QUIET),
            _lines(
                (
                    _RIG,
                    said("Tape reads, mm; class"),
                    said("Measured from"),
                    said("Measured up to"),
                    *_WHO,
                    said("Remarks"),
                ),
                record.rig,
            ),
        ]
    else:
        left = [
            paragraph(said("The tape"), STRONG),
            gap(1.5),
            *facts(tape_rows(record.tape), _STEPS_MM, _FACTS_MM, SMALL),
        ]
        right = [_lines((_RIG, said("Measured from"), *_WHO, said("Remarks")), record.rig)]
    return Table(
        [[left, right]],
        colWidths=((_STEPS_MM + 6.0) * mm, (_LINES_MM + 6.0) * mm),
        style=[
            FONT,
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("BOX", (0, 0), (-1, -1), 0.8, colour_of(MID)),
            ("LEFTPADDING", (0, 0), (-1, -1), 3 * mm),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3 * mm),
            ("TOPPADDING", (0, 0), (-1, -1), 2 * mm),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2 * mm),
            ("ROUNDEDCORNERS", [5, 5, 5, 5]),
        ],
        hAlign="LEFT",
    )


def _lines(labels: Sequence[str], rig: str | None) -> Flowable:
    """Lines to write on; the rig's name stands on its own where it was stated."""
    return Table(
        [[paragraph(label, SMALL), _known(rig) if label == _RIG else ""] for label in labels],
        colWidths=(_LABEL_MM * mm, (_LINES_MM - _LABEL_MM) * mm),
        rowHeights=[6.6 * mm] * len(labels),
        style=[
            FONT,
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.5),
            ("LINEBELOW", (1, 0), (1, -1), 0.5, colour_of(MID)),
        ],
        hAlign="LEFT",
    )


def _known(rig: str | None) -> Flowable | str:
    """A name that fits its line; a longer one stands above the page anyway."""
    return paragraph(rig, SMALL) if rig is not None and len(rig) <= _LONGEST_RIG else ""
