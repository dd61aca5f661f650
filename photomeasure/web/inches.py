"""Figures in inches for whoever thinks in them; records, reports and pictures stay in millimetres."""

from __future__ import annotations

from photomeasure.record.schema import Record
from photomeasure.uncertainty.printed import PLUS_MINUS, decimals

MM = 25.4  # exactly, by definition (international inch, 1959)


def in_inches(record: Record) -> tuple[str, str] | None:
    """Height and uncertainty, one digit more than in millimetres: a tenth of a millimetre is 0.004 in."""
    if record.height_mm is None or record.interval_mm is None:
        return None
    low, high = record.interval_mm
    places = decimals((high - low) / 2.0) + 1
    return f"{record.height_mm / MM:.{places}f} in", f"{PLUS_MINUS} {(high - low) / 2.0 / MM:.{places}f} in"
