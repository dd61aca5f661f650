"""One row a rig in the table of a batch, made from the rig's record."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from calib.outcome.cells import cell_text
from photomeasure.batch.same_photo import MOST_OTHERS, PhotoSeen, others_with
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
    interval_low_mm: str = ""
    interval_high_mm: str = ""
    band_low_mm: str = ""
    band_high_mm: str = ""
    rule: str = ""
    edition: str = ""
    lower_by_from_mm: str = ""  # negative: raise
    lower_by_to_mm: str = ""
    why_indicative: str = ""
    centre: str = ""
    case: str = ""
    by: str = ""
    place: str = ""
    note: str = ""
    same_photo_as: str = (
        ""  # other rigs of this run in which a photograph of this one is found, be it cut or saved anew
    )
    more: tuple[tuple[str, str], ...] = ()  # further columns of the list


COLUMNS_OF_TABLE = frozenset(field.name.lower() for field in fields(Row)) - {"more"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One rig's row; kept: its record was there already; aside: what the record of other photographs is called now.

    replaced: an earlier record of the same photographs, made with other options; photos: what its record keeps of them;
    no_room: its record could not be written, as the disk is full.
    """

    row: Row
    kept: bool = False
    aside: str | None = None
    replaced: bool = False
    photos: tuple[PhotoSeen, ...] = ()
    no_room: bool = False


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
        **_behind(record),
        **_case(record),
    )


def _behind(record: Record) -> dict[str, Any]:
    """What a reader of the table would ask next: interval, band, rule, change, reasons, how the centre was found."""
    rule, change = record.rule, record.adjustment
    low, high = record.interval_mm or (None, None)
    return {
        "interval_low_mm": _fixed(low, 3),
        "interval_high_mm": _fixed(high, 3),
        "band_low_mm": "" if rule is None or rule.low_mm is None else f"{rule.low_mm:g}",
        "band_high_mm": "" if rule is None or rule.high_mm is None else f"{rule.high_mm:g}",
        "rule": "" if rule is None else rule.name,
        "edition": "" if rule is None else rule.edition,
        "lower_by_from_mm": "" if change is None else _fixed(change.down_from_mm, 1),
        "lower_by_to_mm": "" if change is None else _fixed(change.down_to_mm, 1),
        "why_indicative": " | ".join(record.indicative_why),
        "centre": "" if record.centre is None else record.centre.source,
    }


def _case(record: Record) -> dict[str, Any]:
    if record.asked is None:
        return {}
    case = record.asked.case
    said = {name: getattr(case, name) or "" for name in ("case", "by", "place", "note")}
    return {**said, "more": tuple(case.more.items())}


def failed_row(rig: str, photos: str, error: str) -> Row:
    """The row of a rig that could not be measured for a reason that is no refusal."""
    return Row(rig=rig, photos=photos, error=" ".join(error.split()))


def _fixed(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"


def table(rows: Iterable[Row]) -> str:
    """The rows as CSV with a header, further columns of the list at the end."""
    all_rows = list(rows)
    names = [field.name for field in fields(Row) if field.name != "more"]
    further = list(dict.fromkeys(name for row in all_rows for name, _ in row.more))
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*names, *further])
    for row in all_rows:
        more = dict(row.more)
        cells = [*(getattr(row, name) for name in names), *(more.get(name, "") for name in further)]
        writer.writerow([cell_text(cell) for cell in cells])
    return stream.getvalue()


def rows_of(done: Sequence[Done | None]) -> list[Row]:
    """All rows, with what only the whole run shows: the same photograph in two rigs."""
    there = [one for one in done if one is not None]
    others = others_with([(number, photo) for number, one in enumerate(there) for photo in one.photos])
    return [
        replace(one.row, same_photo_as=_named([there[other].row.rig for other in others[number]]))
        if number in others
        else one.row
        for number, one in enumerate(there)
    ]


def _named(rigs: Sequence[str]) -> str:
    """Rigs in one cell; of one photograph under thousands of rigs not thousands."""
    return " | ".join([*rigs[:MOST_OTHERS], *(["and more"] if len(rigs) > MOST_OTHERS else [])])
