"""What the rows of an uncertainty budget add up to, and how that stands to what is reported."""

from __future__ import annotations

import math

from calib.words.said import said, say
from photomeasure.record.schema import Record

_SAME = 0.01  # of u: two ways of rounding the same figure


def combined_u_mm(record: Record) -> float:
    """The root of the sum of the rows' squares, mm."""
    return math.sqrt(math.fsum(row.u_mm**2 for row in record.budget))


def budget_remark(record: Record) -> str:
    """How the budget's sum stands to the u that is reported."""
    together_mm = combined_u_mm(record)
    sums = said("The rows' u add up as squares to the combined standard uncertainty, u = {mm:.3f} mm", mm=together_mm)
    if record.u_mm is None or abs(record.u_mm - together_mm) <= _SAME * record.u_mm:
        return say("{sums}. Figures are rounded one by one.", sums=sums)
    check = record.monte_carlo
    if check is not None and check.reported:
        return say(
            "{sums} (first order). Reported is the Monte Carlo result, u = {u_mm:.3f} mm, which takes the "
            "model's curvature and the inputs' distributions as they are. Figures are rounded one by one.",
            sums=sums,
            u_mm=record.u_mm,
        )
    return say(
        "{sums}, but the record states u = {u_mm:.3f} mm: it does not add up, so do not rely on it.",
        sums=sums,
        u_mm=record.u_mm,
    )
