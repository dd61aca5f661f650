"""`photomeasure tape RECORD --reads MM`: a reading added to a record, without the photographs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.files import write_output

if TYPE_CHECKING:
    from photomeasure.asked.tape_said import TapeSaid

EXIT_KEPT = 0  # whatever the comparison says, as a measurement's verdict is no failure either


def said_by(
    reading_mm: float | None,
    tape_class: str | None,
    to: str | None,
    flat_mm: float | None,
    names: tuple[str, str, str, str],
) -> TapeSaid | None:
    """A reading as it was typed, checked; None where none was. names: of the four options, for errors. Raises InputError."""
    from calib.outcome.errors import InputError
    from photomeasure.asked import limits
    from photomeasure.asked.tape_said import TapeSaid, tape_class_from, tape_to_from

    reads, class_name, to_name, flat_name = names
    limits.TAPE_MM.check(reads, reading_mm)
    limits.FLAT_MM.check(flat_name, flat_mm)
    known_class, known_to = tape_class_from(tape_class, class_name), tape_to_from(to, to_name)
    if flat_mm is not None and known_to != "top":
        raise InputError(
            f"{flat_name} speaks of the top of the ball, and the tape was not read up to there.",
            expected=f"{flat_name} only with {to_name} top",
            remedy=f"leave {flat_name} out, or say {to_name} top",
        )
    if reading_mm is None:
        return None
    return TapeSaid(reading_mm=reading_mm, tape_class=known_class, to=known_to, flat_mm=flat_mm)


def run(record_file: Path, said: TapeSaid) -> int:
    """Put the reading into the record, beside its other figures; returns the exit code."""
    from photomeasure.record.schema import read_record
    from photomeasure.record.with_tape import with_tape
    from photomeasure.shown.terminal import show, show_written

    record = with_tape(read_record(record_file), said)
    write_output(record_file, record.to_json())
    show(record)
    show_written([record_file])
    return EXIT_KEPT
