"""One row a rig in the table of a batch, made from the rig's record."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, fields

from photomeasure.record.schema import Record
from photomeasure.shown.headline import headline


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The table's columns in order, as text; error: why there is no record."""

    rig: str
    photos: str
    height_mm: str = ""
    U_mm: str = ""
    headline: str = ""
    verdict: str = ""
    indicative: str = ""
    p_inside: str = ""
    refusal: str = ""
    refusal_reason: str = ""
    refusal_remedy: str = ""
    warnings: str = ""
    tape_mm: str = ""
    tape_to: str = ""
    tape_verdict: str = ""
    tape_agrees: str = ""
    En: str = ""
    photographed: str = ""
    computed: str = ""
    record: str = ""
    error: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One rig's row; kept: its record was there already."""

    row: Row
    kept: bool = False


def row_of(rig: str, photos: str, record: Record, file: str) -> Row:
    """Lengths to a thousandth of a millimetre, probabilities to four decimals: more than the uncertainty has.

    headline: what holds with the tape; verdict: by the photograph alone; photographed: the camera's own clock.
    """
    tape, refusal = record.tape, record.refusal
    return Row(
        rig=rig,
        photos=photos,
        height_mm=_fixed(record.height_mm, 3),
        U_mm=_fixed(record.U_mm, 3),
        headline=headline(record).title,
        verdict=record.verdict,
        indicative="" if refusal is not None else "yes" if record.indicative else "no",
        p_inside=_fixed(record.p_inside, 4),
        refusal="" if refusal is None else refusal.code,
        refusal_reason="" if refusal is None else " ".join(refusal.reason.split()),
        refusal_remedy="" if refusal is None else " ".join(refusal.remedy.split()),
        warnings=" | ".join(record.warnings),
        tape_mm="" if tape is None else f"{tape.reading_mm:g}",
        tape_to="" if tape is None else tape.from_,
        tape_verdict="" if tape is None else tape.verdict or "",
        tape_agrees="" if tape is None or tape.agrees is None else "yes" if tape.agrees else "no",
        En="" if tape is None else _fixed(tape.En, 3),
        photographed=record.photographed or "",
        computed=record.computed[
            :10
        ],  # the day: the record has it to the second, and a table is to come out the same again
        record=file,
    )


def failed_row(rig: str, photos: str, error: str) -> Row:
    return Row(rig=rig, photos=photos, error=" ".join(error.split()))


def _fixed(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"


def table(rows: Iterable[Row]) -> str:
    """The rows as CSV with a header."""
    names = [field.name for field in fields(Row)]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([getattr(row, name) for name in names] for row in rows)
    return stream.getvalue()
