"""The pages after the first: everything that the figure rests on, for whoever has to defend or check it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from calib.words.said import number, say
from photomeasure.record.schema import PhotoPart, Record
from photomeasure.shown.budget_sum import budget_remark
from photomeasure.shown.report.blocks import TIGHT, facts, gap, grid, heading, listed
from photomeasure.shown.report.budget_table import budget_table, inputs_table
from photomeasure.shown.report.picture import Picture, picture
from photomeasure.shown.report.style import BODY, DIGEST, QUIET, SMALL, paragraph
from photomeasure.shown.rows import ball_words, camera_words, centre_words, figure_rows, file_name
from photomeasure.shown.sections import BETTER

_PHOTO_WIDTHS_MM = (6.0, 48.0, 25.0, 16.0, 17.0, 17.0, 25.0, 26.0)
_PAIR_MM = 100.0  # height of the pictures that stand two beside one another


def evidence(
    record: Record, pictures: Sequence[Picture], overviews: Sequence[bytes], width: float, digest: str
) -> list[Flowable]:
    """Budget, inputs, camera, photographs, what to know and to do better, cautions, the record's digest."""
    return [
        *_figures(record, width),
        *_budget(record),
        *_inputs(record),
        *_section(BETTER, record.coach),
        *_photographs(record),
        *more_pictures(pictures, width),
        *whole_photographs(overviews, width),
        *_section(say("Before anything is moved"), record.cautions, 50.0),
        *digest_of(record, width, digest),
    ]


def case_evidence(
    record: Record, pictures: Sequence[Picture], overviews: Sequence[bytes], width: float, digest: str, file: str
) -> list[Flowable]:
    """A rig's part of a case's annex: what its figure rests on, without what is said once for all."""
    return [
        *(_figures(record, width) if record.refusal is None else []),
        *_budget(record),
        *(_photographs(record) if record.refusal is None else []),
        *more_pictures(pictures, width),
        *whole_photographs(overviews[1:], width),
        *digest_of(record, width, digest, file),
    ]


def _figures(record: Record, width: float) -> list[Flowable]:
    rows = figure_rows(record)
    rows += [(say("Coupling's centre"), centre_words(record.centre)), (say("Camera"), camera_words(record))]
    if record.ball is not None:
        rows.append((say("Ball"), ball_words(record, record.ball)))
    return [*heading(say("The figures")), *facts(rows, width, 36.0)]


def _budget(record: Record) -> list[Flowable]:
    if not record.budget:
        return []
    return [
        *heading(say("What the uncertainty is made of")),
        budget_table(record),
        gap(1.5),
        paragraph(budget_remark(record), QUIET),
    ]


def _inputs(record: Record) -> list[Flowable]:
    if not record.inputs:
        return []
    told = say(
        "u: standard uncertainty of what went in, in the quantity's own unit. Height: what one u of it "
        "does to the height (first order); its sign says which way. Type A: by statistics of what was "
        "observed; B: by other knowledge."
    )
    return [*heading(say("What went in")), inputs_table(record.inputs), gap(1.5), paragraph(told, QUIET)]


def _section(title: str, lines: Sequence[str], room_mm: float = 28.0) -> list[Flowable]:
    return [*heading(title, room_mm), *listed(lines, BODY)] if lines else []


def _photographs(record: Record) -> list[Flowable]:
    if not record.photos:
        return []
    head = (
        "",
        say("file"),
        say("size, px"),
        say("corners"),
        say("cell, px"),
        say("blur, px"),
        say("to centre, mm"),
        say("lens height, mm"),
    )
    rows = [(str(i), *_photo_cells(photo)) for i, photo in enumerate(record.photos, start=1)]
    return [
        *heading(say("Photographs")),
        grid(head, rows, _PHOTO_WIDTHS_MM, numbers=range(2, 8)),
        gap(2.0),
        *_digests(record.photos),
    ]


def _photo_cells(photo: PhotoPart) -> tuple[str, ...]:
    size = "" if photo.width_px is None else f"{photo.width_px} x {photo.height_px}"
    figures = (
        (photo.corners, "d"), (photo.cell_px, ".1f"), (photo.blur_px, ".2f"),
        (photo.distance_mm, ".0f"), (photo.lens_height_mm, ".0f"),
    )  # fmt: skip
    return (file_name(photo), size, *("-" if value is None else number(value, form) for value, form in figures))


def _digests(photos: Sequence[PhotoPart]) -> list[Flowable]:
    """The photographs' SHA-256, which tells whether a file is the one that was measured."""
    head = ("", say("SHA-256 of the file"))
    rows = [
        (str(i), paragraph(photo.sha256 or say("the file could not be read"), DIGEST))
        for i, photo in enumerate(photos, 1)
    ]
    return [grid(head, rows, (_PHOTO_WIDTHS_MM[0], sum(_PHOTO_WIDTHS_MM[1:])))]


def more_pictures(pictures: Sequence[Picture], width: float) -> list[Flowable]:
    """All pictures but the first, two beside one another."""
    side = (width - 6.0) / 2
    cells = [
        [
            picture(data, side, _PAIR_MM),
            paragraph(say("Photograph {i} of {many}: {name}", i=i, many=len(pictures), name=name), QUIET),
        ]
        for i, (name, data) in enumerate(pictures, start=1)
    ][1:]
    rows = [[*cells[i : i + 2], *[""] * (2 - len(cells[i : i + 2]))] for i in range(0, len(cells), 2)]
    columns = ((side + 6.0) * mm, side * mm)
    title = heading(say("The other photographs"), _PAIR_MM + 16.0)
    return [*title, Table(rows, colWidths=columns, style=TIGHT)] if rows else []


def whole_photographs(overviews: Sequence[bytes], width: float) -> list[Flowable]:
    """The photographs as they were taken, small, two beside one another; a ring marks the coupling's centre."""
    side = (width - 6.0) / 2
    many = len(overviews)
    cells = [
        [picture(data, side, 66.0), paragraph(say("Photograph {i} of {many}", i=i, many=many), QUIET)]
        for i, data in enumerate(overviews, start=1)
    ]
    rows = [[*cells[i : i + 2], *[""] * (2 - len(cells[i : i + 2]))] for i in range(0, many, 2)]
    title = heading(say("The whole photographs") if many > 1 else say("The whole photograph"), 84.0)
    return [*title, Table(rows, colWidths=((side + 6.0) * mm, side * mm), style=TIGHT)] if rows else []


def digest_of(record: Record, width: float, digest: str, file: str = "") -> list[Flowable]:
    """What ties this report to the record's file."""
    version = f"photomeasure {record.version}"
    rows = [(say("File"), file), ("SHA-256", digest), (say("Schema"), record.schema_), (say("Version"), version)]
    told = say("All figures here come from this record (JSON), which holds them unrounded.")
    return [*heading(say("The record")), *facts(rows, width, 20.0, SMALL), paragraph(told, QUIET)]


def record_sha256(record: Record) -> str:
    """The digest of the record's file as it is written."""
    return hashlib.sha256(record.to_json().encode("utf-8")).hexdigest()
