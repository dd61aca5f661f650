"""The number of the print that a photograph shows, or that it cannot be read: never a number that is not sure.

Every module has to be clearly black or clearly white, and the check of sixteen bits has to hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.finding.ink import read_ink
from calib.finding.sheets import FoundSheet
from calib.kit.number import STRIP_MODULES, number_of

CLEAR = 0.15  # of the step between white and black modules: what a module's ink must be away from its middle
FEWEST = 4  # modules of each colour that every number has at least
BLANK = 0.2  # all modules below that: a print without a number, or a strip bleached by the sun


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintNumber:
    """number: None where there is none or it cannot be read; unreadable: there is one, but it cannot be read."""

    number: int | None
    unreadable: bool = False


def read_number(grey: NDArray[np.uint8], found: FoundSheet) -> PrintNumber:
    """The number on the sheet's strip. grey: (h, w)."""
    strip = found.sheet.strip
    if strip is None:
        return PrintNumber(number=None)
    sides = [strip.sides_mm(module) for module in range(STRIP_MODULES)]
    ink = read_ink(grey, found, sides, margin_mm=2.5).ink
    if not np.isfinite(ink).all():
        return PrintNumber(number=None, unreadable=True)
    if ink.max() < BLANK:
        return PrintNumber(number=None)
    ordered = np.sort(ink)  # sun eats black, blur lifts it: the strip's own two levels
    white, black = float(ordered[:FEWEST].mean()), float(ordered[-FEWEST:].mean())
    middle, step = (white + black) / 2, black - white
    if step < BLANK or (np.abs(ink - middle) < CLEAR * step).any():
        return PrintNumber(number=None, unreadable=True)
    number = number_of(tuple(bool(value > middle) for value in ink))
    return PrintNumber(number=number, unreadable=number is None)
