"""`photomeasure verify RECORD...`: measure again from the photographs, and say whether it comes out the same."""

from __future__ import annotations

from pathlib import Path

EXIT_SAME, EXIT_NOT_SAME = 0, 3


def run(records: tuple[Path, ...], photos: Path | None, json_file: Path | None) -> int:
    """Verify records one by one; returns the exit code.

    photos: folder in which photographs are looked for first, by name and by digest. A file that is no record is said and
    the others are verified all the same. Raises InputError where there is no file at any of the paths, and for a folder
    that is none.
    """
    import json

    from rich.console import Console

    from calib.outcome.errors import InputError
    from photomeasure.commands.output import check_json, to_standard_output, write_json
    from photomeasure.repeat.search import PhotoFolder
    from photomeasure.repeat.text import NO_RECORD, document, lines, summary
    from photomeasure.repeat.verify import verify
    from photomeasure.shown.page_of_text import PageOfText

    if photos is not None and not photos.is_dir():
        raise InputError(f"{photos} is no folder.", expected="a folder with photographs", remedy="check --photos")
    if json_file is not None:
        check_json(json_file, "verify", records)
    if not any(record.is_file() for record in records):
        raise InputError(
            f"There is no file {', '.join(str(record) for record in records)}.",
            expected="records of measurements (JSON files)",
            remedy="name the files that measure and batch write beside the pictures",
        )
    folder = None if photos is None else PhotoFolder(photos)
    quiet = to_standard_output(json_file)
    page = PageOfText(Console(stderr=True, quiet=True) if quiet else None)
    done = []
    no_records: dict[str, InputError] = {}
    for record in records:
        try:
            verified = verify(record, folder)
        except InputError as error:
            no_records[str(record)] = error
            page.heading(f"{record}: {NO_RECORD}")
            page.lines(str(error).splitlines())
            continue
        done.append(verified)
        head, *rest = lines(verified)
        page.heading(head)
        page.lines(rest)
    if len(records) > 1:
        page.heading(summary(done, len(no_records)))
    if json_file is not None:
        written = document(done, {file: str(error) for file, error in no_records.items()})
        write_json(json_file, json.dumps(written, indent=1, ensure_ascii=False, allow_nan=False) + "\n", records)
    same = not no_records and all(verified.outcome == "same" for verified in done)
    return EXIT_SAME if same else EXIT_NOT_SAME
