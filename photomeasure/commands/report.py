"""`photomeasure report RECORD... --out CASE.pdf`: one case, one PDF, from records alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.words.said import said, say
from photomeasure.commands.exit_codes import EXIT_DONE

if TYPE_CHECKING:
    from photomeasure.record.schema import PhotoPart, Record
    from photomeasure.repeat.search import PhotoFolder
    from photomeasure.seen.image import Photo
    from photomeasure.shown.report.case import CaseRig


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """The command line as typed. photos: folders in which photographs are looked for first; csv, xlsx: tables."""

    records: tuple[Path, ...]
    out: Path | None
    photos: tuple[Path, ...] = ()
    title: str | None = None
    csv: Path | None = None
    xlsx: Path | None = None


def run(options: ReportOptions) -> int:
    """Write what was asked for, say what was not at hand; returns exit code 0.

    Raises InputError where a file is no record, an output must not be written, or nothing was asked for.
    """
    from calib.outcome.files import check_output, write_output
    from photomeasure.commands.progress import progress

    if options.out is None and options.csv is None and options.xlsx is None:
        raise InputError(
            said("Nothing to write was named."),
            expected=said("--out CASE.pdf, --csv TABLE.csv or --xlsx TABLE.xlsx"),
            remedy=said("say where the report goes"),
        )
    for path, kind in ((options.out, "report"), (options.csv, "table"), (options.xlsx, "spreadsheet")):
        if path is not None:
            check_output(path, kind, options.records)
    records = _records(options.records)
    written = list(_tables(options, records))
    if options.out is not None:
        from photomeasure.repeat.search import photo_folder
        from photomeasure.shown.report.case import case_pdf

        folder = photo_folder(options.photos)
        with progress(said("gathering pictures"), len(records)) as step:
            rigs = []
            for path, record in records:
                rigs.append(_with_pictures(path, record, folder))
                step()
        write_output(options.out, case_pdf(rigs, options.title), options.records)
        written.append(options.out)
        missing = [rig.name for rig in rigs if not rig.pictures and not rig.overviews]
        if missing:
            print(
                say(
                    "Without a picture, as neither picture nor photograph was at hand: {listed}.",
                    listed=", ".join(missing),
                )
            )
    print(say("Written: {listed}", listed=", ".join(map(str, written))))
    return EXIT_DONE


def _records(paths: tuple[Path, ...]) -> list[tuple[Path, Record]]:
    """Every record once, in the order given; the seal of a case, which lies beside its records, is none and is passed over."""
    from photomeasure.record.schema import read_record
    from photomeasure.seal.schema import is_seal

    found: dict[str, tuple[Path, Record]] = {}
    for path in [path for path in paths if not is_seal(path)] or paths:
        record = read_record(path)
        found.setdefault(record.to_json(), (path, record))
    return list(found.values())


def _tables(options: ReportOptions, records: list[tuple[Path, Record]]) -> Iterator[Path]:
    if options.csv is None and options.xlsx is None:
        return
    from calib.outcome.files import write_output
    from photomeasure.batch.rows import row_of, table

    rows = [
        row_of(record.rig or path.stem, " | ".join(photo.file for photo in record.photos), record, path.name)
        for path, record in records
    ]
    if options.csv is not None:
        write_output(options.csv, table(rows), options.records)
        yield options.csv
    if options.xlsx is not None:
        from photomeasure.batch.spreadsheet import spreadsheet

        write_output(options.xlsx, spreadsheet(rows), options.records)
        yield options.xlsx


def _with_pictures(path: Path, record: Record, folder: PhotoFolder | None) -> CaseRig:
    from photomeasure.shown.report.case import CaseRig

    return CaseRig(
        record=record,
        file=path.name,
        pictures=[found for i, photo in enumerate(record.photos) if (found := _picture(path, record, photo, i))],
        overviews=whole_photographs(path, record, folder),
    )


def whole_photographs(path: Path, record: Record, folder: PhotoFolder | None) -> list[bytes]:
    """Small JPEGs of the photographs of a record, where they are at hand; path: of the record."""
    from photomeasure.repeat.search import seek
    from photomeasure.shown.picture.overview import overviews

    sought = [seek(photo, path, folder) for photo in record.photos]
    return overviews(record, [_decoded(found.path) if found.state == "found" else None for found in sought])


def _decoded(path: Path | None) -> Photo | None:
    from photomeasure.seen.image import Photo, load

    try:
        photo = None if path is None else load(path)
    except InputError:
        return None
    return photo if isinstance(photo, Photo) else None


def _picture(path: Path, record: Record, photo: PhotoPart, number: int) -> tuple[str, bytes] | None:
    """The annotated picture beside the record, where it shows this figure in this photograph."""
    from photomeasure.shown.picture.labelled import belongs, kept_label

    stem = Path(photo.file).stem
    names = (
        f"{stem}-height.jpg",
        f"{stem}-2-height.jpg",
        f"{path.stem}-height.jpg",
        f"{path.stem}-height-{number + 1}.jpg",
    )
    for name in dict.fromkeys(names):
        try:
            data = (path.parent / name).read_bytes()
        except OSError:
            continue
        label = kept_label(data)
        if label is not None and belongs(label, record, photo):
            return name, data
    return None
