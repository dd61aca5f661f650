"""What a record says of bar tags and of photographs from before."""

from __future__ import annotations

from typing import Any

from photomeasure.interval.carried import bar_of, carried_u_mm, sink_mm
from photomeasure.interval.pair import before_of
from photomeasure.pipeline import Result
from photomeasure.record.schema import (
    BeforePart,
    CarriedPart,
    SinkPart,
    StandPart,
)


def bar_parts(result: Result) -> dict[str, Any]:
    """What a bar tag carries: on to a later photograph, or over from an earlier one."""
    solved, sightings, carried = result.estimate, result.sightings, result.request.carried
    if sightings.way == "carried" and carried is not None:
        sank_mm, u_mm = sink_mm(solved, carried)
        return {
            "carried": CarriedPart(record=carried.record, tag=sightings.bar_tags[0], u_mm=carried_u_mm(solved)),
            "sink": SinkPart(mm=sank_mm, u_mm=u_mm),
            "before": BeforePart(
                record=carried.record,
                height_mm=carried.height_mm,
                u_mm=carried.u_mm,
                sheet_untouched=carried.sheet_untouched,
            ),
        }
    known = before_of(solved)
    parts: dict[str, Any] = {}
    if sightings.way != "carried" and sightings.bar_tags:
        parts["bar"] = bar_of(solved, sightings.bar_tags[0], sightings.bar_tags[1:])
    if known is None:
        return parts
    if result.request.standing:
        parts["stand_test"] = StandPart(
            mass_kg=result.request.sag.stand_mass_kg or 0.0,
            drop_mm=-known.sank_mm,
            u_mm=known.u_sank_mm,
            u_standing_mm=known.u_mm,
        )
        return parts
    if sightings.way == "carried":
        names = ", ".join(view.photo.path.name for view in result.views if view.before)
        parts["carried"] = CarriedPart(record=names, tag=sightings.bar_tags[0], u_mm=known.carried_u_mm)
    return {
        **parts,
        "sink": SinkPart(mm=known.sank_mm, u_mm=known.u_sank_mm),
        "before": BeforePart(
            height_mm=known.height_mm, u_mm=known.u_mm, sheet_untouched=result.request.sheet_untouched
        ),
    }
