"""Page 1 of the kit: how to print, stand and photograph it, drawn; at most ten lines to read.

The panels are laid out for A4 and stretched to the paper; the card's outline alone keeps its true size.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from calib.drawing.colours import ACCENT, INK, MID, SOFT, WHITE, Point
from calib.drawing.pen import Pen
from calib.kit.kit import ID1_CARD_MM, Kit, Sheet
from calib.kit.page_furniture import PRINTER_MARGIN_MM, page_words
from calib.kit.page_phone_view import draw_phone_view, phone_view_m
from calib.kit.page_scenes import (
    PLAN_M,
    SIDE_VIEW_M,
    draw_plan,
    draw_side_view,
)
from calib.kit.page_sketches import draw_cutting, draw_printing, draw_sending
from calib.kit.paper import PAPER_WORDS

SEND_TO_LINES, SEND_TO_LETTERS = 4, 36
ID1_CORNER_MM = 3.18  # middle of 2.88-3.48, ISO/IEC 7810 (secondary)

TITLE = "How high is the coupling?"
LEAD = "Print, stand and photograph the sheet like this."
PRINT_LINES = (
    "Print at 100 %, never \u201cfit to page\u201d. Lay a ruler on bars X and Y of",
    "the upright sheet. Fill the boxes of what is true, with a thick dark pen.",
)
CARD_LINE = "No ruler? A loyalty card just covers this outline."
CARD_NOTES = (
    "Better: lay it on the upright sheet's squares, back up,",
    "and photograph it from 40 cm straight above.",
    "Never a payment card: its numbers would be in the picture.",
)
CODE_STRIPES_MM = (
    0.8,
    0.4,
    1.2,
    0.4,
    0.4,
    0.8,
    1.6,
    0.4,
    0.8,
    0.4,
    1.2,
    0.8,
    0.4,
)  # a loyalty card's bars, as they are drawn
CUT_LINE = "Cut on the foot line. Tape the sheet flat to a stiff, square box."
STAND_LINES = (
    "Stand it on the bare ground under or beside the coupling, facing you,",
    "as far away as its centre. Ground sheet before it. No board, no mat.",
)
SHOOT_LINE = (
    "Phone straight in front, the lens as high as the coupling; coupling and whole sheet in the picture, sharp."
)
SEND_LINES = ("Main camera, no zoom. Send the original files to:",)
SAFETY_LINES = (
    "Hard, level ground; engine off, brakes on, wheels chocked. Push the sheets in from the side. Nobody between vehicle and trailer,",
    "under them or under a jack; hands out of the coupling. "
    "A photograph is no certificate: confirm with a tape; local codes and licensed people decide.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A frame on the page, page millimetres."""

    left: float
    bottom: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Panels:
    """Where everything is on the page; zoom is the size of letters and lines against A4."""

    zoom: float
    header: Panel
    printing: Panel
    card: Panel
    cutting: Panel
    standing: Panel
    side_view: Panel
    plan: Panel
    sending: Panel
    safety: Panel


def lay_out_panels(the_kit: Kit) -> Panels:
    """Rows from the top: header, print and card, cut and stand, side view, plan and sending, safety."""
    width, height = the_kit.page_mm
    zoom = min(width / 210.0, height / 297.0)
    margin = PRINTER_MARGIN_MM + 5.0 * zoom
    gap, wide = 3.2 * zoom, width - 2 * margin
    fixed = {"header": 14.0 * zoom, "print": max(60.0 * zoom, ID1_CARD_MM[1] + 5.0), "safety": 13.0 * zoom}
    shares = {"stand": 0.325, "side": 0.365, "plan": 0.31}
    free = height - 2 * margin - sum(fixed.values()) - 5 * gap
    heights = {**fixed, **{name: share * free for name, share in shares.items()}}
    rows: dict[str, tuple[float, float]] = {}
    y = height - margin
    for name in ("header", "print", "stand", "side", "plan", "safety"):
        y -= heights[name]
        rows[name] = (y, heights[name])
        y -= gap

    def panel(row: str, start: float, stop: float) -> Panel:
        return Panel(left=margin + start, bottom=rows[row][0], width=stop - start, height=rows[row][1])

    card_wide = max(ID1_CARD_MM[0] + 4.0, 0.47 * wide)
    cut, plan = 0.48 * wide, 0.61 * wide
    return Panels(
        zoom=zoom,
        header=panel("header", 0, wide),
        printing=panel("print", 0, wide - card_wide - gap),
        card=panel("print", wide - card_wide, wide),
        cutting=panel("stand", 0, cut),
        standing=panel("stand", cut + gap, wide),
        side_view=panel("side", 0, wide),
        plan=panel("plan", 0, plan),
        sending=panel("plan", plan + gap, wide),
        safety=panel("safety", 0, wide),
    )


