"""`photomeasure verify RECORD...`: measure again from the photographs, and say whether it comes out the same."""

from __future__ import annotations

from pathlib import Path

EXIT_SAME, EXIT_NOT_SAME = 0, 3


def run(records: tuple[Path, ...], photos: Path | None, json_file: Path | None) -> int:
    """Verify records one by one; returns the exit code.

    photos: folder in which photographs are looked for first, by name and by digest. Raises InputError for a file that is
    no record and a folder that is none.
    """
    import json

    from calib.errors import InputError
    from calib.files import write_atomic
    from photomeasure.page_of_text import PageOfText
    from photomeasure.repeat.search import PhotoFolder
    from photomeasure.repeat.text import document, lines, summary
    from photomeasure.repeat.verify import verify

    if photos is not None and not photos.is_dir():
        raise InputError(f"{photos} is no folder.", expected="a folder with photographs", remedy="check --photos")
    folder = None if photos is None else PhotoFolder(photos)
    page = PageOfText()
    done = []
    for record in records:
        verified = verify(record, folder)
        done.append(verified)
        head, *rest = lines(verified)
        page.heading(head)
        page.lines(rest)
    if len(done) > 1:
        page.heading(summary(done))
    if json_file is not None:
        write_atomic(json_file, json.dumps(document(done), indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    return EXIT_SAME if all(verified.outcome == "same" for verified in done) else EXIT_NOT_SAME
