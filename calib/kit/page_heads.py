"""The page for closed heads: where the ball's centre is inside, and a gauge that carries its height over to the tag.

The gauge needs no maker's drawing. It stands on the tow bar beside the bare ball; what scale A reads at the ball's top is
looked up on scale B, which is printed 25 mm lower, half the ball's diameter: there is the centre. Stood on the same place
beside the connected head, it shows where the tag's middle belongs. Its own uncertainty, judged: top read to half a
millimetre, gauge stood twice to half a millimetre each, tag to the line half a millimetre (rectangles): u about 0.6 mm.

Features of heads are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

from reportlab.pdfgen.canvas import Canvas

from calib.drawing.colours import ACCENT, ACCENT_PALE, INK, MID, PALE, SOFT, WHITE, Point
from calib.drawing.pen import Pen
from calib.kit.kit import Kit
from calib.kit.page_furniture import PAGES, PRINTER_MARGIN_MM, page_words
from calib.kit.paper import PAPER_WORDS

BALL_MM = 50.0
GAUGE_MM = (44.0, 150.0)  # width, height
SCALE_MM = (30, 140)
HEADS = (
    ("pressed steel", "the middle of the round bulge,", "seen from the side"),
    ("cast", "the middle of the round bulge; not", "the handle, not the lower rim"),
    ("articulated, with a ball", "the ball's middle; never the", "joint behind it"),
    ("pin", "the middle of the bush that the", "pin goes through"),
)
TITLE = "Closed head: where is the centre?"
LEAD = (
    "A connected head hides the ball. Best: photograph the bare ball first, with a bar tag (page 5). Else the centre tag marks",
    "the centre, and where it is stuck decides nine tenths of what is uncertain: carry the height over with the gauge.",
)
STEPS = (
    ("1", "Before connecting, engine off,", "brakes on: stand the gauge on the", "tow bar, beside the bare ball.", "Read scale A at the ball's top."),
    ("2", "Find the same number on scale B", "and draw a line there across the", "gauge: this is the ball's centre.", ""),
    ("3", "Connected, from the side: stand", "the gauge on the same place, stick", "the centre tag with its middle", "on the line's height."),
)  # fmt: skip
NOTE = (
    "The gauge is for balls of 50 mm (2 in: 0.4 mm too high; 1 7/8 in: 1.2 mm too low). Placed like this the tag is good for about 1 mm.",
    "No gauge and no bare ball: go by the feature above, or by the mark that some makers put on the head. Hands stay out of the coupling.",
)


def draw_heads(canvas: Canvas, the_kit: Kit, said: Callable[[str], str] = str) -> None:
    """Page 6: heads and gauge, on the paper of the tags."""
    width, height = the_kit.tags.width_mm, the_kit.tags.height_mm
    pen = Pen(canvas=canvas, said=said)
    left, right = PRINTER_MARGIN_MM + 6.0, width - PRINTER_MARGIN_MM - 6.0
    top = height - PRINTER_MARGIN_MM - 10.0
    pen.text((left, top), TITLE, size=18.0, bold=True)
    label = f"{the_kit.name}   {pen.said(PAPER_WORDS[the_kit.paper])}   {page_words(pen, PAGES)}"
    pen.text((right, top + 6.0), label, size=6.5, anchor="right", colour=MID)
    pen.line((left, top - 3.0), (right, top - 3.0), weight=0.9, colour=ACCENT)
    size = min(pen.fitting(words, right - left, size=8.6) for words in LEAD)
    for row, words in enumerate(LEAD):
        pen.text((left, top - 9.0 - 4.2 * row), words, size=size)
    wide, tall, heads_top = (right - left - 9.0) / 4, 62.0, top - 17.0
    for place, (name, *feature) in enumerate(HEADS):
        x = left + place * (wide + 3.0)
        pen.box(x, heads_top - tall, wide, tall, radius=2.0, weight=0.25, colour=SOFT)
        pen.text((x + 2.5, heads_top - 5.0), name, size=pen.fitting(name, wide - 4.0, size=8.6, bold=True), bold=True)
        size = min(pen.fitting(words, wide - 4.0, size=7.4) for words in feature)
        for row, words in enumerate(feature):
            pen.text((x + 2.5, heads_top - tall + 6.2 - 3.7 * row), words, size=size)
        with pen.inside(x + 0.5, heads_top - tall + 11.0, wide - 1.0, tall - 18.0):
            _HEADS[place](pen.at((x + wide / 2 - 3.0, heads_top - 26.0), 0.235))
    steps_top = heads_top - tall - 6.0
    _gauge(pen, right - GAUGE_MM[0], steps_top - GAUGE_MM[1])
    room, step = right - GAUGE_MM[0] - 6.0 - left, 46.0
    for place, (number, *told) in enumerate(STEPS):
        low = steps_top - (place + 1) * step - 2.0 * place
        pen.box(left, low, room, step, radius=2.0, weight=0.25, colour=SOFT)
        pen.disc((left + 6.0, low + step - 6.0), 3.3, colour=WHITE, fill=INK)
        pen.text((left + 6.0, low + step - 7.4), number, size=11.0, bold=True, anchor="middle", colour=WHITE)
        size = min(pen.fitting(line, 55.5, size=8.6) for line in told if line)
        for row, line in enumerate(told):
            pen.text((left + room - 57.0, low + step - 12.0 - 4.4 * row), line, size=size)
        with pen.inside(left + 0.5, low + 0.5, room - 60.0, step - 1.0):
            _STEPS[place](pen.at((left + 36.0, low + 24.0), 0.22))
    size = min(pen.fitting(note, right - left, size=7.2) for note in NOTE)
    for row, note in enumerate(NOTE):
        pen.text((left, PRINTER_MARGIN_MM + 9.0 - 4.0 * row), note, size=size)


def _centre_mark(pen: Pen, at: Point = (0.0, 0.0)) -> None:
    x, y = at
    pen.disc(at, BALL_MM / 2, weight=0.35, colour=ACCENT, dash=(1.0, 0.8))
    pen.line((x - 42, y), (x + 42, y), weight=0.35, colour=ACCENT)
    pen.line((x, y - 12), (x, y + 12), weight=0.35, colour=ACCENT)


def _bar_and_ball(pen: Pen, ball: bool = True) -> None:
    """Tow bar with its flat and the ball; the ball's centre at (0, 0), the flat at -55."""
    pen.area((-95, -100), (30, -100), (45, -80), (45, -55), (-95, -55), fill=SOFT, colour=INK)
    pen.box(-13, -55, 26, 38, fill=SOFT)
    pen.box(-22, -60, 44, 7, fill=MID)
    if ball:
        pen.disc((0, 0), BALL_MM / 2, fill=WHITE, weight=0.4)