def card_outline_mm(the_kit: Kit) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of the ID-1 card's outline on page 1, page millimetres."""
    panel = lay_out_panels(the_kit).card
    left = panel.left + (panel.width - ID1_CARD_MM[0]) / 2
    bottom = panel.bottom + (panel.height - ID1_CARD_MM[1]) / 2
    return left, bottom, left + ID1_CARD_MM[0], bottom + ID1_CARD_MM[1]


def _frame(pen: Pen, panel: Panel, lines: tuple[str, ...]) -> Panel:
    """Frame and the panel's lines at its foot; returns the room left for the drawing."""
    zoom, size = pen.zoom, 8.3
    pen.box(panel.left, panel.bottom, panel.width, panel.height, radius=2.0 * zoom, weight=0.25, colour=SOFT)
    spacing, foot = 3.9 * zoom, 2.6 * zoom
    for row, words in enumerate(reversed(lines)):
        fits = (panel.width - 5.0 * zoom) / pen.width_of(words, size=size)
        pen.text((panel.left + 3.0 * zoom, panel.bottom + foot + row * spacing), words, size=size * min(1.0, fits))
    used = foot + len(lines) * spacing + 1.0 * zoom
    return Panel(
        left=panel.left + 3.0 * zoom,
        bottom=panel.bottom + used,
        width=panel.width - 6.0 * zoom,
        height=panel.height - used - 2.5 * zoom,
    )


def _number(pen: Pen, panel: Panel, number: int) -> None:
    """The panel's number, drawn last, over the drawing."""
    centre = (panel.left + 4.6 * pen.zoom, panel.bottom + panel.height - 4.6 * pen.zoom)
    pen.disc(centre, 3.3 * pen.zoom, colour=WHITE, fill=INK, weight=0.7)
    pen.text(
        (centre[0], centre[1] - 1.45 * pen.zoom),
        str(number),
        size=11.5,
        bold=True,
        anchor="middle",
        colour=WHITE,
    )


def _fit(pen: Pen, room: Panel, extent: tuple[float, float, float, float]) -> Pen:
    """A pen whose units fill the room with extent (left, bottom, width, height), centred."""
    left, bottom, width, height = extent
    scale = min(room.width / width, room.height / height)
    origin = (
        room.left + (room.width - scale * width) / 2 - scale * left,
        room.bottom + (room.height - scale * height) / 2 - scale * bottom,
    )
    return pen.at(origin, scale)


def _draw_card(pen: Pen, the_kit: Kit) -> None:
    left, bottom, right, top = card_outline_mm(the_kit)
    pen.box(left, bottom, right - left, top - bottom, radius=ID1_CORNER_MM, weight=0.2, colour=(0.0, 0.0, 0.0))
    middle: Point = ((left + right) / 2, (bottom + top) / 2)
    x = left + 8.0
    for wide in CODE_STRIPES_MM:
        pen.box(x, bottom + 8.0, wide, 13.0, colour=None, fill=SOFT)
        x += wide + 1.1
    size = 8.3 / pen.zoom * min(1.15, pen.zoom)
    room = right - left - 6.0
    pen.text((middle[0], top - 9.0), CARD_LINE, size=pen.fitting(CARD_LINE, room, size=size), anchor="middle")
    for row, words in enumerate(CARD_NOTES):
        fits = pen.fitting(words, room, size=0.92 * size)
        pen.text((middle[0], top - 14.0 - 4.0 * row), words, size=fits, anchor="middle")
    pen.text((right - 5.0, bottom + 4.5), "85.60 x 53.98 mm", size=6.5 / pen.zoom, anchor="right", colour=MID)


def _draw_header(pen: Pen, panel: Panel, the_kit: Kit) -> None:
    base = panel.bottom + 3.6 * pen.zoom
    pen.text((panel.left, base), TITLE, size=21.0, bold=True)
    after = panel.left + pen.width_of(TITLE, size=21.0, bold=True) + 4.0 * pen.zoom
    pen.text((after, base), LEAD, size=10.0, colour=MID)
    label = f"{the_kit.name}   {pen.said(PAPER_WORDS[the_kit.paper])}   {page_words(pen, 1)}"
    pen.text(
        (panel.left + panel.width, panel.bottom + panel.height - 2.6 * pen.zoom),
        label,
        size=7.0,
        anchor="right",
        colour=MID,
    )
    pen.line((panel.left, panel.bottom), (panel.left + panel.width, panel.bottom), weight=0.9, colour=ACCENT)


