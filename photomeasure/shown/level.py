"""A trailer's level for a person: the figure at a glance, then what to do, then why."""

from __future__ import annotations

from collections.abc import Mapping

from calib.words.said import said, say, shown
from photomeasure.levelling import LevelVerdict, Nose
from photomeasure.record.cautions import SHORTER
from photomeasure.record.level import LevelRecord
from photomeasure.scene.quantities import named
from photomeasure.shown.page_of_text import PageOfText
from photomeasure.shown.words import percent

_NOSES: Mapping[Nose, str] = {
    "up": said("NOSE-UP"),
    "down": said("NOSE-DOWN"),
    "level": said("LEVEL, as far as can be told"),
}
_VERDICTS: Mapping[LevelVerdict, str] = {
    "within": said("it does"),
    "nose-up": said("it does not: too much nose-up"),
    "nose-down": said("it does not: too much nose-down"),
    "undecided": said("too close to call"),
}
_SHOWN_BUDGET = 3


def figure(record: LevelRecord) -> str:
    """ "1.24 \N{PLUS-MINUS SIGN} 0.25 degrees"; the nose says which way."""
    if record.pitch_deg is None or record.U_deg is None:
        return ""
    return say("{pitch_deg:.2f} ± {u_deg:.2f} degrees", pitch_deg=abs(record.pitch_deg), u_deg=record.U_deg)


def nose_words(record: LevelRecord) -> str:
    """Which way, and what was seen where it cannot be told from level; empty where nothing was measured."""
    if record.nose is None or record.pitch_deg is None:
        return ""
    nose = shown(_NOSES[record.nose])
    if record.nose != "level":
        return nose
    if record.pitch_deg > 0:
        return say("{nose} (up by what was seen)", nose=nose)
    return say("{nose} (down by what was seen)", nose=nose)


def show_level(record: LevelRecord, page: PageOfText) -> None:
    """Print a record."""
    if record.refusal is not None:
        page.heading(say("CANNOT MEASURE"))
        page.facts([(said("Why"), record.refusal.reason), (said("Next"), record.refusal.remedy)])
    elif record.nose is not None and record.pitch_deg is not None:
        page.heading(f"{figure(record)}   {nose_words(record)}")
        page.facts(level_facts(record))
    page.section(say("Please note"), record.warnings)
    page.section(say("A better photograph"), record.better)
    page.lines(["", SHORTER])


def level_facts(record: LevelRecord) -> list[tuple[str, str]]:
    """The interval, what is allowed, what makes it unsure."""
    rows = []
    if record.interval_deg is not None:
        low, high = record.interval_deg
        rows.append(
            (said("Interval"), say("{low:+.2f} to {high:+.2f} degrees, nose-up is + (95 %)", low=low, high=high))
        )
    if (allowed := record.allowed) is not None:
        span = say(
            "{nose_down_deg:g} degrees nose-down to {nose_up_deg:g} nose-up",
            nose_down_deg=allowed.nose_down_deg,
            nose_up_deg=allowed.nose_up_deg,
        )
        judged = say(
            "{verdicts} (probability {p_within})",
            verdicts=_VERDICTS[allowed.verdict],
            p_within=percent(allowed.p_within),
        )
        rows.append((said("May stand"), f"{span} ({allowed.source}): {judged}"))
    shares = ", ".join(f"{shown(named(row.quantity))} {100 * row.share:.0f} %" for row in record.budget[:_SHOWN_BUDGET])
    rows.append((said("Mostly from"), shares))
    rows.append(
        (
            said("Measured"),
            say("the line through the two tags on the rail against that through the two marks on the ground")
            if record.rail_tags
            else say("the line through the two marks on the rail against that through the two on the ground"),
        )
    )
    return rows
