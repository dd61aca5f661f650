"""Drawing that stays readable on any background: every line has a dark halo, every text a plate; edges are smooth.

Shapes are drawn at twice the size on a transparent layer and reduced, tile by tile of the picture and only where there are any: a
layer of all of it is memory that a machine takes longer to hand out than to draw on. Coordinates have (0, 0) at the upper left corner.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Sequence
from functools import cache
from itertools import product
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from calib.words.said import shown
from photomeasure.shown.picture.placing import Box

Array = NDArray[np.float64]
Colour = tuple[int, int, int, int]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

HALO: Colour = (8, 14, 20, 215)
PLATE: Colour = (10, 17, 24, 225)
WHITE: Colour = (255, 255, 255, 255)
RULE: Colour = (255, 214, 0, 255)  # what was measured
BAND: Colour = (64, 196, 255, 255)  # what the rule says, and the kit
_FACTOR = 2
_TILE_PX = 200  # side of a tile: its layer is 0.6 MB, which a processor keeps at hand
_FILLS, _HALOS, _CORES, _PLATES = range(4)


@cache
def font(size_px: float, *, bold: bool = False) -> Font:
    """The Vera typeface that reportlab brings, or else Pillow's own; size_px is the em."""
    found = importlib.util.find_spec("reportlab")
    if found is not None and found.origin:
        path = Path(found.origin).parent / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf")
        if path.is_file():
            return ImageFont.truetype(str(path), size_px)
    return ImageFont.load_default(size_px)


def text_size(text: str, face: Font) -> tuple[float, float]:
    """Width as set, and the height of a line of this typeface."""
    box = face.getbbox("Ag0|")
    return float(face.getlength(shown(text))), float(box[3] - box[1])


def wrapped(text: str, face: Font, width: float) -> list[str]:
    """The text in lines no wider than `width`; a single word that is wider stands alone."""
    lines: list[str] = []
    for word in shown(text).split():
        if lines and face.getlength(f"{lines[-1]} {word}") <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


class _Stroke(NamedTuple):
    """One shape: how it is drawn from its spots, (x, y) after (x, y), and the box beyond which it draws nothing.

    layer: what lies above what. low, high: corners of the box.
    """

    layer: int
    draw: Callable[[ImageDraw.ImageDraw, list[tuple[float, float]]], None]
    points: Array
    low: Array
    high: Array