def _draw_safety(pen: Pen, panel: Panel) -> None:
    zoom = pen.zoom
    pen.box(panel.left, panel.bottom, panel.width, panel.height, radius=2.0 * zoom, weight=0.7, colour=ACCENT)
    x, y, half = panel.left + 7.0 * zoom, panel.bottom + 2.6 * zoom, 4.4 * zoom
    pen.area((x - half, y), (x + half, y), (x, y + 1.75 * half), fill=ACCENT, colour=ACCENT, weight=0.8)
    pen.line((x, y + 1.12 * half), (x, y + 0.62 * half), weight=0.9, colour=WHITE)
    pen.disc((x, y + 0.28 * half), 0.55 * zoom, colour=None, fill=WHITE)
    for row, words in enumerate(SAFETY_LINES):
        pen.text(
            (panel.left + 13.0 * zoom, panel.bottom + (7.6 - 4.4 * row) * zoom),
            words,
            size=7.4 * min(1.0, (panel.width - 15.0 * zoom) / pen.width_of(words, size=7.4)),
        )


def _draw_print_and_fix(pen: Pen, panels: Panels, sheet: Sheet) -> None:
    """Panels 1 to 3, whose drawings are sized in A4's millimetres."""
    for panel, lines, draw in (
        (panels.printing, PRINT_LINES, draw_printing),
        (panels.cutting, (CUT_LINE,), draw_cutting),
    ):
        room = _frame(pen, panel, lines)
        draw(pen.at((room.left, room.bottom), pen.zoom), sheet, room.width / pen.zoom, room.height / pen.zoom)
    room = _frame(pen, panels.standing, STAND_LINES)
    left, bottom, height = phone_view_m(sheet)
    scale = room.height / (height + 0.05)
    seen = pen.at((room.left - scale * (left - 0.025), room.bottom - scale * (bottom - 0.025)), scale)
    draw_phone_view(seen, sheet, room.width / scale - 0.12)


def _draw_sending(pen: Pen, panel: Panel, to: tuple[str, ...]) -> None:
    """What to send back, and to whom: the dealer's lines, or lines to write on."""
    zoom = pen.zoom
    room = _frame(pen, panel, ())
    foot = 4.0 * zoom * SEND_TO_LINES + 0.3 * zoom
    lines = 3.9 * zoom * len(SEND_LINES)
    draw_sending(pen.at((room.left, room.bottom), zoom), room.width / zoom, room.height / zoom, (foot + lines) / zoom)
    for row, words in enumerate(SEND_LINES):
        fits = min(1.0, room.width / pen.width_of(words, size=8.3))
        pen.text((room.left, room.bottom + foot + lines - (3.0 + 3.9 * row) * zoom), words, size=8.3 * fits)
    for row in range(SEND_TO_LINES):
        y = room.bottom + foot - (3.0 + 4.0 * row) * zoom
        if to and row < len(to):
            size = min(9.0, 9.0 * room.width / max(pen.width_of(to[row], size=9.0, bold=True), 1e-6))
            pen.text((room.left, y), to[row], size=size, bold=True)
        elif not to:
            pen.line(
                (room.left, y - 0.6 * zoom),
                (room.left + room.width, y - 0.6 * zoom),
                weight=0.2,
                colour=MID,
                dash=(0.6, 0.8),
            )


def lines_of(text: str) -> tuple[str, ...]:
    """A dealer's text in the lines that there is room for, or as it was broken by hand; too long: the rest is in the last."""
    given = [line.strip() for line in text.replace("\\n", "\n").splitlines() if line.strip()]
    if len(given) == 1:
        given = textwrap.wrap(given[0], SEND_TO_LETTERS) or given
    return (
        *given[: SEND_TO_LINES - 1],
        *((" ".join(given[SEND_TO_LINES - 1 :]),) if len(given) >= SEND_TO_LINES else ()),
    )


def draw_instructions(canvas: Canvas, the_kit: Kit, to: str | None = None, said: Callable[[str], str] = str) -> None:
    """Page 1: how to print, stand and photograph the kit. to: whom the photographs are sent back to."""
    panels = lay_out_panels(the_kit)
    pen = Pen(canvas=canvas, zoom=panels.zoom, said=said)
    _draw_header(pen, panels.header, the_kit)
    _draw_print_and_fix(pen, panels, the_kit.upright)
    _draw_card(pen, the_kit)
    draw_side_view(_fit(pen, _frame(pen, panels.side_view, (SHOOT_LINE,)), SIDE_VIEW_M), the_kit.upright)
    draw_plan(_fit(pen, _frame(pen, panels.plan, ()), PLAN_M), the_kit.upright)
    _draw_sending(pen, panels.sending, () if to is None else lines_of(to))
    _draw_safety(pen, panels.safety)
    numbered = (
        panels.printing,
        panels.cutting,
        panels.standing,
        panels.side_view,
        panels.plan,
        panels.sending,
    )
    for number, panel in enumerate(numbered, start=1):
        _number(pen, panel, number)
