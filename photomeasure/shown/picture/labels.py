"""The labels over a photograph: the figure beside its height line, the band's ends, the ground; where each has room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.words.said import number, said
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.picture.geometry import ToDraw
from photomeasure.shown.picture.ink import BAND, PLATE, RULE, WHITE, Array, Ink, font, text_size
from photomeasure.shown.picture.placing import FORBIDDEN, Box, Obstacle, along, box_around, free, place
from photomeasure.shown.picture.window import Window

# em sizes as shares of the drawing's width
FIGURE, UNCERTAINTY, END, GROUND = 0.056, 0.032, 0.032, 0.022
SMALLEST_RING = 0.016
_GROUND = said("ground")
_RING_CLEAR = 0.008


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPlaces:
    """Boxes of the labels in the drawing, None where there is no room.

    coupling: what no label may cover. leader: (2, 2) from the height line to the figure. ends: the band's ends.
    """

    coupling: Box | None
    figure: Box | None
    leader: Array
    ends: tuple[tuple[str, Box], ...]
    ground: Box | None


def ring_radius(drawn: ToDraw, window: Window) -> float:
    """The ring's radius in the drawing, never too small to see."""
    return max(drawn.ring_px * window.scale, SMALLEST_RING * window.size[0])


def lay_out(record: Record, drawn: ToDraw, window: Window, sheets: Sequence[Array] = ()) -> LabelPlaces:
    """Find places for the labels. sheets: outlines (4, 2) in the photograph, covered only where there is no room."""
    width, height = window.size
    em, at = width / 100, window.at
    room = (em, em, width - em, height - em)
    coupling, keep = _coupling(drawn, window)
    stem = at(drawn.height_px)
    keep += along(stem, 2.0 * em, 6.0)
    keep += [piece for level in drawn.levels_px for piece in along(at(level), em, 3.0)]
    keep += [piece for end in drawn.band_ends_px for piece in along(at(end), em, 1.5)]
    ends = _ends(record, drawn, window, room, keep)
    keep += [Obstacle(box=box, cost=FORBIDDEN) for _, box in ends]
    keep += [Obstacle(box=box_around(at(sheet)), cost=3.0) for sheet in sheets]
    keep += along(at(drawn.ground_px), em, 1.0)
    if len(drawn.band_px):
        keep.append(Obstacle(box=box_around(at(drawn.band_px)), cost=2.0))
    figure = None if len(stem) < 2 else place(_figure_size(record, em), stem[len(stem) // 2], room, keep)
    if figure is not None:
        keep.append(Obstacle(box=figure, cost=FORBIDDEN))
    return LabelPlaces(
        coupling=coupling,
        figure=figure,
        leader=np.empty((0, 2)) if figure is None else _leader(figure, stem),
        ends=ends,
        ground=_ground(drawn, window, room, keep),
    )


def _coupling(drawn: ToDraw, window: Window) -> tuple[Box | None, list[Obstacle]]:
    if drawn.centre_px is None:
        return None, []
    clear = ring_radius(drawn, window) + _RING_CLEAR * window.size[0]
    box = box_around(window.at(drawn.centre_px)[None], clear)
    return box, [Obstacle(box=box, cost=FORBIDDEN)]


def _ends(
    record: Record, drawn: ToDraw, window: Window, room: Box, keep: Sequence[Obstacle]
) -> tuple[tuple[str, Box], ...]:
    """Labels of the band's ends, beside the strip, on the side with more room."""
    if record.rule is None:
        return ()
    em, face = window.size[0] / 100, font(END * window.size[0], bold=True)
    values = (record.rule.low_mm, record.rule.high_mm)
    lines = [
        (number(value, "g") + " mm", window.at(line))
        for value, line in zip(values, drawn.band_ends_px, strict=True)
        if value is not None and len(line)
    ]
    left = min((float(line[0, 0]) for _, line in lines), default=0.0)
    right = max((float(line[-1, 0]) for _, line in lines), default=0.0)
    tip, way = (-1, 1.0) if room[2] - right >= left - room[0] else (0, -1.0)
    placed: list[tuple[str, Box]] = []
    for text, line in lines:
        wide, high = text_size(text, face)
        size = (wide + 1.6 * em, high + 1.4 * em)
        near = line[tip] + np.array([way * (size[0] / 2 + 0.8 * em), 0.0])
        obstacles = [*keep, *(Obstacle(box=box, cost=FORBIDDEN) for _, box in placed)]
        box = free(near, size, room, obstacles) or place(size, near, room, obstacles)
        if box is not None:
            placed.append((text, box))
    return tuple(placed)


def _figure_texts(record: Record) -> tuple[str, str]:
    return words.height(record) or "", f"{words.plus_minus(record) or ''} (95 %)"


def _figure_size(record: Record, em: float) -> tuple[float, float]:
    first, second = _figure_texts(record)
    faces = font(100 * FIGURE * em, bold=True), font(100 * UNCERTAINTY * em)
    wide = max(text_size(first, faces[0])[0], text_size(second, faces[1])[0])
    return wide + 3.0 * em, 100 * (FIGURE + UNCERTAINTY) * em + 3.2 * em


def _leader(box: Box, stem: Array) -> Array:
    """The shortest way from the middle of the height line to the box."""
    part = stem[len(stem) // 4 : max(len(stem) // 4 + 1, 3 * len(stem) // 4)]
    edge = np.stack([np.clip(part[:, 0], box[0], box[2]), np.clip(part[:, 1], box[1], box[3])], axis=1)
    nearest = int(np.argmin(np.linalg.norm(part - edge, axis=1)))
    return np.stack([part[nearest], edge[nearest]])


def _ground(drawn: ToDraw, window: Window, room: Box, keep: Sequence[Obstacle]) -> Box | None:
    """A small label just below the ground line, near the picture's edge; left out where it would cover anything."""
    line = window.at(drawn.ground_px)
    inside = line[(line[:, 0] > room[0]) & (line[:, 0] < room[2]) & (line[:, 1] > room[1]) & (line[:, 1] < room[3])]
    if len(inside) < 2:
        return None
    em = window.size[0] / 100
    wide, high = text_size(_GROUND, font(GROUND * window.size[0]))
    size = (wide + 1.2 * em, high + 0.9 * em)
    for tip, way in ((inside[np.argmin(inside[:, 0])], 1.0), (inside[np.argmax(inside[:, 0])], -1.0)):
        middle = tip + np.array([way * (size[0] / 2 + em), size[1] / 2 + 1.2 * em])
        box = free(middle, size, room, [Obstacle(box=o.box, cost=FORBIDDEN) for o in keep])
        if box is not None:
            return box
    return None


def draw_labels(ink: Ink, record: Record, layout: LabelPlaces) -> None:
    """Put the labels on the drawing."""
    width = ink.size[0]
    em = width / 100
    for text, box in layout.ends:
        ink.plate(box, radius=0.6 * em)
        ink.text(_middle(box), text, font(END * width, bold=True), BAND, anchor="mm")
    if layout.ground is not None:
        ink.plate(layout.ground, radius=0.5 * em)
        ink.text(_middle(layout.ground), _GROUND, font(GROUND * width), WHITE, anchor="mm")
    if layout.figure is None:
        return
    first, second = _figure_texts(record)
    ink.line(layout.leader, 0.2 * em, RULE, halo=0.6)
    ink.plate(layout.figure, PLATE, outline=RULE, radius=1.0 * em)
    middle, top = _middle(layout.figure)[0], layout.figure[1]
    ink.text((middle, top + 4.2 * em), first, font(FIGURE * width, bold=True), RULE, anchor="mm")
    ink.text((middle, top + 8.9 * em), second, font(UNCERTAINTY * width), WHITE, anchor="mm")


def _middle(box: Box) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
