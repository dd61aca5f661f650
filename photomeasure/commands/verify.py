"""`photomeasure verify RECORD|SEAL...`: measure again from the photographs, check seals, say what is not as it was."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.words.said import joined, said, said_many
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED

if TYPE_CHECKING:
    from photomeasure.repeat.search import PhotoFolder
    from photomeasure.repeat.verify import Verified
    from photomeasure.seal.check import Checked
    from photomeasure.shown.page_of_text import PageOfText


def run(
    files: tuple[Path, ...],
    photos: tuple[Path, ...],
    json_file: Path | None,
    public_key: Path | None = None,
    time_roots: Path | None = None,
) -> int:
    """Verify seals, and the records that are named or sealed, one by one; returns the exit code.

    photos: folders in which photographs are looked for first, by name and by digest. public_key: the signer's. time_roots:
    root certificates of time services. A file that is no record is said and the others are verified all the same. Raises
    InputError where there is no file at any of the paths, and for a folder that is none.
    """
    import json

    from rich.console import Console

    from photomeasure.commands.output import check_json, to_standard_output, write_json
    from photomeasure.repeat.search import photo_folder
    from photomeasure.repeat.text import document, summary
    from photomeasure.seal.check import UNKNOWN, UNSEALED
    from photomeasure.seal.schema import is_seal
    from photomeasure.shown.page_of_text import PageOfText

    check_json(json_file, "verify", files)
    if not any(file.is_file() for file in files):
        raise InputError(
            said("There is no file {listed}.", listed=", ".join(str(file) for file in files)),
            expected=said("records of measurements (JSON files), or the seal of a case"),
            remedy=said("name the files that measure, batch and seal write"),
        )
    folder = photo_folder(photos)
    quiet = to_standard_output(json_file)
    page = PageOfText(Console(stderr=True, quiet=True) if quiet else None)
    seals = [file for file in files if is_seal(file)]
    records = [file for file in files if file not in seals]
    checked = _seals(page, seals, records, public_key, time_roots)
    records += [path for found in checked for path in found.records.values() if path not in records]
    done, no_records = _records(page, records, folder)
    if len(records) > 1:
        page.heading(summary(done, len(no_records)))
    page.lines([UNKNOWN if checked else UNSEALED], indent=0)
    if json_file is not None:
        written = document(done, {file: str(error) for file, error in no_records.items()})
        written["seals"] = [_seal_entry(path, found) for path, found in zip(seals, checked, strict=True)]
        write_json(json_file, json.dumps(written, indent=1, ensure_ascii=False, allow_nan=False) + "\n", files)
    same = not no_records and all(verified.outcome == "same" for verified in done)
    return EXIT_DONE if same and all(found.sound for found in checked) else EXIT_REFUSED


def _seals(
    page: PageOfText, seals: Sequence[Path], given: Sequence[Path], public_key: Path | None, time_roots: Path | None
) -> list[Checked]:
    from photomeasure.seal.check import check_seal
    from photomeasure.seal.keys import load_public
    from photomeasure.seal.schema import read_seal

    alone = "--public-key" if public_key is not None else "--time-roots" if time_roots is not None else None
    if alone is not None and not seals:
        raise InputError(
            said("{alone} was given, but no seal.", alone=alone),
            expected=said("the seal of a case among the files"),
            remedy=said("name it too, such as records/case.seal.json"),
        )
    known = None if public_key is None else load_public(public_key)
    found = []
    for path in seals:
        checked = check_seal(read_seal(path), path.parent, given=given, public_key=known, time_roots=time_roots)
        found.append(checked)
        page.heading(said("{path}: SEAL HOLDS", path=path) if checked.sound else said("{path}: SEAL BROKEN", path=path))
        page.lines(_seal_lines(checked))
    return found


def _seal_lines(checked: Checked) -> list[str]:
    seal = checked.seal
    about = [
        said_many("{count} record", "{count} records", count=len(seal.records)),
        *([said("case {case}", case=seal.case)] if seal.case else []),
        *([said("by {by}", by=seal.by)] if seal.by else []),
    ]
    lines = [
        *checked.faults,
        said("{about}, sealed {when} (by that computer's clock).", about=joined(about), when=seal.sealed),
    ]
    time = checked.time
    if time is not None and time.said is not None and time.fault is None:
        lines.append(
            said("Trusted time: {time}, by the clock of a time service (of {by}, checked).", time=time.said, by=time.by)
            if time.by
            else said(
                "Trusted time: {time}, by the clock of a time service (not checked: give its root certificate).",
                time=time.said,
            )
        )
    digits = checked.fingerprint
    if checked.key_known:
        return [*lines, said("Key: {digits} (that of the public key given).", digits=digits)]
    return [*lines, said("Key: {digits} (compare it with the one that the signer gave you).", digits=digits)]


def _seal_entry(path: Path, found: Checked) -> dict[str, object]:
    return {
        "seal": str(path),
        "sound": found.sound,
        "faults": list(found.faults),
        "key_fingerprint": found.fingerprint,
        "key_known": found.key_known,
        "sealed": found.seal.sealed,
        "trusted_time": None if found.time is None else found.time.said,
        "trusted_time_checked": found.time is not None and found.time.fault is None and found.time.by is not None,
    }


def _records(
    page: PageOfText, records: Sequence[Path], folder: PhotoFolder | None
) -> tuple[list[Verified], dict[str, InputError]]:
    """Each measured again and told; those that are no records by their path."""
    from photomeasure.commands.progress import progress
    from photomeasure.repeat.text import NO_RECORD, lines
    from photomeasure.repeat.verify import verify

    done: list[Verified] = []
    no_records: dict[str, InputError] = {}
    with progress(said("measuring again"), len(records)) as step:
        for record in records:
            try:
                verified = verify(record, folder)
            except InputError as error:
                no_records[str(record)] = error
                page.heading(said("{file}: {outcome}", file=record, outcome=NO_RECORD))
                page.lines(error.told().splitlines())
                continue
            finally:
                step()
            done.append(verified)
            head, *rest = lines(verified)
            page.heading(head)
            page.lines(rest)
    return done, no_records
