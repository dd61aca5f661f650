"""`photomeasure measure`: options to a request, the result to terminal, files and exit code."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.outcome.files import check_output, kind_of, write_output
from calib.words.said import said
from photomeasure.asked.request import Request
from photomeasure.asked.requested import check_said, request_of
from photomeasure.asked.stated import Stated
from photomeasure.asked.typed import pixels_typed
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED
from photomeasure.commands.output import check_json, to_standard_output, write_json
from photomeasure.commands.progress import waiting
from photomeasure.pipeline import Result
from photomeasure.record.measure_and_record import MONTE_CARLO_SEED, recorded
from photomeasure.record.schema import Record
from photomeasure.seen.camera_for import profile_folder
from photomeasure.seen.look import Refused

if TYPE_CHECKING:
    from photomeasure.asked.carried import Carried
    from photomeasure.asked.tape_said import TapeSaid

_TAPE_NAMES = ("--tape", "--tape-class", "--tape-to", "--tape-flat")


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """The command line as typed."""

    photos: tuple[Path, ...]
    said: Stated = Stated()
    centres: tuple[str, ...] = ()
    monte_carlo: bool = False
    json_file: Path | None = None
    out: Path | None = None
    ask: bool = True
    details: bool = False
    before: tuple[Path, ...] = ()
    standing: tuple[Path, ...] = ()

    @property
    def others(self) -> tuple[Path, ...]:
        """The photographs of the other side of a pair: from before, or with somebody on the bar."""
        return (*self.before, *self.standing)

    @property
    def all_photos(self) -> tuple[Path, ...]:
        """The photographs to measure, then those of the other side of a pair."""
        return (*self.photos, *self.others)


def _request(options: Options) -> Request:
    check_said(options.said, "--level-within", "--unknown-ground", standing=bool(options.standing))
    _check_before(options)
    return request_of(
        options.said,
        options.all_photos,
        before_photos=len(options.others),
        standing=bool(options.standing),
        centres_px=_centres(options),
        profile_folder=profile_folder(),
        carried=_carried(options.said),
    )


def _centres(options: Options) -> tuple[tuple[float, float] | None, ...]:
    """One a photograph; those that were typed are of the photographs from before first, then of the others."""
    typed = [pixels_typed(text, "--centre") for text in options.centres]
    if len(typed) > len(options.all_photos):
        return tuple(typed)  # one too many: told where requests are checked
    count = len(options.others)
    then, now = typed[:count], typed[count:]
    if not then:
        return tuple(now)
    return (*now, *(None,) * (len(options.photos) - len(now)), *then)


def _check_before(options: Options) -> None:
    record = options.said.from_record
    if options.before and record is not None:
        raise InputError(
            said("--before and --from both tell of before."),
            expected=said("one of the two"),
            remedy=said(
                "name the photographs from before (--before PHOTO), or the record that was made of them (--from RECORD)"
            ),
        )
    if options.standing and (options.before or record is not None):
        raise InputError(
            said("Somebody on the bar and before are two pairs."),
            expected=said("--standing, --before or --from"),
            remedy=said("measure the stand test by itself, then the coupled rig"),
        )
    if options.standing and (options.said.stand_mass_kg is None or options.said.coupled is True):
        raise InputError(
            said("--standing needs to know who stands on the bar, and a bare ball."),
            expected=said("--stand-mass KG and --uncoupled"),
            remedy=said("weigh whoever stood there, in shoes, and say it; nobody stands on a bar with a trailer on it"),
        )
    if options.said.sheet_untouched is not None and not options.others and record is None:
        raise InputError(
            said("--sheet-untouched or --sheet-moved without --before or --from."),
            expected=said("photographs from before, or the record that was made of them"),
            remedy=said("name them: --before PHOTO, or --from RECORD.json"),
        )


def _carried(said: Stated) -> Carried | None:
    """Where the centre was by a bar tag, from the record of then."""
    if said.from_record is None:
        return None
    from photomeasure.record.carried import carried_from

    return carried_from(said.from_record, sheet_untouched=said.sheet_untouched)


def run(options: Options) -> int:
    """Measure, write, show; returns the exit code.

    Files come before the terminal, so that a pipe that closes early costs none of them; a reading that is typed
    afterwards writes them again.
    """
    from photomeasure.commands.tape import said_by
    from photomeasure.shown.terminal import show, show_tape, show_written

    seed = MONTE_CARLO_SEED if options.monte_carlo else None
    said = said_by(
        options.said.tape_mm, options.said.tape_class, options.said.tape_to, options.said.tape_flat_mm, _TAPE_NAMES
    )
    _refuse_folders(options.all_photos)
    request = _request(options)
    check_json(options.json_file, "record", _inputs(options))
    tape = said or _taped_before(options)
    with waiting("Measuring"):
        outcome, record = recorded(request, seed=seed, tape=tape)
    quiet = to_standard_output(options.json_file)
    try:
        written = _write(record, outcome, options)
    finally:  # a file that cannot be written is no reason to keep the figure back
        if not quiet:
            show(record, details=options.details)
    if not quiet:
        wanted = options.ask and tape is None and record.height_mm is not None
        if wanted and (typed := _asked(options)) is not None:
            from photomeasure.record.with_tape import with_tape

            record = with_tape(record, typed)
            _write(record, outcome, options)
            show_tape(record)
        show_written(written)
    return EXIT_REFUSED if isinstance(outcome, Refused) else EXIT_DONE


def _taped_before(options: Options) -> TapeSaid | None:
    """The reading in the record that will be made anew. Raises InputError where a record there is of other photographs."""
    from photomeasure.record.earlier import earlier_tape

    beside = None if options.out is None else options.out / f"{options.photos[0].stem}.json"
    places = [place for place in (options.json_file, beside) if place is not None and not to_standard_output(place)]
    found = [earlier_tape(place, options.all_photos) for place in places]
    tape = next((tape for tape in found if tape is not None), None)
    if tape is None:
        return None
    from photomeasure.record.with_tape import said_of

    return said_of(tape)


def _refuse_folders(photos: tuple[Path, ...]) -> None:
    """Raise InputError for a folder in place of photographs."""
    for path in photos:
        if path.is_dir():
            raise InputError(
                said("{path} is a folder.", path=path),
                expected=said("photographs of one rig"),
                remedy=said(
                    "for one rig {value}; for many rigs photomeasure batch {path} --out records",
                    value=path / "*.jpg",
                    path=path,
                ),
            )


def _asked(options: Options) -> TapeSaid | None:
    """The tape's reading, asked for on a terminal only; Enter skips."""
    from photomeasure.asked.tape_said import TapeSaid, tape_class_from
    from photomeasure.shown.terminal import ask_tape

    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None
    typed = ask_tape(top=options.said.coupling != "pin" and options.said.coupled is not True)
    if typed is None:
        return None
    tape_class = tape_class_from(options.said.tape_class, "--tape-class")
    return TapeSaid(reading_mm=typed[0], to=typed[1], tape_class=tape_class)


