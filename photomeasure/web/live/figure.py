"""The figure of marks, by the program's own recipe from what was seen in the pictures once."""

from __future__ import annotations

from typing import Any

from calib.words.said import shown
from photomeasure.pipeline import Marks, Result, Standing, measure_from
from photomeasure.record.made_from_result import record_of
from photomeasure.shown import words
from photomeasure.shown.headline import headline, title_of
from photomeasure.shown.words import TITLES
from photomeasure.web.inches import in_inches
from photomeasure.web.live.table import first_table, table_of


def figure(standing: Standing, marks: Marks, *, inches: bool = False) -> dict[str, Any]:
    """What is shown when a mark was let go: figure and verdict, or why there is none; and the table to go on from here."""
    outcome = measure_from(standing, marks)
    if not isinstance(outcome, Result):
        return {
            "refused": f"{shown(outcome.refusal.reason)} {shown(outcome.refusal.remedy)}",
            "table": first_table(standing).as_json(),
        }
    record = record_of(outcome, with_rests=False)  # of which nothing is shown here
    height, spread = words.height(record), words.plus_minus(record)
    if inches:
        height, spread = in_inches(record) or (height, spread)
    head, table = headline(record), table_of(standing, outcome)
    return {
        "height_mm": record.height_mm,
        "height": height,
        "spread": spread,
        "inches": inches,
        "title": shown(head.title),
        "look": head.look,
        "sure": head.sure,
        "titles": {look: shown(title_of(look, record.indicative)) for look in TITLES},
        "table": table.as_json(),
    }
