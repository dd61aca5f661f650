"""Letters, colours and plain text of the reports' pages.

Signs are those of Windows code page 1252; a sign of a file's name that is not among them is printed as a question mark.
"""

from __future__ import annotations

import re
from html import escape

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph

from calib.drawing.colours import INK, MID, Colour
from calib.outcome.plain_text import plain
from calib.words.said import shown
from photomeasure.shown.report.fonts import letters

BAR: Colour = (0.36, 0.47, 0.57)
RULE: Colour = (0.80, 0.82, 0.84)
SHADE: Colour = (0.955, 0.96, 0.965)
MOST_SIGNS = 4000  # twice the longest note
# longer than any line: the library breaks it sign by sign, each time from its beginning
_LONG_WORD = re.compile(r"(\S{400})(?=\S)")


def colour_of(colour: Colour) -> Color:
    """The colour as reportlab wants it."""
    return Color(*colour)


def _style(name: str, size: float, *, bold: bool = False, **more: object) -> ParagraphStyle:
    font, font_size = letters().of(size, bold)
    given: dict[str, object] = {"fontName": font, "textColor": colour_of(INK), "splitLongWords": 1}
    return ParagraphStyle(name, fontSize=font_size, leading=1.24 * size, **{**given, **more})


BODY = _style("body", 8.5)
STRONG = _style("strong", 9.5, bold=True)
LEAD = _style("lead", 10.5)
SMALL = _style("small", 7.5)
SMALL_BOLD = _style("small-bold", 7.5, bold=True)
QUIET = _style("quiet", 7.5, textColor=colour_of(MID))
NUMBER = _style("number", 7.5, alignment=TA_RIGHT)
NUMBER_BOLD = _style("number-bold", 7.5, alignment=TA_RIGHT, bold=True)
DIGEST = _style("digest", 7.0)
HEADING = _style("heading", 12.5, bold=True, spaceBefore=12, spaceAfter=4)
SUBHEADING = _style("subheading", 9.0, bold=True, spaceAfter=1.5, keepWithNext=1)


def printable(text: str) -> str:
    """One line of text in signs that the fonts have, and of a length that somebody may have written."""
    flat = "".join(sign if sign.isprintable() else " " for sign in plain(shown(text), MOST_SIGNS))
    return flat.encode("cp1252", "replace").decode("cp1252")


def paragraph(text: str, style: ParagraphStyle = BODY, bullet: str | None = None) -> Paragraph:
    """The text as it is (never as markup), wrapped; a word that is longer than the line is broken."""
    parted = _LONG_WORD.sub(r"\1 ", printable(text))
    return Paragraph(escape(parted, quote=False), style, bulletText=bullet)
