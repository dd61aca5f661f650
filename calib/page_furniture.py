"""What is printed around the pattern: check bars, foot line, words; and the page of instructions."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from calib.kit import CHECK_BAR_MM, Kit, Sheet


def draw_instructions(canvas: Canvas, the_kit: Kit) -> None:
    """Page 1: how to print, stand and photograph the kit."""
    canvas.drawString(20 * mm, 250 * mm, the_kit.name)


def draw_sheet_furniture(canvas: Canvas, the_kit: Kit, sheet: Sheet) -> None:
    """Check bars on both axes, the foot line and a few words, clear of the pattern's quiet zones."""
    canvas.setLineWidth(0.3)
    if sheet.foot_line_mm is not None:
        canvas.line(0, sheet.foot_line_mm * mm, sheet.width_mm * mm, sheet.foot_line_mm * mm)
    canvas.drawString(20 * mm, 5 * mm, f"{CHECK_BAR_MM:.0f} mm")