def _write(record: Record, outcome: Result | Refused, options: Options) -> list[Path]:
    """The files that were asked for; returns what was written. All may be written, or none is."""
    files: list[tuple[Path, bytes | str]] = []
    if options.json_file is not None and to_standard_output(options.json_file):
        write_json(options.json_file, record.to_json())
    elif options.json_file is not None:
        files.append((options.json_file, record.to_json()))
    if options.out is not None:
        files += [(options.out / name, data) for name, data in _into_folder(record, outcome, options)]
    for path, data in files:
        check_output(path, kind_of(data.encode() if isinstance(data, str) else data), _inputs(options))
    for path, data in files:
        write_output(path, data, _inputs(options))
    return [path for path, _ in files]


def _into_folder(record: Record, outcome: Result | Refused, options: Options) -> list[tuple[str, bytes | str]]:
    """Record, annotated pictures and report by name."""
    from photomeasure.shown.picture.pictures import pictures_and_overviews

    stem, report_room = options.photos[0].stem, "photomeasure.shown.report.measurement"
    drawn, overviews = pictures_and_overviews(record, outcome, meanwhile=partial(import_module, report_room))
    from photomeasure.shown.report.measurement import measurement_pdf

    report = (f"{stem}-report.pdf", measurement_pdf(record, drawn, overviews))
    return [(f"{stem}.json", record.to_json()), *drawn, report]


def _inputs(options: Options) -> list[Path]:
    """Every file that is read."""
    said = options.said
    named = (said.camera, said.bay, said.from_record, None if said.rule is None else Path(said.rule))
    return [*options.all_photos, *(path for path in named if path is not None)]
