"""One case, one PDF: a cover with all its rigs, one page a rig, an annex with what each figure rests on.

Made from records alone; pictures and photographs go in where they are at hand and belong to their record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable, PageBreak

from calib.words.said import said, say, say_many, shown
from photomeasure.record.schema import Record
from photomeasure.shown.report.case_cover import Listed, cover
from photomeasure.shown.report.evidence import case_evidence, record_sha256
from photomeasure.shown.report.first_page import IN_ANNEX, first_page
from photomeasure.shown.report.outline import Mark
from photomeasure.shown.report.page import HEAD_MM, Furniture, build
from photomeasure.shown.report.picture import Picture
from photomeasure.shown.report.style import HEADING, paragraph

TITLE = said("Coupling heights")


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRig:
    """A record with what was found beside it. file: its name; pictures: annotated JPEGs; overviews: whole photographs."""

    record: Record
    file: str
    pictures: Sequence[Picture] = ()
    overviews: Sequence[bytes] = ()

    @property
    def name(self) -> str:
        return self.record.rig or self.file.removesuffix(".json")


def case_pdf(rigs: Sequence[CaseRig], title: str | None = None) -> bytes:
    """The PDF of a case in A4 pages; the same records, pictures and photographs give the same bytes.

    title: in place of the case's own name. rigs: at least one, in the order in which they are shown.
    """
    records = [rig.record for rig in rigs]
    heading = title or shown(_title(records))
    people = _said(records, "by")
    furniture = Furniture(
        title=heading,
        running=say_many("{count} rig", "{count} rigs", count=len(rigs)),
        made=max(record.computed for record in records),
        author=", ".join(people),
        foot=say("Each record's SHA-256 stands in the annex."),
    )
    pages: dict[str, int] = {}  # filled while it is laid out for the first time
    return build(lambda: _story(rigs, heading, furniture, pages), furniture, twice=True)


def _title(records: Sequence[Record]) -> str:
    cases = _said(records, "case")
    return say("Coupling heights: case {case}", case=cases[0]) if len(cases) == 1 else TITLE


def _said(records: Sequence[Record], field: str) -> list[str]:
    """What was said of the case, each once, in order."""
    found = [getattr(record.asked.case, field) for record in records if record.asked is not None]
    return list(dict.fromkeys(value for value in found if value))


def _story(rigs: Sequence[CaseRig], title: str, furniture: Furniture, pages: dict[str, int]) -> list[Flowable]:
    width, height = furniture.body_mm
    listed = [
        Listed(record=rig.record, name=rig.name, page=pages.get(_place(number, "rig")))
        for number, rig in enumerate(rigs, start=1)
    ]
    story: list[Flowable] = [Mark("cover", say("Cover"), pages), *cover(listed, title, width)]
    annex: list[Flowable] = []
    for number, rig in enumerate(rigs, start=1):
        first, over = first_page(
            rig.record, rig.pictures, (width, height - HEAD_MM), rig.overviews, name=rig.name, more=IN_ANNEX
        )
        story += [PageBreak(), Mark(_place(number, "rig"), rig.name, pages), *first]
        annex += [
            PageBreak(),
            Mark(_place(number, "annex"), say("Annex: {rig}", rig=rig.name), pages),
            paragraph(say("Annex {number}: {rig}", number=number, rig=rig.name), HEADING),
            *over,
            *case_evidence(rig.record, rig.pictures, rig.overviews, width, record_sha256(rig.record), rig.file),
        ]
    return [*story, *annex]


def _place(number: int, what: str) -> str:
    return f"{what}-{number}"
