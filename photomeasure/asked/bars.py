"""How long a print's two check bars are: by a ruler, or by a card of the usual size."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """What a rule reads on the check bars, mm; None where nobody measured.

    x_mm: on the bar across the sheet, y_mm: on the one up the sheet; the drawn lengths are those of `Sheet.bars_mm`.
    x_u_mm, y_u_mm: standard uncertainty, mm, where it was no rule but a card laid on the print. correlation: of both errors, -1 to 1, where
    one picture of one card told both.
    division_mm: mm to which both were read, where that is known: the sheet's boxes have half millimetres. None: their digits tell.
    """

    x_mm: float | None = None
    y_mm: float | None = None
    x_u_mm: float | None = None
    y_u_mm: float | None = None
    correlation: float | None = None
    division_mm: float | None = None
