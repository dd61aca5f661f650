"""Pixel rulers along the edges of a cropped picture, for a person who has to read off the coupling's centre."""

from __future__ import annotations

import numpy as np

from photomeasure.shown.picture.ink import PLATE, WHITE, Ink, font, text_size
from photomeasure.shown.picture.window import Window

STEPS_PX = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
_TICKS = 9  # about so many along an edge


def ticks(first_px: float, length_px: float) -> np.ndarray:  # (N,) pixel coordinates of the photograph
    """Round pixel coordinates inside an edge, about nine of them."""
    step = next((step for step in STEPS_PX if length_px / step <= _TICKS), STEPS_PX[-1])
    return np.arange(np.ceil(first_px / step), np.floor((first_px + length_px) / step) + 1) * step


def draw_rulers(ink: Ink, window: Window) -> None:
    """Ticks with pixel coordinates of the photograph: x along the upper edge, y along the left one."""
    width, height = window.size
    em, face = width / 100, font(0.022 * width)
    ink.plate((0.0, 0.0, float(width), 3.4 * em), PLATE, radius=0.0)
    ink.plate((0.0, 0.0, 6.6 * em, float(height)), PLATE, radius=0.0)
    ink.text((0.8 * em, 1.7 * em), "x, y", face)
    for x in ticks(window.left_px, width / window.scale):
        at = float(window.at(np.array([x, 0.0]))[0])
        half = text_size(f"{x:g}", face)[0] / 2
        if 6.6 * em + half < at < width - half:
            ink.text((at, 1.5 * em), f"{x:g}", face, WHITE, anchor="mm")
            ink.line(np.array([[at, 3.4 * em], [at, 4.8 * em]]), 0.25 * em, WHITE)
    for y in ticks(window.top_px, height / window.scale):
        at = float(window.at(np.array([0.0, y]))[1])
        if 5.0 * em < at < height - 1.5 * em:
            ink.text((6.0 * em, at), f"{y:g}", face, WHITE, anchor="rm")
            ink.line(np.array([[6.6 * em, at], [8.0 * em, at]]), 0.25 * em, WHITE)
