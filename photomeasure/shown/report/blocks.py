"""What the pages are put together from: headed lists, label-and-text rows, grids, drawings of a fixed size."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Flowable, LongTable, Spacer, Table

from calib.drawing.pen import POINTS_PER_MM, Pen
from calib.words.said import shown
from photomeasure.shown.report.fonts import letters
from photomeasure.shown.report.style import (
    BODY,
    HEADING,
    NUMBER,
    RULE,
    SHADE,
    SMALL,
    SMALL_BOLD,
    SUBHEADING,
    colour_of,
    paragraph,
    printable,
)

# a table's own letters are never seen, but their font would be named in the file without being in it
FONT = ("FONTNAME", (0, 0), (-1, -1), letters().regular)
_SIDE = 3  # points beside what stands in a grid's cell
_LABEL_GAP = 4  # points between a label and its text
TIGHT = [
    FONT,
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]


class Drawn(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A drawing of a fixed size in the flow; `draw` gets a pen in millimetres from its lower left corner."""

    def __init__(self, width_mm: float, height_mm: float, draw: Callable[[Pen], None]) -> None:
        super().__init__()
        self.width, self.height, self._draw = width_mm * mm, height_mm * mm, draw

    def draw(self) -> None:
        self._draw(Pen(canvas=self.canv, letters=letters()))


def gap(height_mm: float) -> Flowable:
    """Empty height on the page."""
    return Spacer(1, height_mm * mm)


def heading(text: str, room_mm: float = 28.0) -> list[Flowable]:
    """A heading, on the next page where fewer than `room_mm` are left under it."""
    return [CondPageBreak(room_mm * mm), paragraph(text, HEADING)]


def headed(title: str, contents: Sequence[Flowable]) -> list[Flowable]:
    """A small heading over its contents; nothing where there are none."""
    return [paragraph(title, SUBHEADING), *contents] if contents else []


def listed(lines: Iterable[str], style: ParagraphStyle = BODY, *, numbered: bool = False) -> list[Flowable]:
    """One paragraph a line, with a bullet or a number hung out."""
    hung = ParagraphStyle(
        f"{style.name}-hung", parent=style, leftIndent=9, spaceAfter=1.2, bulletIndent=0,
        bulletFontName=style.fontName, bulletFontSize=style.fontSize,
    )  # fmt: skip
    return [
        paragraph(line, hung, bullet=f"{i}." if numbered else "\N{BULLET}") for i, line in enumerate(lines, start=1)
    ]


def facts(
    rows: Iterable[tuple[str, str]], width_mm: float, label_mm: float, style: ParagraphStyle = BODY
) -> list[Flowable]:
    """Labels and texts in two columns; rows without text are left out."""
    size = style.fontSize * letters().bold_scale / letters().regular_scale
    bold = ParagraphStyle(f"{style.name}-label", parent=style, fontName=letters().bold, fontSize=size)
    told = [(label, text) for label, text in rows if text]
    if not told:
        return []
    cells = [[paragraph(label, bold), paragraph(text, style)] for label, text in told]
    # no label is broken within a word: in some languages one word is all of it
    words = [word for label, _ in told for word in shown(label).split()]
    longest_mm = (max(stringWidth(word, bold.fontName, bold.fontSize) for word in words) + _LABEL_GAP + 0.5) / mm
    label_mm = min(max(label_mm, longest_mm), width_mm / 2)
    columns = (label_mm * mm, (width_mm - label_mm) * mm)
    extra = [("BOTTOMPADDING", (0, 0), (-1, -1), 1.6), ("RIGHTPADDING", (0, 0), (0, -1), _LABEL_GAP)]
    return [Table(cells, colWidths=columns, style=[*TIGHT, *extra], hAlign="LEFT", splitInRow=1)]


def grid(
    head: Sequence[str],
    rows: Sequence[Sequence[str | Flowable]],
    widths_mm: Sequence[float],
    *,
    numbers: Iterable[int] = (),
    style: Sequence[tuple[Any, ...]] = (),
) -> Flowable:
    """A table whose head comes again on every page; `numbers`: columns that are set to the right."""
    right = set(numbers)
    end = ParagraphStyle("head-right", parent=SMALL_BOLD, alignment=NUMBER.alignment)
    top = [paragraph(text, end if i in right else SMALL_BOLD) for i, text in enumerate(head)]
    columns = [width * mm for width in widths_mm]
    body = [[_cell(cell, columns[i] - 2 * _SIDE if i in right else None) for i, cell in enumerate(row)] for row in rows]
    look = [
        FONT,
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), _SIDE),
        ("RIGHTPADDING", (0, 0), (-1, -1), _SIDE),
        ("TOPPADDING", (0, 0), (-1, -1), 1.6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
        ("BACKGROUND", (0, 0), (-1, 0), colour_of(SHADE)),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, colour_of(RULE)),
    ]
    for i in right:
        look += [
            ("ALIGN", (i, 1), (i, -1), "RIGHT"),
            ("FONTSIZE", (i, 1), (i, -1), NUMBER.fontSize),
            ("LEADING", (i, 1), (i, -1), NUMBER.leading),
            ("TEXTCOLOR", (i, 1), (i, -1), NUMBER.textColor),
        ]
    return LongTable([top, *body], colWidths=columns, repeatRows=1, style=[*look, *style], hAlign="LEFT", splitInRow=1)


def _cell(cell: str | Flowable, room: float | None) -> str | Flowable:
    """room: points, of a number that stands to the right: one that fits is set by the table, far quicker than as a paragraph."""
    if not isinstance(cell, str):
        return cell
    if room is None:
        return paragraph(cell, SMALL)
    text = printable(cell)
    fits = stringWidth(text, NUMBER.fontName, NUMBER.fontSize) <= room
    return text if fits else paragraph(cell, NUMBER)


def beside(left: Sequence[Flowable], right: Sequence[Flowable], widths_mm: tuple[float, float]) -> Flowable:
    """Two columns that stay on one page."""
    columns = tuple(width * mm for width in widths_mm)
    return Table([[list(left), list(right)]], colWidths=columns, style=TIGHT, hAlign="LEFT")


def height_mm(contents: Iterable[Flowable], width_mm: float) -> float:
    """How high the contents are under one another at this width."""
    total = 0.0
    for i, part in enumerate(contents):
        _, high = part.wrap(width_mm * mm, 1e6)
        total += float(high) + part.getSpaceAfter() + (part.getSpaceBefore() if i else 0.0)
    return total / POINTS_PER_MM
