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

# also where a table has no letters of its own: their font would be named in the file without being in it
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
    # no label is broken within a word: in some languages one word is all of it
    words = [word for label, _ in told for word in shown(label).split()]
    longest_mm = (max(stringWidth(word, bold.fontName, bold.fontSize) for word in words) + _LABEL_GAP + 0.5) / mm
    label_mm = min(max(label_mm, longest_mm), width_mm / 2)
    columns = (label_mm * mm, (width_mm - label_mm) * mm)
    cells = [[_set(label, bold, columns[0] - _LABEL_GAP), _set(text, style, columns[1])] for label, text in told]
    extra = [
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("RIGHTPADDING", (0, 0), (0, -1), _LABEL_GAP),
        *_letters(bold, (0, 0), (0, -1)),
        *_letters(style, (1, 0), (1, -1)),
    ]
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
    body = [
        [
            _set(cell, NUMBER if i in right else SMALL, columns[i] - 2 * _SIDE) if isinstance(cell, str) else cell
            for i, cell in enumerate(row)
        ]
        for row in rows
    ]
    look = [
        FONT,
        *_letters(SMALL, (0, 1), (-1, -1)),
        *(("ALIGN", (i, 1), (i, -1), "RIGHT") for i in right),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), _SIDE),
        ("RIGHTPADDING", (0, 0), (-1, -1), _SIDE),
        ("TOPPADDING", (0, 0), (-1, -1), 1.6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
        ("BACKGROUND", (0, 0), (-1, 0), colour_of(SHADE)),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, colour_of(RULE)),
    ]
    return LongTable([top, *body], colWidths=columns, repeatRows=1, style=[*look, *style], hAlign="LEFT", splitInRow=1)


def _set(text: str, style: ParagraphStyle, room: float) -> str | Flowable:
    """A text that fits into one line of `room` points is set by the table itself, far quicker than as a paragraph."""
    line = printable(text)
    return line if stringWidth(line, style.fontName, style.fontSize) <= room else paragraph(text, style)


def _letters(style: ParagraphStyle, first: tuple[int, int], last: tuple[int, int]) -> list[tuple[Any, ...]]:
    """How a table sets the texts from one cell to another, (column, row): as paragraphs of this style."""
    return [
        ("FONTNAME", first, last, style.fontName),
        ("FONTSIZE", first, last, style.fontSize),
        ("LEADING", first, last, style.leading),
        ("TEXTCOLOR", first, last, style.textColor),
    ]


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