class Ink:
    """Strokes, fills, plates and texts, kept until `onto` puts them on a picture: fills lowest, texts on top."""

    def __init__(self, size: tuple[int, int]) -> None:
        self.size = size
        self._strokes: list[_Stroke] = []
        self._texts: list[tuple[tuple[float, float], str, Font, Colour, str]] = []

    def fill(self, points: Array, colour: Colour, *, layer: int = _FILLS) -> None:
        """A filled polygon (N, 2), N >= 3."""
        if len(points) >= 3:
            ink = _layered(colour)
            self._add(layer, points, 1.0, lambda draw, spots: draw.polygon(spots, fill=ink))

    def clear(self, centre: Array, radius: float) -> None:
        """No fill inside a circle: the photograph shows there as it is."""
        self._disc(_FILLS, centre, radius, (0, 0, 0, 0))

    def line(self, points: Array, width: float, colour: Colour, *, halo: float = 1.0) -> None:
        """A line through points (N, 2); halo: its dark border's width as a share of the line's."""
        if len(points) < 2:
            return
        if halo > 0.0:
            self._stroke(_HALOS, points, width * (1.0 + 2.0 * halo), HALO)
        self._stroke(_CORES, points, width, colour)

    def _stroke(self, layer: int, points: Array, width: float, colour: Colour) -> None:
        thick, ink = max(1, round(width * _FACTOR)), _layered(colour)
        joint: Literal["curve"] | None = "curve" if _turn(points) * thick > 1.0 else None  # less is no notch to be seen
        self._add(layer, points, width, lambda draw, spots: draw.line(spots, fill=ink, width=thick, joint=joint))

    def dashes(self, points: Array, width: float, colour: Colour, dash: float) -> None:
        """A dashed line: `dash` drawn, two thirds of it left out."""
        if len(points) < 2:
            return
        lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        for start in np.arange(0.0, lengths[-1], dash * 5 / 3):
            at = np.linspace(start, min(start + dash, lengths[-1]), 5)
            piece = np.stack([np.interp(at, lengths, points[:, axis]) for axis in (0, 1)], axis=1)
            self.line(piece, width, colour, halo=0.8)

    def ring(self, centre: Array, radius: float, width: float, colour: Colour) -> None:
        """A circle with halo."""
        angles = np.linspace(0.0, 2.0 * np.pi, 97)
        self.line(centre + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1), width, colour, halo=0.6)

    def dot(self, centre: Array, radius: float, colour: Colour) -> None:
        """A small disc with halo."""
        self._disc(_HALOS, centre, radius * 1.6, HALO)
        self._disc(_CORES, centre, radius, colour)

    def _disc(self, layer: int, centre: Array, radius: float, colour: Colour) -> None:
        corners, ink = np.array([centre - radius, centre + radius]), _layered(colour)
        self._add(layer, corners, 1.0, lambda draw, spots: draw.ellipse(spots, fill=ink))

    def plate(self, box: Box, colour: Colour = PLATE, *, outline: Colour | None = None, radius: float = 8.0) -> None:
        """A rounded box for text to stand on."""
        ink, edge = _layered(colour), None if outline is None else _layered(outline)

        def drawn(draw: ImageDraw.ImageDraw, spots: list[tuple[float, float]]) -> None:
            draw.rounded_rectangle(spots, radius=radius * _FACTOR, fill=ink, outline=edge, width=3 * _FACTOR)

        self._add(_PLATES, np.array(box).reshape(2, 2), 1.0, drawn)

    def shape(self, points: Array, colour: Colour) -> None:
        """A filled polygon on top of plates: a badge's symbol."""
        self.fill(points, colour, layer=_PLATES)

    def text(
        self, at: tuple[float, float], text: str, face: Font, colour: Colour = WHITE, *, anchor: str = "lm"
    ) -> None:
        """Text at a point; anchor as in Pillow ("lm": left, middle)."""
        self._texts.append((at, shown(text), face, colour, anchor))

    def _add(
        self,
        layer: int,
        points: Array,
        beyond: float,
        draw: Callable[[ImageDraw.ImageDraw, list[tuple[float, float]]], None],
    ) -> None:
        """Keep a shape through points (N, 2) that draws nothing further than `beyond` and a little from their box."""
        kept = np.asarray(points, dtype=np.float64)
        far = beyond + 2.0
        self._strokes.append(_Stroke(layer, draw, kept, kept.min(axis=0) - far, kept.max(axis=0) + far))

    def onto(self, picture: Image.Image, top: int = 0) -> Image.Image:
        """The picture (RGB) with everything drawn on it, so many pixels below its upper edge."""
        for (column, row), strokes in self._tiles().items():
            left, high = column * _TILE_PX, row * _TILE_PX
            box = (left, high, min(left + _TILE_PX, self.size[0]), min(high + _TILE_PX, self.size[1]))
            _draw(picture, strokes, box, top)
        pen = ImageDraw.Draw(picture)
        for (x, y), text, face, colour, anchor in self._texts:
            pen.text((x, y + top), text, font=face, fill=colour[:3], anchor=anchor)
        return picture

    def _tiles(self) -> dict[tuple[int, int], list[_Stroke]]:
        """The strokes of each tile, by (column, row), the lowest first."""
        last = [-(-side // _TILE_PX) for side in self.size]
        found: dict[tuple[int, int], list[_Stroke]] = {}
        for stroke in sorted(self._strokes, key=lambda stroke: stroke.layer):
            if (stroke.low >= self.size).any() or (stroke.high <= 0.0).any():
                continue  # beside the drawing, though it may be within its last tiles
            first = [max(0, int(edge // _TILE_PX)) for edge in stroke.low]
            end = [min(most, int(edge // _TILE_PX) + 1) for most, edge in zip(last, stroke.high, strict=True)]
            for tile in product(range(first[0], end[0]), range(first[1], end[1])):
                found.setdefault(tile, []).append(stroke)
        return found


def _draw(picture: Image.Image, strokes: Sequence[_Stroke], box: tuple[int, int, int, int], down: int) -> None:
    """Draw strokes in a box of the drawing, no more of it than they reach; down: where the drawing begins in the picture."""
    start = np.maximum(np.min([stroke.low for stroke in strokes], axis=0).astype(int), box[:2])
    end = np.minimum(np.max([stroke.high for stroke in strokes], axis=0).astype(int) + 1, box[2:])
    wide, high = (end - start).tolist()
    layer = Image.new("RGBa", (wide * _FACTOR, high * _FACTOR), (0, 0, 0, 0))
    draw = ImageDraw.Draw(layer)
    for stroke in strokes:
        stroke.draw(draw, _spots(stroke.points - start))
    smooth = layer.reduce(_FACTOR).convert("RGBA")
    picture.paste(smooth, (int(start[0]), int(start[1]) + down), smooth)


def _layered(colour: Colour) -> Colour:
    """A colour as the layer holds it: less by what shines through, so that the layer is reduced as it is."""
    red, green, blue, alpha = colour
    return (round(red * alpha / 255), round(green * alpha / 255), round(blue * alpha / 255), alpha)


def _turn(points: Array) -> float:
    """The sharpest turn of a line through points (N, 2), radians."""
    steps = np.diff(points, axis=0)
    angles = np.arctan2(steps[:, 1], steps[:, 0])
    turns = np.abs(np.diff(angles))
    return float(np.minimum(turns, 2.0 * np.pi - turns).max(initial=0.0))


def _spots(points: Array) -> list[tuple[float, float]]:
    return [(x, y) for x, y in (points * _FACTOR - 0.5).tolist()]
