"""The words and figures in which a record is told, the same on the terminal, on the picture and in reports."""

from __future__ import annotations

from photomeasure.record.schema import Record, RulePart, VerdictWord

TITLES: dict[VerdictWord, str] = {
    "within": "Within the band",
    "above": "Above the band",
    "below": "Below the band",
    "undecided": "Too close to call",
    "no-band": "No band applies",
    "refused": "Cannot measure",
}
NOT_A_CERTIFICATE = "Confirm with a tape - a photograph is not a certificate."
NO_FIGURE = "No figure from this photograph: measure with a tape, or photograph again."
_COARSE_U_MM = 10.0  # from here on a tenth of a millimetre says nothing


def decimals(U_mm: float) -> int:
    """Decimals of a height with this expanded uncertainty: its second digit is the last one worth printing."""
    return 1 if U_mm < _COARSE_U_MM else 0


def height(record: Record) -> str | None:
    """ "412.6 mm"; None where nothing was measured."""
    if record.height_mm is None or record.U_mm is None:
        return None
    return f"{record.height_mm:.{decimals(record.U_mm)}f} mm"


def plus_minus(record: Record, sign: str = "\N{PLUS-MINUS SIGN}") -> str | None:
    """ "± 3.0 mm"; None where nothing was measured."""
    return None if record.U_mm is None else f"{sign} {record.U_mm:.{decimals(record.U_mm)}f} mm"


def interval(record: Record) -> str | None:
    """ "409.6 to 415.5 mm"; None where nothing was measured."""
    if record.interval_mm is None or record.U_mm is None:
        return None
    low, high = (f"{value:.{decimals(record.U_mm)}f}" for value in record.interval_mm)
    return f"{low} to {high} mm"


def percent(p: float) -> str:
    """A probability, never rounded up to certainty or down to impossibility."""
    if p > 0.999:
        return "over 99.9 %"
    return "under 0.1 %" if p < 0.001 else f"{100.0 * p:.1f} %"


def band(rule: RulePart | None) -> str | None:
    """ "350-460 mm"; None where no band applies."""
    if rule is None or (rule.low_mm is None and rule.high_mm is None):
        return None
    if rule.low_mm is None:
        return f"up to {rule.high_mm:g} mm"
    if rule.high_mm is None:
        return f"from {rule.low_mm:g} mm"
    return f"{rule.low_mm:g}-{rule.high_mm:g} mm"
