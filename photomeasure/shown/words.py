"""The words and figures in which a record is told, the same on the terminal, on the picture and in reports."""

from __future__ import annotations

from datetime import UTC, datetime

from photomeasure.record.schema import Record, RulePart, VerdictWord
from photomeasure.uncertainty.printed import Printed, printed

TITLES: dict[VerdictWord, str] = {
    "within": "Within the band",
    "above": "Above the band",
    "below": "Below the band",
    "undecided": "Too close to call",
    "no-band": "No band applies",
    "refused": "Cannot measure",
}
NOT_A_CERTIFICATE = "Confirm with a tape: a photograph is not a certificate."
DECIDED_LOCALLY = "Local codes and licensed people decide."
OLD_DAYS = 30  # an older photograph is named as such: springs, loads and couplings change
NO_FIGURE = "No figure from this photograph: measure with a tape, or photograph again."


def figure(record: Record) -> Printed | None:
    """Height, uncertainty and interval as they are printed; None where nothing was measured."""
    if record.height_mm is None or record.interval_mm is None:
        return None
    return printed(record.height_mm, record.interval_mm)


def height(record: Record) -> str | None:
    """ "412.6 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else f"{found.height} mm"


def plus_minus(record: Record) -> str | None:
    """ "± 3.0 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else f"{found.spread} mm"


def interval(record: Record) -> str | None:
    """ "409.6 to 415.6 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else found.interval


def moment(text: str | None) -> str | None:
    """ "25 November 2026, 09:17", with "UTC" behind a time that has a zone; the text as it is where it is no date."""
    if text is None:
        return None
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return text
    zone = ""
    if when.tzinfo is not None:
        when, zone = when.astimezone(UTC), " UTC"
    return f"{when.day} {when:%B %Y, %H:%M}{zone}"


def day(text: str) -> str:
    """ "25 November 2026" (UTC), or the text as it is where it is no date."""
    said = moment(text) or text
    return said.partition(",")[0]


def photographed(record: Record) -> str:
    """When, by the camera's clock, which is all that is known of it."""
    said = moment(record.photographed)
    if said is None:
        return "time not in the file"
    days = _days_old(record)
    old = f", {days} days earlier" if days >= OLD_DAYS else ""
    return f"{said} (camera clock){old}"


def _days_old(record: Record) -> int:
    """Whole days from the photograph to the record, by two clocks that need not agree; 0 where a date cannot be read."""
    try:
        taken = datetime.fromisoformat(record.photographed or "").replace(tzinfo=None)
        computed = datetime.fromisoformat(record.computed).replace(tzinfo=None)
    except ValueError:
        return 0
    return (computed - taken).days


def percent(p: float) -> str:
    """A probability, never rounded up to certainty or down to impossibility."""
    if p > 0.999:
        return "over 99.9 %"
    return "under 0.1 %" if p < 0.001 else f"{100.0 * p:.1f} %"


_KNOWN = {
    "read": "the text was read",
    "secondary": "known second-hand, the text was not read",
    "memory": "from memory, no text was found",
    "computed": "worked out",
    "common-practice": "common practice, no source",
}


def rule_line(rule: RulePart) -> str:
    """Title, edition, and in a few words how well it is known."""
    edition = "edition not stated" if rule.edition == "not stated" else rule.edition
    return f"{rule.title}, {edition} ({_KNOWN.get(rule.confidence, rule.confidence)})"


def band(rule: RulePart | None) -> str | None:
    """ "350-460 mm"; None where no band applies."""
    if rule is None or (rule.low_mm is None and rule.high_mm is None):
        return None
    if rule.low_mm is None:
        return f"up to {rule.high_mm:g} mm"
    if rule.high_mm is None:
        return f"from {rule.low_mm:g} mm"
    return f"{rule.low_mm:g}-{rule.high_mm:g} mm"