def _pressed(pen: Pen) -> None:
    _bar_and_ball(pen)
    pen.curve((-36, -14), (-35, 12), (-20, 34), (10, 38), (34, 24), (60, 18), (95, 18), fill=PALE)
    pen.area(
        (-36, -14),
        (-35, 12),
        (-20, 34),
        (10, 38),
        (34, 24),
        (60, 18),
        (95, 18),
        (95, -20),
        (40, -20),
        (30, -14),
        fill=PALE,
    )
    pen.line((-36, -14), (30, -14), (40, -20), (95, -20), weight=0.35)
    pen.line((20, 38), (62, 62), weight=1.1, colour=MID)
    _centre_mark(pen)


def _cast(pen: Pen) -> None:
    _bar_and_ball(pen)
    body = [(-42, -20), (-42, 8), (-28, 34), (4, 42), (36, 30), (95, 30), (95, -26), (40, -26), (34, -20)]
    pen.area(*body, fill=SOFT, colour=INK)
    pen.disc((0, 2), 33, weight=0.3)
    for x in (58, 82):
        pen.disc((x, 2), 5, weight=0.3, fill=PALE)
    pen.curve((-10, 42), (10, 66), (50, 64), weight=1.2, colour=MID)
    _centre_mark(pen)


def _articulated(pen: Pen) -> None:
    _bar_and_ball(pen)
    pen.area((-34, -15), (-34, 12), (-18, 34), (18, 34), (34, 14), (34, -15), fill=PALE, colour=INK)
    pen.area((34, 16), (54, 16), (54, -16), (34, -16), fill=SOFT, colour=INK)
    pen.disc((66, 0), 17, fill=PALE, weight=0.35)
    pen.disc((66, 0), 6, fill=MID, weight=0.3)
    pen.box(72, -20, 26, 40, fill=SOFT)
    _centre_mark(pen)
    pen.line((54, -14), (80, 14), weight=0.5, colour=ACCENT)
    pen.line((54, 14), (80, -14), weight=0.5, colour=ACCENT)


