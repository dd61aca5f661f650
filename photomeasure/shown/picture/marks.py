"""The marks over a photograph: band, ground, height line, the ring round the coupling, the kit's measured corners."""

from __future__ import annotations

import numpy as np

from photomeasure.shown.picture.geometry import ToDraw
from photomeasure.shown.picture.ink import BAND, RULE, WHITE, Array, Colour, Ink
from photomeasure.shown.picture.labels import ring_radius
from photomeasure.shown.picture.window import Window

_STRIP: Colour = (64, 196, 255, 84)
_INTERVAL: Colour = (255, 214, 0, 150)


def draw_marks(ink: Ink, drawn: ToDraw, window: Window, points_px: Array) -> None:
    """Draw everything that is no text. points_px: (N, 2) measured corners, in the photograph."""
    thin, at = 0.0026 * window.size[0], window.at
    ink.fill(at(drawn.band_px), _STRIP)
    for strip in drawn.interval_px:
        ink.fill(at(strip), _INTERVAL)
    for end in drawn.band_ends_px:
        for piece in _outside_ring(at(end), drawn, window):
            ink.line(piece, thin, BAND, halo=0.5)
    ink.dashes(at(drawn.ground_px), 0.8 * thin, WHITE, 9.0 * thin)
    for level in drawn.levels_px:
        ink.line(at(level), 0.7 * thin, RULE, halo=0.7)
    ink.line(at(drawn.foot_tick_px), 1.6 * thin, RULE, halo=0.6)
    for px in at(points_px):
        ink.dot(px, 0.7 * thin, BAND)
    if drawn.centre_px is None:
        ink.line(at(drawn.height_px), 1.6 * thin, RULE, halo=0.6)
    else:
        _coupling(ink, at(drawn.centre_px), ring_radius(drawn, window), at(drawn.height_px), thin)


def _outside_ring(line: Array, drawn: ToDraw, window: Window) -> list[Array]:
    """The pieces of a line (N, 2) that do not cross the coupling."""
    if drawn.centre_px is None or len(line) < 2:
        return [line]
    away = np.linalg.norm(line - window.at(drawn.centre_px), axis=1) > ring_radius(drawn, window)
    pieces = np.split(line, np.flatnonzero(np.diff(away)) + 1)
    return [
        piece
        for piece, outside in zip(pieces, np.split(away, np.flatnonzero(np.diff(away)) + 1), strict=True)
        if outside[0]
    ]


def _coupling(ink: Ink, centre: Array, ring: float, stem: Array, thin: float) -> None:
    """The height line up to the ring, the ring, and a small cross at the centre: the coupling itself stays in sight."""
    ink.clear(centre, ring)
    below = stem[np.linalg.norm(stem - centre, axis=1) >= ring]
    if len(below):
        way = below[-1] - centre
        tip = centre + way * ring / max(float(np.linalg.norm(way)), 1e-9)
        ink.line(np.concatenate([below, tip[None]]), 1.6 * thin, RULE, halo=0.6)
    ink.ring(centre, ring, 1.2 * thin, RULE)
    for step in np.array([[1.0, 0.0], [0.0, 1.0]]) * 0.28 * ring:
        ink.line(np.array([centre - step, centre + step]), 0.6 * thin, RULE, halo=0.5)
