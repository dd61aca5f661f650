"""The page around a report's contents: A4, running head, foot with the page's number, the file's date.

The same contents and the same `made` give the same bytes: no clock, no random identifier.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import md5
from typing import Any

from reportlab import rl_config
from reportlab.lib.units import mm
from reportlab.lib.utils import TimeStamp
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from calib.drawing.colours import INK, MID
from calib.drawing.pen import Pen
from calib.outcome.files import mark
from calib.words.language import chosen
from calib.words.said import date, say, shown
from photomeasure import __version__
from photomeasure.shown import words
from photomeasure.shown.report.fonts import letters
from photomeasure.shown.report.style import RULE, printable

A4_MM = (210.0, 297.0)
SIDE_MM, TOP_MM, HEAD_MM, FOOT_MM = 15.0, 12.0, 9.0, 19.0
_NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Furniture:
    """What stands on every page. `running` heads every page but the first; made: ISO 8601 date and time."""

    title: str
    running: str
    made: str
    foot: str = ""
    landscape: bool = False
    author: str = ""  # who measured, for the file's own data

    @property
    def page_mm(self) -> tuple[float, float]:
        return (A4_MM[1], A4_MM[0]) if self.landscape else A4_MM

    @property
    def body_mm(self) -> tuple[float, float]:
        """Width and height of the first page's contents."""
        width, height = self.page_mm
        return width - 2 * SIDE_MM, height - TOP_MM - FOOT_MM


def build(story: Callable[[], list[Flowable]], furniture: Furniture, *, twice: bool = False) -> bytes:
    """The PDF of a story. twice: it is laid out twice, where it names its own pages, which are known only then."""
    with _raw_streams():
        if twice:
            _laid_out(story(), furniture)
        return _laid_out(story(), furniture)


@contextmanager
def _raw_streams() -> Iterator[None]:
    """Pictures go into the file byte for byte, not as text (a quarter larger, and slow)."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _laid_out(story: list[Flowable], furniture: Furniture) -> bytes:
    buffer = io.BytesIO()
    width, height = furniture.page_mm
    document = BaseDocTemplate(
        buffer,
        pagesize=(width * mm, height * mm),
        invariant=1,
        title=printable(f"{furniture.title}: {furniture.running}"),
        author=printable(furniture.author) or f"photomeasure {__version__}",
        creator=f"photomeasure {__version__}",
        subject=shown(words.NOT_A_CERTIFICATE),
        keywords=mark("report"),
    )
    document.addPageTemplates(
        [
            _template("first", furniture, TOP_MM, after="later"),
            _template("later", furniture, TOP_MM + HEAD_MM),
        ]
    )
    document.build(story, canvasmaker=lambda *args, **kwargs: _canvas(furniture, *args, **kwargs))
    return buffer.getvalue()


def _template(name: str, furniture: Furniture, top_mm: float, after: str | None = None) -> PageTemplate:
    width, height = furniture.page_mm
    box = (SIDE_MM * mm, FOOT_MM * mm, (width - 2 * SIDE_MM) * mm, (height - top_mm - FOOT_MM) * mm)
    frame = Frame(*box, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0, id=name)

    def furnish(canvas: Canvas, document: BaseDocTemplate) -> None:
        pen = Pen(canvas=canvas, letters=letters())
        if name == "later":
            _head(pen, furniture)
        _foot(pen, furniture)
        canvas.doForm(_count_form(document.page))

    return PageTemplate(id=name, frames=[frame], onPage=furnish, autoNextPageTemplate=after)


def _count_form(page: int) -> str:
    return f"CountOfPage{page}"


class _Counting(Canvas):  # type: ignore[misc]  # reportlab has no types
    """Each page shows a form that is filled in at the end, when the number of pages is known."""

    right_mm: float

    def save(self) -> None:
        pages = self.getPageNumber() - 1
        for page in range(1, pages + 1):
            self.beginForm(_count_form(page))
            pen = Pen(canvas=self, letters=letters())
            pen.text(
                (self.right_mm, 10.8), say("Page {page} of {pages}", page=page, pages=pages), size=8.5, anchor="right"
            )
            self.endForm()
        super().save()


def _canvas(furniture: Furniture, *args: Any, **kwargs: Any) -> Canvas:
    canvas = _Counting(*args, **{**kwargs, "invariant": 1, "lang": chosen(), "initialFontName": letters().regular})
    canvas.right_mm = furniture.page_mm[0] - SIDE_MM
    # date and identifier from the record, in place of the clock and the environment
    stamp = TimeStamp(1)
    stamp.YMDhms = (moment_of(furniture.made) or _NO_DATE).timetuple()[:6]
    canvas._doc._timeStamp = stamp
    canvas._doc.signature = md5(furniture.made.encode("utf-8", "replace"), usedforsecurity=False)
    return canvas


def moment_of(made: str) -> datetime | None:
    """The date and time in UTC; None where `made` is none."""
    try:
        moment = datetime.fromisoformat(made)
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def date_words(made: str) -> str:
    """ "25 November 2026, 09:17 UTC", or the text as it is where it is no date."""
    moment = moment_of(made)
    return made if moment is None else f"{date(moment)}, {moment:%H:%M} UTC"


def _head(pen: Pen, furniture: Furniture) -> None:
    width, height = furniture.page_mm
    y = height - TOP_MM - 2.0
    title_mm = pen.width_of(furniture.title, size=8, bold=True)
    pen.text((SIDE_MM, y), furniture.title, size=8, bold=True)
    rest = clipped(furniture.running, 8, width - 2 * SIDE_MM - title_mm - 8.0)
    pen.text((width - SIDE_MM, y), rest, size=8, anchor="right", colour=MID)
    pen.line((SIDE_MM, y - 2.0), (width - SIDE_MM, y - 2.0), weight=0.25, colour=RULE)


def _foot(pen: Pen, furniture: Furniture) -> None:
    width, _ = furniture.page_mm
    pen.line((SIDE_MM, 14.5), (width - SIDE_MM, 14.5), weight=0.25, colour=RULE)
    pen.text((SIDE_MM, 10.8), words.NOT_A_CERTIFICATE, size=8.5, bold=True, colour=INK)
    line = f"photomeasure {__version__}, {date_words(furniture.made)}. {furniture.foot}"
    pen.text((SIDE_MM, 7.2), clipped(line, 7, width - 2 * SIDE_MM), size=7, colour=MID)


def clipped(text: str, size: float, room_mm: float) -> str:
    """The text in one line of `room_mm`, cut with an ellipsis where it is longer."""
    text, letter = printable(text), letters().of(size, bold=False)
    if stringWidth(text, *letter) <= room_mm * mm:
        return text
    while text and stringWidth(text + "\N{HORIZONTAL ELLIPSIS}", *letter) > room_mm * mm:
        text = text[:-1]
    return text.rstrip() + "\N{HORIZONTAL ELLIPSIS}"
