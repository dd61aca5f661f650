"""`photomeasure level`: photographs and marks to a trailer's pitch, to terminal, file and exit code."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED

if TYPE_CHECKING:
    from photomeasure.asked.level import Allowed, LevelRequest
    from photomeasure.levelling import LevelResult
    from photomeasure.record.level import LevelRecord
    from photomeasure.seen.look import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelOptions:
    """The command line as typed."""

    photos: tuple[Path, ...]
    ground: tuple[str, ...]
    rail: tuple[str, ...]
    pick_u_px: float | None = None
    nose: Literal["left", "right"] | None = None
    nose_up_limit_deg: float | None = None
    nose_down_limit_deg: float | None = None
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None
    level_ground: bool | None = None
    level_within_mm_per_m: float | None = None
    camera: Path | None = None
    json_file: Path | None = None
    out: Path | None = None


def run(options: LevelOptions) -> int:
    """Measure, write, show; returns the exit code. Raises InputError for wrong usage."""
    from calib.outcome.errors import InputError
    from photomeasure.commands.output import check_json, to_standard_output, write_json
    from photomeasure.record.level import recorded_level
    from photomeasure.shown.level import show_level
    from photomeasure.shown.page_of_text import PageOfText

    if options.json_file is not None:
        check_json(options.json_file, "level", options.photos)
    _check_out(options)
    outcome, record = recorded_level(level_request(options))
    try:
        if options.json_file is not None:
            write_json(options.json_file, record.to_json(), options.photos)
        written = _write(options, record, outcome)
    except InputError:
        show_level(record, PageOfText())  # a file that cannot be written is no reason to keep the figure back
        raise
    if not to_standard_output(options.json_file):
        show_level(record, PageOfText())
        if written:
            PageOfText().lines(["", f"Written: {', '.join(map(str, written))}"])
    return EXIT_REFUSED if record.refusal is not None else EXIT_DONE


def _names(options: LevelOptions) -> tuple[str, list[str]]:
    """Of the record, and of the pictures."""
    stems = [photo.stem for photo in options.photos]
    pictures = [f"{stem}-level.jpg" if i == 0 else f"{stem}-level-{i + 1}.jpg" for i, stem in enumerate(stems)]
    return f"{stems[0]}-level.json", pictures


def _check_out(options: LevelOptions) -> None:
    """Before the work: nothing of anybody's is written over."""
    from calib.outcome.files import check_output

    if options.out is None or not options.photos:
        return
    record, pictures = _names(options)
    check_output(options.out / record, "level", options.photos)
    for name in pictures:
        check_output(options.out / name, "picture", options.photos)


def _write(options: LevelOptions, record: LevelRecord, outcome: LevelResult | Refused) -> list[Path]:
    """The record, and the pictures where something was measured, into the folder that was asked for."""
    from calib.outcome.files import write_output
    from photomeasure.levelling import LevelResult
    from photomeasure.shown.picture.level import level_pictures

    if options.out is None:
        return []
    name, _ = _names(options)
    files: list[tuple[str, bytes | str]] = [(name, record.to_json())]
    if isinstance(outcome, LevelResult):
        files += level_pictures(record, outcome)
    for name, data in files:
        write_output(options.out / name, data, options.photos)
    return [options.out / name for name, _ in files]


def level_request(options: LevelOptions) -> LevelRequest:
    """The request that the options make. Raises InputError."""
    from photomeasure.asked import limits
    from photomeasure.asked.bars import Bars
    from photomeasure.asked.level import LEVEL_PICK_U_PX, LevelRequest
    from photomeasure.asked.request import Request
    from photomeasure.asked.state import State
    from photomeasure.asked.typed import pixels_typed
    from photomeasure.rules.load import default_rule
    from photomeasure.seen.camera_for import profile_folder

    limits.check_level("--level-within", options.level_within_mm_per_m, "--unknown-ground", options.level_ground)
    profile = None
    if options.camera is not None:
        from calib.profile.load import load_profile

        profile = load_profile(options.camera)
    return LevelRequest(
        request=Request(
            photos=options.photos,
            rule=default_rule("ball-50"),
            bars=Bars(x_mm=options.bar_x_mm, y_mm=options.bar_y_mm),
            state=State(level_ground=options.level_ground),
            level_within_mm_per_m=options.level_within_mm_per_m,
            profile=profile,
            profile_folder=profile_folder(),
        ),
        ground_px=tuple(pixels_typed(text, "--ground") for text in options.ground),
        rail_px=tuple(pixels_typed(text, "--rail") for text in options.rail),
        pick_u_px=LEVEL_PICK_U_PX if options.pick_u_px is None else options.pick_u_px,
        nose=options.nose,
        allowed=_allowed(options),
    )


def _allowed(options: LevelOptions) -> Allowed | None:
    from photomeasure.asked.level import Allowed

    up, down = options.nose_up_limit_deg, options.nose_down_limit_deg
    if up is None and down is None:
        return None
    return Allowed(nose_up_deg=up or 0.0, nose_down_deg=down or 0.0, source="as typed")
