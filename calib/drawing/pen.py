"""A pen for the kit's pages: line drawings in millimetres, or in metres of a scene at a scale.

A `Pen` maps drawing units to page millimetres; line weights and letter sizes stay in millimetres and points
of paper, times the page's `zoom`, so that a scene drawn small keeps readable lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Literal

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from calib.drawing.colours import INK, WHITE, Colour, Point
from calib.words.said import shown

Anchor = Literal["left", "middle", "right"]

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Letters:
    """Names of the fonts, and by how much their sizes are multiplied to run as wide as the usual ones do."""

    regular: str = REGULAR
    bold: str = BOLD
    regular_scale: float = 1.0
    bold_scale: float = 1.0

    def of(self, size_pt: float, bold: bool) -> tuple[str, float]:
        """Font and size in points."""
        return (self.bold, size_pt * self.bold_scale) if bold else (self.regular, size_pt * self.regular_scale)


EVERY_READERS = Letters()  # the fonts that each PDF reader has; they are not in the file


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """Draws on `canvas`; drawing unit (x, y) lies at page origin_mm + scale_mm * (x, y)."""

    canvas: Canvas
    origin_mm: Point = (0.0, 0.0)
    scale_mm: float = 1.0
    zoom: float = 1.0
    letters: Letters = EVERY_READERS
    said: Callable[[str], str] = str  # words as they are written in another language

    def at(self, origin: Point, scale_mm: float) -> Pen:
        """A pen for a drawing of its own: `origin` in this pen's units, `scale_mm` of page per unit."""
        return replace(self, origin_mm=self.page_mm(origin), scale_mm=scale_mm)

    def page_mm(self, point: Point) -> Point:
        return self.origin_mm[0] + self.scale_mm * point[0], self.origin_mm[1] + self.scale_mm * point[1]

    def _pt(self, point: Point) -> Point:
        x_mm, y_mm = self.page_mm(point)
        return x_mm * mm, y_mm * mm

    def _ready(self, colour: Colour | None, weight: float, fill: Colour | None, dash: Sequence[float]) -> None:
        self.canvas.setLineCap(0 if dash else 1)
        self.canvas.setLineJoin(1)
        self.canvas.setLineWidth(weight * self.zoom * mm)
        self.canvas.setDash([length * self.zoom * mm for length in dash])
        if colour is not None:
            self.canvas.setStrokeColorRGB(*colour)
        if fill is not None:
            self.canvas.setFillColorRGB(*fill)

    def line(
        self,
        *points: Point,
        weight: float = 0.3,
        colour: Colour | None = INK,
        fill: Colour | None = None,
        closed: bool = False,
        dash: Sequence[float] = (),
    ) -> None:
        """A polyline, or a polygon where `closed`; weight and dash in millimetres of paper."""
        self._ready(colour, weight, fill, dash)
        path = self.canvas.beginPath()
        path.moveTo(*self._pt(points[0]))
        for point in points[1:]:
            path.lineTo(*self._pt(point))
        if closed:
            path.close()
        self.canvas.drawPath(path, stroke=int(colour is not None), fill=int(fill is not None))

    def area(self, *points: Point, fill: Colour, colour: Colour | None = None, weight: float = 0.3) -> None:
        """A filled polygon; with a colour, its outline too."""
        self.line(*points, fill=fill, colour=colour, weight=weight, closed=True)

    def polygons(self, shapes: Sequence[Sequence[Point]], *, fill: Colour = INK) -> None:
        """Many polygons as one filled path (even-odd: where two overlap is a hole)."""
        self._ready(None, 0.0, fill, ())
        path = self.canvas.beginPath()
        for shape in shapes:
            path.moveTo(*self._pt(shape[0]))
            for point in shape[1:]:
                path.lineTo(*self._pt(point))
            path.close()
        self.canvas.drawPath(path, stroke=0, fill=1)

    def curve(
        self,
        *points: Point,
        weight: float = 0.3,
        colour: Colour | None = INK,
        fill: Colour | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        """A smooth curve through the points (uniform Catmull-Rom, as cubic Beziers)."""
        self._ready(colour, weight, fill, dash)
        path = self.canvas.beginPath()
        ends = [points[0], *points, points[-1]]
        path.moveTo(*self._pt(points[0]))
        for before, start, stop, after in zip(ends, ends[1:], ends[2:], ends[3:], strict=False):
            first = (start[0] + (stop[0] - before[0]) / 6, start[1] + (stop[1] - before[1]) / 6)
            second = (stop[0] - (after[0] - start[0]) / 6, stop[1] - (after[1] - start[1]) / 6)
            path.curveTo(*self._pt(first), *self._pt(second), *self._pt(stop))
        self.canvas.drawPath(path, stroke=int(colour is not None), fill=int(fill is not None))

    def box(
        self,
        left: float,
        bottom: float,
        width: float,
        height: float,
        *,
        radius: float = 0.0,
        weight: float = 0.3,
        colour: Colour | None = INK,
        fill: Colour | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        """A rectangle with round corners; all lengths in drawing units."""
        self._ready(colour, weight, fill, dash)
        sides = [length * self.scale_mm * mm for length in (width, height, radius)]
        self.canvas.roundRect(
            *self._pt((left, bottom)), *sides, stroke=int(colour is not None), fill=int(fill is not None)
        )

    def disc(
        self,
        centre: Point,
        radius: float,
        *,
        weight: float = 0.3,
        colour: Colour | None = INK,
        fill: Colour | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        """A circle; its radius in drawing units."""
        self._ready(colour, weight, fill, dash)
        self.canvas.circle(
            *self._pt(centre),
            radius * self.scale_mm * mm,
            stroke=int(colour is not None),
            fill=int(fill is not None),
        )

    def text(
        self,
        where: Point,
        words: str,
        *,
        size: float = 8.0,
        bold: bool = False,
        anchor: Anchor = "left",
        colour: Colour = INK,
        turned: bool = False,
    ) -> None:
        """Words with their baseline at `where`; size in points times the zoom; `turned` reads upwards."""
        font, size_pt = self.letters.of(size * self.zoom, bold)
        words = self.said(shown(words))
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * stringWidth(words, font, size_pt)
        self.canvas.saveState()
        self.canvas.translate(*self._pt(where))
        self.canvas.rotate(90 if turned else 0)
        self.canvas.setFillColorRGB(*colour)
        self.canvas.setFont(font, size_pt)
        self.canvas.drawString(-shift, 0, words)
        self.canvas.restoreState()

    def width_of(self, words: str, *, size: float, bold: bool = False) -> float:
        """How wide the words are, in drawing units."""
        width_pt: float = stringWidth(self.said(shown(words)), *self.letters.of(size * self.zoom, bold))
        return width_pt / POINTS_PER_MM / self.scale_mm

    def fitting(self, words: str, room: float, *, size: float, bold: bool = False) -> float:
        """The size at which the words fit into the room (drawing units), at most `size`: other languages run longer."""
        return size * min(1.0, room / max(self.width_of(words, size=size, bold=bold), 1e-9))

    def arrow(
        self,
        tail: Point,
        tip: Point,
        *,
        weight: float = 0.4,
        colour: Colour = INK,
        head: float = 2.2,
        both: bool = False,
    ) -> None:
        """A straight arrow with a filled head of `head` millimetres of paper."""
        length = math.dist(tail, tip)
        along = ((tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length)
        size = head * self.zoom / self.scale_mm
        heads = [(tip, 1.0), (tail, -1.0)] if both else [(tip, 1.0)]
        inset = 0.7 * size
        start = (tail[0] + along[0] * inset, tail[1] + along[1] * inset) if both else tail
        self.line(start, (tip[0] - along[0] * inset, tip[1] - along[1] * inset), weight=weight, colour=colour)
        for point, sign in heads:
            base = (point[0] - sign * along[0] * size, point[1] - sign * along[1] * size)
            side = (-along[1] * size * 0.32, along[0] * size * 0.32)
            self.polygons(
                [[point, (base[0] + side[0], base[1] + side[1]), (base[0] - side[0], base[1] - side[1])]],
                fill=colour,
            )

    @contextmanager
    def inside(self, left: float, bottom: float, width: float, height: float, *, radius: float = 0.0) -> Iterator[None]:
        """Draw only inside this rectangle (round corners of `radius`), drawing units."""
        self.canvas.saveState()
        path = self.canvas.beginPath()
        path.roundRect(*self._pt((left, bottom)), *(v * self.scale_mm * mm for v in (width, height, radius)))
        self.canvas.clipPath(path, stroke=0, fill=0)
        yield
        self.canvas.restoreState()


def scissors(pen: Pen, tip: Point, length: float, *, colour: Colour = INK, weight: float = 0.35) -> None:
    """A pair of scissors cutting to the right, the point where its blades meet the line at `tip`."""
    x, y = tip
    pivot = (x - 0.50 * length, y)
    for side in (1.0, -1.0):
        blade = (x, y + side * 0.10 * length)
        ring = (x - 0.86 * length, y - side * 0.17 * length)
        pen.line(
            blade,
            pivot,
            (ring[0] + 0.11 * length, ring[1] + side * 0.06 * length),
            weight=weight * 1.6,
            colour=colour,
        )
        pen.disc(ring, 0.13 * length, weight=weight * 1.3, colour=colour)
    pen.disc(pivot, 0.03 * length, colour=colour, fill=WHITE, weight=weight * 0.6)