def _pin(pen: Pen) -> None:
    for y in (-52, 36):
        pen.box(-95, y, 100, 16, fill=SOFT)
    pen.box(-8, -62, 16, 124, fill=MID, radius=3)
    pen.area((-30, -30), (-30, 30), (30, 30), (95, 22), (95, -22), (30, -30), fill=PALE, colour=INK)
    pen.box(-16, -30, 32, 60, dash=(1.0, 0.8), weight=0.3)
    pen.line((-42, 0), (42, 0), weight=0.35, colour=ACCENT)
    pen.line((0, -12), (0, 12), weight=0.35, colour=ACCENT)


def _small_gauge(pen: Pen, *, line: bool) -> None:
    """Standing on the tow bar's flat, before (seen from the side) the ball."""
    pen.box(-66, -55, 30, 135, fill=WHITE, weight=0.35)
    for step in range(0, 110, 10):
        pen.line((-36, -30 + step), (-42 if step % 50 else -46, -30 + step), weight=0.2)
    if line:
        pen.line((-70, 0), (-32, 0), weight=0.7, colour=ACCENT)


def _step_read(pen: Pen) -> None:
    _bar_and_ball(pen)
    _small_gauge(pen, line=False)
    pen.line((-66, 25), (18, 25), weight=0.35, colour=ACCENT, dash=(1.2, 0.8))
    pen.text((22, 28), "A", size=10.0, bold=True, colour=ACCENT)


def _step_line(pen: Pen) -> None:
    _bar_and_ball(pen)
    _small_gauge(pen, line=True)
    pen.arrow((-51, 25), (-51, 2), weight=0.5, colour=ACCENT)
    pen.text((-70, 8), "25 mm", size=8.0, colour=ACCENT, anchor="right")


def _step_tag(pen: Pen) -> None:
    _pressed(pen)
    _small_gauge(pen, line=True)
    pen.box(-24, -24, 48, 48, fill=WHITE, weight=0.3)
    pen.box(-18, -18, 36, 36, fill=MID, colour=None)
    pen.line((-70, 0), (30, 0), weight=0.35, colour=ACCENT, dash=(1.2, 0.8))


_HEADS = (_pressed, _cast, _articulated, _pin)
_STEPS = (_step_read, _step_line, _step_tag)


def _gauge(pen: Pen, left: float, low: float) -> None:
    """The gauge itself, true to size: scale A at the right, B at the left, 25 mm lower."""
    wide, tall = GAUGE_MM
    pen.box(left, low, wide, tall, weight=0.25, colour=MID, dash=(2.0, 1.4))
    for words, size, y in (("gauge: cut out, stick on card", 6.8, tall - 5.0), ("this edge on the tow bar", 6.5, 1.6)):
        fits = pen.fitting(words, wide - 2.0, size=size, bold=True)
        pen.text((left + wide / 2, low + y), words, size=fits, bold=True, anchor="middle")
    pen.text((left + wide - 3.0, low + tall - 9.5), "A: ball's top", size=6.5, anchor="right")
    pen.text((left + 3.0, low + tall - 9.5), "B: centre", size=6.5)
    pen.box(left + wide / 2 - 0.3, low + 8.0, 0.6, tall - 20.0, colour=None, fill=ACCENT_PALE)
    for value in range(*SCALE_MM):
        length = 9.0 if value % 10 == 0 else 6.5 if value % 5 == 0 else 4.0
        for x, way, y in ((left + wide, -1.0, value), (left, 1.0, value - BALL_MM / 2)):
            if not 6.0 < y < tall - 12.0:
                continue
            pen.line((x, low + y), (x + way * length, low + y), weight=0.12)
            if value % 10 == 0:
                anchor = "right" if way < 0 else "left"
                pen.text((x + way * 10.0, low + y - 0.9), str(value), size=7.0, anchor=anchor)  # type: ignore[arg-type]
