"""Four drawings for whoever takes the photographs: print, cut and stand, where to kneel, what the phone shows.

The kit's own, from the page of instructions that is printed with it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import cast

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from calib.drawing.pen import Pen
from calib.kit.kit import PAPERS, kit
from calib.kit.languages import Language, said_in
from calib.kit.page_phone_view import draw_phone_view, phone_view_m
from calib.kit.page_scenes import SIDE_VIEW_M, draw_side_view
from calib.kit.page_sketches import draw_cutting, draw_printing
from calib.words.said import said
from photomeasure.web.enquiries.svg_canvas import SvgCanvas

# What is said beside each drawing
STEPS = (
    (said("Print"), said("Print at 100 %, never “fit to page”.")),
    (
        said("Cut and stand"),
        said("Cut along the dashed line. Tape the sheet flat to a square box and stand it on the ground."),
    ),
    (said("Kneel"), said("About two big steps away. Hold the phone as high as the coupling.")),
    (said("Take the photograph"), said("Coupling and the whole sheet in the picture, sharp. No zoom.")),
)
_WIDE_MM = 92.0
_ON_A_PHONE = ("same height", "1.5 to 2.5 m")  # of the words in the side view: there is no room for more


@cache
def drawing(number: int, paper: str, language: Language) -> str | None:
    """Drawing 1 to 4 as SVG, of the sheet of this paper; None for any other. language: of the words in it."""
    if not 1 <= number <= len(STEPS) or paper not in PAPERS:
        return None
    the_kit = kit(next(name for name in PAPERS if name == paper))
    sheet, words = the_kit.upright, said_in(language)
    if number == 1:
        return _drawn(_WIDE_MM, 62.0, words, lambda pen: draw_printing(pen, sheet, _WIDE_MM, 62.0))
    if number == 2:
        return _drawn(_WIDE_MM, 62.0, words, lambda pen: draw_cutting(pen, sheet, _WIDE_MM, 62.0))
    if number == 3:
        left, bottom, width, height = SIDE_VIEW_M
        scale = _WIDE_MM / width
        return _drawn(
            _WIDE_MM,
            height * scale,
            lambda drawn: words(drawn) if drawn in _ON_A_PHONE else "",
            lambda pen: draw_side_view(pen.at((-left * scale, -bottom * scale), scale), sheet),
        )
    left, bottom, height = phone_view_m(sheet)
    width, edge = 1.12, 0.025
    scale = _WIDE_MM / (width + 0.12)
    return _drawn(
        _WIDE_MM,
        (height + 2 * edge) * scale,
        words,
        lambda pen: draw_phone_view(pen.at((-scale * (left - edge), -scale * (bottom - edge)), scale), sheet, width),
    )


def _drawn(width_mm: float, height_mm: float, words: Callable[[str], str], draw: Callable[[Pen], None]) -> str:
    canvas = SvgCanvas(width_mm * mm, height_mm * mm)
    draw(Pen(canvas=cast(Canvas, canvas), said=words))  # it has all of a canvas that the pen asks for
    return canvas.svg()
