"""A tape's reading kept beside the photograph's figure, and compared with it."""

from __future__ import annotations

from photomeasure.record.schema import Record, TapePart
from photomeasure.record.tape import USUAL_CLASS, TapeClass, compare, read_tape


def with_tape(record: Record, reading_mm: float, tape_class: TapeClass = USUAL_CLASS) -> Record:
    """The record with a tape's reading in it; a refused record keeps the reading with nothing to compare it to."""
    tape = read_tape(reading_mm, tape_class=tape_class)
    if record.height_mm is None or record.U_mm is None:
        part = TapePart(
            reading_mm=reading_mm,
            tape_class=tape_class,
            u_mm=tape.u_mm,
            sentence="Kept; there is no photograph's figure to compare with.",
        )
        return record.model_copy(update={"tape": part})
    seen = compare(record.height_mm, record.U_mm, tape)
    part = TapePart(
        reading_mm=reading_mm,
        tape_class=tape_class,
        u_mm=tape.u_mm,
        difference_mm=seen.difference_mm,
        en=seen.En,
        agrees=seen.agree,
        sentence=seen.sentence,
    )
    return record.model_copy(update={"tape": part})
