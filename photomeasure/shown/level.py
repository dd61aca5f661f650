"""A trailer's level for a person: the figure at a glance, then what to do, then why."""

from __future__ import annotations

from collections.abc import Mapping

from photomeasure.levelling import LevelVerdict, Nose
from photomeasure.record.cautions import SHORTER
from photomeasure.record.level import LevelRecord
from photomeasure.shown.page_of_text import PageOfText
from photomeasure.shown.words import percent

_NOSES: Mapping[Nose, str] = {
    "up": "NOSE-UP",
    "down": "NOSE-DOWN",
    "level": "LEVEL, as far as can be told",
}
_VERDICTS: Mapping[LevelVerdict, str] = {
    "within": "it does",
    "nose-up": "it does not: too much nose-up",
    "nose-down": "it does not: too much nose-down",
    "undecided": "too close to call",
}
_SHOWN_BUDGET = 3


def figure(record: LevelRecord) -> str:
    """ "1.24 \N{PLUS-MINUS SIGN} 0.25 degrees"; the nose says which way."""
    if record.pitch_deg is None or record.U_deg is None:
        return ""
    return f"{abs(record.pitch_deg):.2f} \N{PLUS-MINUS SIGN} {record.U_deg:.2f} degrees"


def nose_words(record: LevelRecord) -> str:
    """Which way, and what was seen where it cannot be told from level; empty where nothing was measured."""
    if record.nose is None or record.pitch_deg is None:
        return ""
    way = "" if record.nose != "level" else f" ({'up' if record.pitch_deg > 0 else 'down'} by what was seen)"
    return f"{_NOSES[record.nose]}{way}"


def show_level(record: LevelRecord, page: PageOfText) -> None:
    """Print a record."""
    if record.refusal is not None:
        page.heading("CANNOT MEASURE")
        page.facts([("Why", record.refusal.reason), ("Next", record.refusal.remedy)])
    elif record.nose is not None and record.pitch_deg is not None:
        page.heading(f"{figure(record)}   {nose_words(record)}")
        page.facts(_facts(record))
    page.section("Please note", record.warnings)
    page.section("A better photograph", record.better)
    page.lines(["", SHORTER])


def _facts(record: LevelRecord) -> list[tuple[str, str]]:
    rows = []
    if record.interval_deg is not None:
        low, high = record.interval_deg
        rows.append(("Interval", f"{low:+.2f} to {high:+.2f} degrees, nose-up is + (95 %)"))
    if (allowed := record.allowed) is not None:
        span = f"{allowed.nose_down_deg:g} degrees nose-down to {allowed.nose_up_deg:g} nose-up"
        judged = f"{_VERDICTS[allowed.verdict]} (probability {percent(allowed.p_within)})"
        rows.append(("May stand", f"{span} ({allowed.source}): {judged}"))
    shares = ", ".join(f"{row.quantity} {100 * row.share:.0f} %" for row in record.budget[:_SHOWN_BUDGET])
    rows.append(("Mostly from", shares))
    rows.append(("Measured", "the line through the two marks on the rail against that through the two on the ground"))
    return rows
