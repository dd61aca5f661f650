"""`photomeasure tape RECORD --reads MM`: a reading added to a record, without the photographs."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.files import write_atomic, write_output
from calib.words.said import said
from photomeasure.commands.exit_codes import EXIT_DONE

if TYPE_CHECKING:
    from photomeasure.asked.tape_said import TapeSaid
    from photomeasure.record.schema import Record


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
            said(
                "{flat_name} speaks of the top of the ball, and the tape was not read up to there.", flat_name=flat_name
            ),
            expected=said("{flat_name} only with {to_name} top", flat_name=flat_name, to_name=to_name),
            remedy=said("leave {flat_name} out, or say {to_name} top", flat_name=flat_name, to_name=to_name),
        )
    if reading_mm is None:
        return None
    return TapeSaid(reading_mm=reading_mm, tape_class=known_class, to=known_to, flat_mm=flat_mm)


def run(record_file: Path, said: TapeSaid) -> int:
    """Put the reading into the record, and into pictures and report that lie beside it; returns the exit code."""
    from photomeasure.record.schema import read_record
    from photomeasure.record.with_tape import with_tape
    from photomeasure.shown.terminal import show, show_written

    record = with_tape(read_record(record_file), said)
    beside = _beside(record_file, record)
    write_atomic(record_file, record.to_json())  # a record, in whatever order another program put its keys
    for path, data in beside:
        write_output(path, data)
    show(record, details=False)
    show_written([record_file, *(path for path, _ in beside)])
    return EXIT_DONE


def _beside(record_file: Path, record: Record) -> list[tuple[Path, bytes]]:
    """Annotated pictures and the report of this record, as they lie in its folder: they are to say the same."""
    report = record_file.with_name(f"{record_file.stem}-report.pdf")
    drawn = _pictures(record_file, record)
    if not drawn:
        return []
    from photomeasure.shown.picture.reframed import reframed

    pictures = reframed(record, drawn)
    files = [(record_file.with_name(name), data) for name, data in pictures]
    if report.is_file():
        from photomeasure.commands.report import whole_photographs
        from photomeasure.shown.report.measurement import measurement_pdf

        files.append((report, measurement_pdf(record, pictures, whole_photographs(record_file, record, None))))
    return files


def _pictures(record_file: Path, record: Record) -> list[tuple[str, bytes]]:
    """Name and bytes of the record's annotated pictures; none unless all are there, as measure or batch writes them."""
    from photomeasure.shown.picture.labelled import belongs, kept_label

    count = sum(photo.width_px is not None for photo in record.photos)
    stems = [re.split(r"[\\/]", photo.file)[-1].rpartition(".")[0] for photo in record.photos if photo.width_px]
    by_photo = [f"{stem}-height.jpg" for stem in stems]
    by_rig = [f"{record_file.stem}-height{f'-{i}' if count > 1 else ''}.jpg" for i in range(1, count + 1)]
    for names in (by_photo, by_rig):
        paths = [record_file.with_name(name) for name in names]
        if not paths or len(set(names)) < len(names) or not all(path.is_file() for path in paths):
            continue
        found = [(path.name, path.read_bytes()) for path in paths]
        decoded = [photo for photo in record.photos if photo.width_px is not None]
        labels = [kept_label(data) for _, data in found]
        if all(label and belongs(label, record, photo) for label, photo in zip(labels, decoded, strict=True)):
            return found  # pictures of this very measurement, not of another that lies in the same folder
    return []
