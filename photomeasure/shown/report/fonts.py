"""The reports' letters: Bitstream Vera, which reportlab brings along and which goes into each file, so that it reads the
same everywhere and in thirty years.

Vera runs wider than the usual sans serif; at these scales a line is as long as it would be there, and as easy to read,
since its small letters are larger. Its signs are those of Windows code page 1252 and some more.
"""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from calib.drawing.pen import Letters

REGULAR, BOLD = "Vera", "VeraBd"
EMBEDDED = Letters(regular=REGULAR, bold=BOLD, regular_scale=0.87, bold_scale=0.83)


@cache
def letters() -> Letters:
    """The embedded fonts, made known to reportlab on first use.

    Their bytes are handed over: where it is to open a file itself, it loads a client of the web first, in case that the name is
    an address.
    """
    folder = Path(reportlab.__file__).parent / "fonts"
    for name in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(name, io.BytesIO((folder / f"{name}.ttf").read_bytes())))
    return EMBEDDED
