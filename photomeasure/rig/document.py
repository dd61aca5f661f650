"""The plan as plain data for JSON: the same figures as the text, full precision, units in the keys."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from photomeasure.rig import advice, remarks
from photomeasure.rig.loads_said import load_lines
from photomeasure.rig.options import COVERAGE, Outcome, Spread
from photomeasure.rig.plan import Plan
from photomeasure.rig.ranges import OffsetRange

SCHEMA = "photomeasure/plan/1"

_UNITS: Mapping[str, str] = {
    "front axle rate": "N/mm",
    "rear axle rate": "N/mm",
    "trailer axle rate": "N/mm",
    "stand-test mass": "kg",
    "trailer mass": "kg",
    "front axle load": "kg",
    "pitch as it stands": "rad",
    "rear axle load": "kg",
    "front to rear rate": "1",
}


def plan_document(plan: Plan) -> dict[str, Any]:
    """Return the plan as a dictionary that json can write; no NaN, no infinity."""
    setup, target = plan.setup, plan.target
    chosen = None if plan.chosen is None else plan.outcomes[plan.chosen].name
    return {
        "schema": SCHEMA,
        "title": setup.title,
        "vehicle": setup.vehicle.name,
        "trailer": setup.trailer.name,
        "rule": {
            "name": target.rule,
            "title": target.title,
            "band_mm": [target.low_mm, target.high_mm] if target.has_band else None,
            "confidence_needed": target.confidence,
            "source": target.source,
            "source_confidence": target.rule_confidence,
        },
        "indicative": bool(target.indicative),
        "conclusion": plan.conclusion,
        "recommended": None if plan.recommended is None else plan.recommended.name,
        "best_on_level_ground": chosen,
        "recommendation": advice.recommendation(plan),
        "too_much_on_the_way": plan.too_much,
        "overloaded": [check.name for check in plan.overloaded],
        "loads": list(load_lines(plan)),
        "ratings_source": setup.ratings.source,
        "empty": _empty(plan),
        "remaining_choices": list(advice.remaining_choices(plan)),
        "fault": {"who": plan.fault, "sentence": advice.fault_sentence(plan)},
        "coverage": COVERAGE,
        "options": [_outcome(one) for one in plan.outcomes],
        "proposal": None if plan.proposal is None else _outcome(plan.proposal),
        "offset_ranges_mm": {
            "inside": _range(plan.ranges.inside),
            "level": _range(plan.ranges.level),
            "both": _range(plan.ranges.both),
        },
        "trailer_level": asdict(plan.trailer),
        "measure_next": advice.measure_next(plan),
        "sensitivities": [asdict(part) for part in plan.sensitivities],
        "articulation": [
            {
                "name": place.name,
                "kind": place.kind,
                "bends": [{**asdict(bend), "margin_deg": bend.margin_deg} for bend in place.bends],
            }
            for place in plan.articulations
        ],
        "articulation_limits_source": setup.articulation.limits_source,
        "inputs": _inputs(plan),
        "monte_carlo": {"draws": setup.monte_carlo.draws, "seed": setup.monte_carlo.seed},
        "warnings": list(remarks.warnings(plan)),
        "cautions": list(remarks.CAUTIONS),
    }


def _outcome(one: Outcome) -> dict[str, Any]:
    return {
        "name": one.name,
        "offset_mm": one.offset_mm,
        "extra_lever_mm": one.extra_lever_mm,
        "height_mm": _spread(one.height_mm),
        "ball_load_kg": _spread(one.ball_load_kg),
        "trailer_pitch_deg": _spread(one.trailer_pitch_deg),
        "vehicle_pitch_deg": _spread(one.vehicle_pitch_deg),
        "rear_axle_change_kg": _spread(one.rear_change_kg),
        "front_axle_change_kg": _spread(one.front_change_kg),
        "axle_group_difference_kg": _spread(one.group_difference_kg),
        "p_inside": one.p_inside,
        "p_above": one.p_above,
        "p_below": one.p_below,
        "p_level": one.p_level,
        "p_axle_off_ground": one.p_axle_off_ground,
        "verdict": one.verdict,
        "level": one.level,
        "loads": [{**asdict(check), "found": _spread(check.found), "state": check.state} for check in one.checks],
    }


def _empty(plan: Plan) -> dict[str, Any] | None:
    """The way back with the trailer empty: the same options, and the proposal last where there is one."""
    if plan.empty is None:
        return None
    target = plan.empty.target
    return {
        "band_mm": [target.low_mm, target.high_mm] if target.has_band else None,
        "indicative": bool(target.indicative),
        "vehicle_laden": plan.empty.vehicle_laden,
        "options": [_outcome(one) for one in plan.empty.outcomes],
        "sentence": advice.empty_sentence(plan),
    }


def _spread(found: Spread | None) -> dict[str, Any] | None:
    return None if found is None else {"mean": found.mean, "u": found.u, "interval": [found.low, found.high]}


def _range(found: OffsetRange | None) -> list[float | None] | None:
    if found is None:
        return None
    return [end if math.isfinite(end) else None for end in (found.low_mm, found.high_mm)]


def _inputs(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "name": name,
            "value": quantity.value,
            "u": quantity.u,
            "unit": _unit(name, quantity.unit),
            "shape": quantity.shape,
            "source": quantity.source,
        }
        for name, quantity in plan.quantities.items()
    ]


def _unit(name: str, typed: str) -> str:
    if name == "ball load":
        return "1 (share of the trailer's mass)" if typed == "percent" else "N"
    return _UNITS.get(name, "mm")
