"""Drawing the kit's pages as a true-scale vector PDF, and telling their geometry as JSON.

Every dark shape of a page is one merged path, so that a renderer cannot snap cells to pixels one by one.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFInfo, PDFString
from reportlab.pdfgen.canvas import Canvas

from calib.kit.code_areas import code_rectangles_mm
from calib.kit.kit import Kit, Paper, Sheet, kit
from calib.kit.languages import Language, said_in
from calib.kit.number import draw_number
from calib.kit.page_furniture import draw_sheet_furniture
from calib.kit.page_heads import draw_heads
from calib.kit.page_instructions import draw_instructions
from calib.outcome.files import mark, write_output

SCHEMA = "photomeasure/target/1"


def _draw_pattern(canvas: Canvas, sheet: Sheet) -> None:
    path = canvas.beginPath()
    rectangles = [sheet.dark_mm, *(code_rectangles_mm(code) for code in sheet.codes)]
    for left, bottom, right, top in np.concatenate(rectangles):
        path.rect(left * mm, bottom * mm, (right - left) * mm, (top - bottom) * mm)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


class _Undated(PDFInfo):  # type: ignore[misc]
    """Who made the file and what it is, without a date: the same print is the same bytes, and no date is invented."""

    def format(self, document: Any) -> Any:
        told = {
            "Title": PDFString(self.title),
            "Author": PDFString(self.author),
            "Subject": PDFString(self.subject),
            "Keywords": PDFString(self.keywords),
            "Creator": PDFString(self.creator),
            "Producer": PDFString(self.producer),
        }
        return PDFDictionary(told).format(document)


def _described(canvas: Canvas, the_kit: Kit, number: int | None) -> None:
    info = _Undated()
    which = "" if number is None else f", print {number:06d}"
    info.title = f"{the_kit.name}, {the_kit.paper}{which}: print at 100 %, no scaling"
    info.author = info.creator = "photomeasure"
    info.subject = "Sheets to print, tick, stand beside a tow coupling and photograph"
    info.keywords = mark("target")
    canvas._doc.info = info


def target_pdf(the_kit: Kit, number: int | None = None, to: str | None = None, language: Language = "en") -> bytes:
    """The kit as a PDF: instructions, upright sheet, ground sheet, centre tags, bar tags, closed heads.

    The same bytes for the same version: no date, no random identifiers. PrintScaling is None.
    number: of this print, or None for a print without one. to: whom the photographs are sent back to.
    language: of every page.
    """
    buffer = io.BytesIO()
    width, height = the_kit.page_mm
    canvas = Canvas(buffer, pagesize=(width * mm, height * mm), invariant=1, pageCompression=1)
    canvas.setViewerPreference("PrintScaling", "None")
    _described(canvas, the_kit, number)
    draw_instructions(canvas, the_kit, to, said_in(language))
    canvas.showPage()
    for sheet in the_kit.sheets:
        canvas.setPageSize((sheet.width_mm * mm, sheet.height_mm * mm))
        _draw_pattern(canvas, sheet)
        draw_sheet_furniture(canvas, the_kit, sheet, number, said_in(language))
        canvas.showPage()
    canvas.setPageSize((the_kit.tags.width_mm * mm, the_kit.tags.height_mm * mm))
    draw_heads(canvas, the_kit, said_in(language))
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _sheet_facts(sheet: Sheet) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "role": sheet.role,
        "page": sheet.page,
        "width_mm": sheet.width_mm,
        "height_mm": sheet.height_mm,
    }
    if sheet.foot_line_mm is not None:
        facts["foot_line_mm"] = sheet.foot_line_mm
    facts["points"] = [
        {"name": name, "x_mm": round(float(x), 6), "y_mm": round(float(y), 6)}
        for name, (x, y) in zip(sheet.point_names, sheet.points_mm, strict=True)
    ]
    facts["tags"] = [
        {
            "id": code.id,
            "centre_mm": [round(value, 6) for value in code.centre_mm],
            "size_mm": round(code.size_mm, 6),
            "quiet_mm": round(code.quiet_mm, 6),
        }
        for code in sheet.codes
    ]
    if sheet.boxes:
        facts["boxes"] = [
            {
                "question": box.question,
                "value": box.value,
                "x_mm": round(box.centre_mm[0], 6),
                "y_mm": round(box.centre_mm[1], 6),
                "width_mm": box.width_mm,
                "height_mm": box.height_mm,
            }
            for box in sheet.boxes
        ]
    return facts


def target_facts(the_kit: Kit, number: int) -> dict[str, Any]:
    """The kit's geometry in page millimetres, x right, y up from the page's bottom-left corner, and the print's number."""
    return {
        "schema": SCHEMA,
        "kit": the_kit.name,
        "paper": the_kit.paper,
        "number": number,
        "bars": {"x_mm": the_kit.upright.bars_mm[0], "y_mm": the_kit.upright.bars_mm[1]},
        "sheets": [_sheet_facts(sheet) for sheet in the_kit.sheets],
    }


def write_target(
    folder: Path, paper: Paper, number: int | None = None, to: str | None = None, language: Language = "en"
) -> tuple[Path, Path]:
    """Write `target.pdf` (the pages, to be printed at 100 %) and `target.json` (the same as lengths in mm) into `folder`.

    number: of this print, 1 to `number.MAX_NUMBER`; without, one is drawn. to: where the photographs are to be sent, printed on the sheet.
    language: of the pages. Returns the paths of both files; raises InputError where the folder cannot be written to.
    """
    the_kit = kit(paper)
    number = draw_number() if number is None else number
    pdf, facts = folder / "target.pdf", folder / "target.json"
    write_output(pdf, target_pdf(the_kit, number, to, language))
    write_output(facts, json.dumps(target_facts(the_kit, number), indent=1) + "\n")
    return pdf, facts
