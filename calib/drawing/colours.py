"""Colours and points of drawings, as plain numbers: nothing that draws is loaded for them."""

from __future__ import annotations

Point = tuple[float, float]  # drawing units, from the lower left
Colour = tuple[float, float, float]  # red, green, blue, each from 0 to 1

INK: Colour = (0.12, 0.14, 0.17)
MID: Colour = (0.47, 0.50, 0.54)
SOFT: Colour = (0.76, 0.78, 0.80)
PALE: Colour = (0.925, 0.93, 0.935)
WHITE: Colour = (1.0, 1.0, 1.0)
ACCENT: Colour = (0.78, 0.25, 0.05)
ACCENT_PALE: Colour = (0.985, 0.90, 0.84)
