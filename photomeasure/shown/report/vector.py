"""A drawing of plain shapes on a PDF page: the same shapes as its SVG, as vectors, true in shape."""

from __future__ import annotations

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from photomeasure.rig.shapes import Disc, Drawing, Path, Shape, Stroke, Text
from photomeasure.shown.report.blocks import Drawn
from photomeasure.shown.report.fonts import letters
from photomeasure.shown.report.style import printable


def vector(drawing: Drawing, width_mm: float, height_mm: float) -> Flowable:
    """The drawing as large as fits the room."""
    scale_mm = min(width_mm / drawing.width, height_mm / drawing.height)

    def draw(canvas: Canvas) -> None:
        canvas.saveState()
        canvas.scale(scale_mm * mm, -scale_mm * mm)  # the drawing's y runs down
        canvas.translate(0.0, -drawing.height)
        canvas.setLineJoin(1)
        for shape in drawing.shapes:
            _shape(canvas, shape)
        canvas.restoreState()

    return Drawn(drawing.width * scale_mm, drawing.height * scale_mm, lambda pen: draw(pen.canvas))


def _shape(canvas: Canvas, shape: Shape) -> None:
    if isinstance(shape, Text):
        _text(canvas, shape)
        return
    _stroke(canvas, shape.stroke)
    if shape.fill is not None:
        canvas.setFillColor(HexColor(shape.fill))
    paint = {"stroke": int(shape.stroke is not None), "fill": int(shape.fill is not None)}
    if isinstance(shape, Disc):
        canvas.circle(*shape.centre, shape.radius, **paint)
    else:
        _path(canvas, shape, paint)


def _path(canvas: Canvas, shape: Path, paint: dict[str, int]) -> None:
    if not shape.points:
        return
    path = canvas.beginPath()
    path.moveTo(*shape.points[0])
    for point in shape.points[1:]:
        path.lineTo(*point)
    if shape.fill is not None:
        path.close()
    canvas.drawPath(path, **paint)


def _stroke(canvas: Canvas, stroke: Stroke | None) -> None:
    if stroke is None:
        return
    canvas.setStrokeColor(HexColor(stroke.colour))
    canvas.setLineWidth(stroke.width)
    canvas.setDash([float(length) for length in stroke.dashes.replace(",", " ").split()])


def _text(canvas: Canvas, shape: Text) -> None:
    words = printable(shape.text)
    font, size = letters().of(shape.size, shape.bold)
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * stringWidth(words, font, size)
    canvas.saveState()
    canvas.translate(*shape.at)
    canvas.scale(1.0, -1.0)  # letters stand upright again
    canvas.setFillColor(HexColor(shape.colour))
    canvas.setFont(font, size)
    canvas.drawString(-shift, 0.0, words)
    canvas.restoreState()
