"""The report of one measurement: the answer on the first page, what it rests on after it."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, PageBreak

from calib.words.said import say, shown
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import headline
from photomeasure.shown.report.evidence import evidence, more_pictures, record_sha256
from photomeasure.shown.report.first_page import TITLE, first_page
from photomeasure.shown.report.page import Furniture, build
from photomeasure.shown.report.picture import Picture

_SHORT_DIGEST = 16


def measurement_pdf(record: Record, pictures: Sequence[Picture], overviews: Sequence[bytes] = ()) -> bytes:
    """The report as a PDF of A4 pages; the same record and pictures give the same bytes.

    pictures: name and bytes of the annotated JPEGs, in the order of the photographs; their drawing goes in, without the
    strips that say what the page says. overviews: JPEGs of the whole photographs.
    A refusal makes one page with the reason and the remedy, and one more only for further pictures.
    """
    digest = record_sha256(record)
    furniture = Furniture(
        title=shown(TITLE),
        running=_running(record),
        made=record.computed,
        author=(record.asked.case.by if record.asked is not None else None) or "",
        foot=say("Record SHA-256 {digest}...", digest=digest[:_SHORT_DIGEST]),
    )
    return build(lambda: _story(record, pictures, overviews, furniture, digest), furniture)


def _running(record: Record) -> str:
    height, spread = words.height(record), words.plus_minus(record)
    found = headline(record)
    verdict = shown(found.within) if found.sure else say("{verdict} (indicative)", verdict=found.within)
    return verdict if height is None else f"{height} {spread}, {verdict}"


def _story(
    record: Record, pictures: Sequence[Picture], overviews: Sequence[bytes], furniture: Furniture, digest: str
) -> list[Flowable]:
    width, _ = furniture.body_mm
    first, over = first_page(record, pictures, furniture.body_mm, overviews)
    after = over + (
        evidence(record, pictures, overviews, width, digest)
        if record.refusal is None
        else more_pictures(pictures, width)
    )
    return [*first, PageBreak(), *after] if after else first
