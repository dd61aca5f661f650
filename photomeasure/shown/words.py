"""The words and figures in which a record is told, the same on the terminal, on the picture and in reports."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from calib.words.said import date, figures, said, say, shown
from photomeasure.record.schema import Record, RulePart, VerdictWord
from photomeasure.uncertainty.printed import Printed, printed

TITLES: dict[VerdictWord, str] = {
    "within": said("Within the band"),
    "above": said("Above the band"),
    "below": said("Below the band"),
    "undecided": said("Too close to call"),
    "no-band": said("No band applies"),
    "refused": said("Cannot measure"),
}
# the same within a sentence
WITHIN: dict[VerdictWord, str] = {
    "within": said("within the band"),
    "above": said("above the band"),
    "below": said("below the band"),
    "undecided": said("too close to call"),
    "no-band": said("no band applies"),
    "refused": said("cannot measure"),
}
NOT_A_CERTIFICATE = said("Confirm with a tape: a photograph is not a certificate.")
DECIDED_LOCALLY = said("Local codes and licensed people decide.")
OF_A_ZONE_DAYS = 2  # clocks of phones have no zone
OLD_DAYS = 30  # an older photograph is named as such: springs, loads and couplings change
NO_FIGURE = said("No figure from this photograph: measure with a tape, or photograph again.")


def figure(record: Record) -> Printed | None:
    """Height, uncertainty and interval as they are printed; None where nothing was measured."""
    if record.height_mm is None or record.interval_mm is None:
        return None
    return printed(record.height_mm, record.interval_mm)


def height(record: Record) -> str | None:
    """ "412.6 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else figures(f"{found.height} mm")


def plus_minus(record: Record) -> str | None:
    """ "± 3.0 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else figures(f"{found.spread} mm")


def interval(record: Record) -> str | None:
    """ "409.6 to 415.6 mm"; None where nothing was measured."""
    found = figure(record)
    return None if found is None else shown(found.interval)


def moment(text: str | None) -> str | None:
    """ "25 November 2026, 09:17", with "UTC" behind a time that has a zone; the text as it is where it is no date."""
    if text is None:
        return None
    zone = ""
    try:
        when = datetime.fromisoformat(text)
        if when.tzinfo is not None:
            when, zone = when.astimezone(UTC), " UTC"
    except (ValueError, OverflowError):  # the last evening of the year 9999 has no morning after
        return text
    return f"{date(when)}, {when:%H:%M}{zone}"


def day(text: str) -> str:
    """ "25 November 2026" (UTC), or the text as it is where it is no date."""
    said = moment(text) or text
    return said.partition(",")[0]


def photographed(record: Record) -> str:
    """When, by the camera's clock, which is all that is known of it."""
    when = moment(record.photographed)
    if when is None:
        return say("time not in the file")
    days = _days_old(record)
    if days >= OLD_DAYS:
        return say("{when} (camera clock), {days} days earlier", when=when, days=days)
    if days < -OF_A_ZONE_DAYS:
        return say(
            "{when} (camera clock), {days} days after it was computed: one of the two clocks is wrong",
            when=when,
            days=-days,
        )
    return say("{when} (camera clock)", when=when)


def _days_old(record: Record) -> int:
    """Whole days from the photograph to the record, by two clocks that need not agree; 0 where a date cannot be read."""
    try:
        taken = datetime.fromisoformat(record.photographed or "").replace(tzinfo=None)
        computed = datetime.fromisoformat(record.computed).replace(tzinfo=None)
    except ValueError:
        return 0
    return int((computed - taken) / timedelta(days=1))


def percent(p: float) -> str:
    """A probability, never rounded up to certainty or down to impossibility."""
    if p > 0.999:
        return say("over 99.9 %")
    return say("under 0.1 %") if p < 0.001 else say("{percent:.1f} %", percent=100.0 * p)


_KNOWN = {
    "read": said("the text was read"),
    "secondary": said("known second-hand, the text was not read"),
    "memory": said("from memory, no text was found"),
    "computed": said("worked out"),
    "common-practice": said("common practice, no source"),
}


def rule_line(rule: RulePart) -> str:
    """Title, edition, and in a few words how well it is known."""
    edition = say("edition not stated") if rule.edition == "not stated" else shown(rule.edition)
    return f"{shown(rule.title)}, {edition} ({shown(_KNOWN.get(rule.confidence, rule.confidence))})"


def band(rule: RulePart | None) -> str | None:
    """ "350-460 mm"; None where no band applies."""
    if rule is None or (rule.low_mm is None and rule.high_mm is None):
        return None
    if rule.low_mm is None:
        return say("up to {high_mm:g} mm", high_mm=rule.high_mm)
    if rule.high_mm is None:
        return say("from {low_mm:g} mm", low_mm=rule.low_mm)
    return say("{low_mm:g}-{high_mm:g} mm", low_mm=rule.low_mm, high_mm=rule.high_mm)
