"""The report of a plan: side view and recommendation on the first page, tables and assumptions after it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reportlab.platypus import Flowable, PageBreak

from calib.drawing.colours import MID
from calib.drawing.pen import Pen
from calib.words.said import said, say
from photomeasure.rig.document import plan_document
from photomeasure.rig.drawing import plan_drawing
from photomeasure.rig.plan import Plan
from photomeasure.rig.shapes import Drawing
from photomeasure.shown.report.blocks import Drawn, gap, height_mm
from photomeasure.shown.report.page import Furniture, build, date_words
from photomeasure.shown.report.plan_tables import plan_tables
from photomeasure.shown.report.style import BODY, RULE, SMALL_BOLD, STRONG, paragraph
from photomeasure.shown.report.vector import vector

TITLE = said("Plan of a rig")
_TITLE_MM, _LEAST_MM = 9.0, 60.0
_SHORT = said(
    "Brakes on, wheels chocked; never under a jack, never between vehicle and trailer. The least rating decides."
)


def plan_pdf(plan: Plan, made: str) -> bytes:
    """The report as a PDF of A4 pages, landscape; the same plan and `made` give the same bytes.

    made: ISO 8601 date and time that the report carries.
    """
    document, drawing = plan_document(plan), plan_drawing(plan)
    furniture = Furniture(title=TITLE, running=plan.setup.title, made=made, landscape=True)
    return build(lambda: _story(document, drawing, furniture), furniture)


def _story(document: Mapping[str, Any], drawing: Drawing, furniture: Furniture) -> list[Flowable]:
    width, height = furniture.body_mm
    above = [
        Drawn(width, _TITLE_MM, lambda pen: _title(pen, furniture)),
        gap(2.5),
        paragraph(document["recommendation"], STRONG),
        gap(1.0),
        paragraph(document["fault"]["sentence"], BODY),
        gap(2.0),
    ]
    below = [gap(1.5), paragraph(_SHORT, SMALL_BOLD)]
    left_mm = height - height_mm(above, width) - height_mm(below, width) - 3.0
    shown = vector(drawing, width, max(left_mm, _LEAST_MM))
    shown.hAlign = "CENTER"
    return [*above, shown, *below, PageBreak(), *plan_tables(document, width)]


def _title(pen: Pen, furniture: Furniture) -> None:
    """What this is; whose rig it is stands on the drawing."""
    width, _ = furniture.body_mm
    pen.text((0.0, 3.0), TITLE, size=17, bold=True)
    pen.text((width, 3.0), say("Planned {date}", date=date_words(furniture.made)), size=8, anchor="right", colour=MID)
    pen.line((0.0, 0.0), (width, 0.0), weight=0.3, colour=RULE)
