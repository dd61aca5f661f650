"""A drawing as a list of plain shapes, and its SVG. Pages that are no SVG (a report) draw the same shapes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from calib.outcome.files import mark

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """Colour, width and dashes of a line."""

    colour: str = "#222222"
    width: float = 1.0
    dashes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A line through points, closed and filled where `fill` is a colour."""

    points: tuple[Point, ...]
    stroke: Stroke | None = None
    fill: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A circle."""

    centre: Point
    radius: float
    stroke: Stroke | None = None
    fill: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of text; `at` is on its baseline."""

    at: Point
    text: str
    size: float = 13.0
    anchor: Anchor = "start"
    bold: bool = False
    colour: str = "#222222"


Shape = Path | Disc | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Shapes in order, the first at the bottom; x right, y down, both in points of the drawing."""

    width: float
    height: float
    title: str
    shapes: tuple[Shape, ...] = field(default_factory=tuple)


def to_svg(drawing: Drawing) -> str:
    """Return the drawing as an SVG 1.1 document without scripts, links or fonts of its own."""
    wide, high = f"{drawing.width:g}", f"{drawing.height:g}"
    size = f'width="{wide}" height="{high}" viewBox="0 0 {wide} {high}"'
    face = 'font-family="Helvetica, Arial, sans-serif"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {face} role="img">',
        f"<!-- {mark('drawing')} -->",
        f"<title>{escape(_printable(drawing.title))}</title>",
        '<rect width="100%" height="100%" fill="#ffffff"/>',
        *(_shape(shape) for shape in drawing.shapes),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _shape(shape: Shape) -> str:
    if isinstance(shape, Text):
        weight = ' font-weight="bold"' if shape.bold else ""
        return (
            f'<text x="{shape.at[0]:.2f}" y="{shape.at[1]:.2f}" font-size="{shape.size:g}" '
            f'text-anchor="{shape.anchor}"'
            f"{weight} fill={quoteattr(shape.colour)}>{escape(_printable(shape.text))}</text>"
        )
    paint = f"fill={quoteattr(shape.fill or 'none')}{_stroke(shape.stroke)}"
    if isinstance(shape, Disc):
        return f'<circle cx="{shape.centre[0]:.2f}" cy="{shape.centre[1]:.2f}" r="{shape.radius:.2f}" {paint}/>'
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in shape.points)
    kind = "polyline" if shape.fill is None else "polygon"
    return f'<{kind} points="{points}" {paint}/>'


def _stroke(stroke: Stroke | None) -> str:
    if stroke is None:
        return ""
    dashes = f" stroke-dasharray={quoteattr(stroke.dashes)}" if stroke.dashes else ""
    return f' stroke={quoteattr(stroke.colour)} stroke-width="{stroke.width:g}" stroke-linejoin="round"{dashes}'


def _printable(text: str) -> str:
    """Drop what XML 1.0 does not allow in a document."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
