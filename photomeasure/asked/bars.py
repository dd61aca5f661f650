"""What a ruler reads on a print's two check bars."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """What a rule reads on the check bars, mm; None where nobody measured."""

    x_mm: float | None = None
    y_mm: float | None = None
