"""A plan from a case: the ball's height comes from the record, the dealer types what is known of trailer and springs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.words.said import joined, said, say
from photomeasure.asked.limits import Limit
from photomeasure.asked.typed import number_typed
from photomeasure.record.schema import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """plus_minus: limits that are proposed for it, to be changed; empty where there are none. needed: always."""

    name: str
    label: str
    limit: Limit
    hint: str
    plus_minus: str = ""
    needed: bool = False


def _limit(low: float, high: float, unit: str, remedy: str) -> Limit:
    return Limit(low=low, high=high, unit=unit, remedy=remedy)


FIELDS = (
    Field(name="level", label=said("The trailer's coupling above the ground, when it stands level"), hint=said("such as 430"),
          plus_minus="5", needed=True,
          limit=_limit(150, 1200, "mm", said("measure it with the frame level"))),
    Field(name="drawbar", label=said("From the coupling to the middle of its axles"), hint=said("such as 3600"), plus_minus="20", needed=True,
          limit=_limit(500, 15000, "mm", said("measure along the ground"))),
    Field(name="axles", label=said("Axles"), hint=said("1 to 4"), needed=True, limit=_limit(1, 4, "axles", said("count them"))),
    Field(name="ball_load", label=said("Ball load with the trailer level"), hint=said("such as 90"), plus_minus="15", needed=True,
          limit=_limit(1, 2000, "kg", said("weigh it, or take it from the papers"))),
    Field(name="stand_mass", label=said("Somebody of this mass stood on the bar, right at the ball"), hint=said("such as 90"), plus_minus="2",
          limit=_limit(20, 400, "kg", said("weigh whoever stands on it"))),
    Field(name="stand_drop", label=said("and the ball went down by"), hint=said("such as 10"), plus_minus="2",
          limit=_limit(0.5, 150, "mm", said("measure it before and while somebody stands there"))),
    Field(name="load_drop", label=said("How far the load for the way lowers the ball, if it was photographed empty"), hint=said("not known"),
          plus_minus="10", limit=_limit(-50, 200, "mm", said("measure it empty and loaded"))),
)  # fmt: skip
_BY_NAME = {field.name: field for field in FIELDS}
_CHANGES = _limit(1, 500, "mm", said("as it says on the part"))


def typed_from(form: Mapping[str, object]) -> dict[str, str]:
    """Every field of the form as it was typed."""
    names = [*_BY_NAME, *(f"{name}_pm" for name in _BY_NAME), "drops", "rises", "coupled", "laden"]
    typed = {name: form.get(name) for name in names}
    return {name: text.strip()[:60] if isinstance(text, str) else "" for name, text in typed.items()}


def proposed(record: Record) -> dict[str, str]:
    """What the form shows at first."""
    typed = typed_from({})
    typed.update({f"{field.name}_pm": field.plus_minus for field in FIELDS})
    for name in ("coupled", "laden"):
        known = getattr(record.state, name)
        typed[name] = "" if known is None else "yes" if known else "no"
    typed["drops"] = "25, 50"
    return typed


def plan_of(record: Record, rig: str, typed: Mapping[str, str]) -> tuple[bytes | None, dict[str, InputError]]:
    """The plan as PDF, or what is wrong by field ("plan" where several together are)."""
    import numpy as np

    from photomeasure.rig.plan import make_plan
    from photomeasure.rig.setup_file import parse_setup
    from photomeasure.rig.target import target_of
    from photomeasure.rules.load import load_rule
    from photomeasure.shown.report.plan import plan_pdf

    raw, wrong = _setup(record, rig, typed)
    if wrong:
        return None, wrong
    try:
        setup = parse_setup(raw, folder=Path(), label=say("What was typed"))
        rule = load_rule(setup.rule.name)
        target = target_of(
            rule,
            laden=setup.vehicle.laden_on_the_way,
            level_control=setup.vehicle.level_control,
            confidence=setup.rule.confidence,
        )
        made = make_plan(setup, target, np.random.default_rng(setup.monte_carlo.seed))
    except InputError as error:
        return None, {"plan": error}
    return plan_pdf(made, datetime.now(UTC).isoformat(timespec="seconds")), {}


def _setup(record: Record, rig: str, typed: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, InputError]]:
    wrong: dict[str, InputError] = {}

    def quantity(name: str) -> dict[str, float] | None:
        field = _BY_NAME[name]
        if not typed[name]:
            if field.needed:
                wrong[name] = InputError(
                    said("{label}: nothing was typed.", label=field.label),
                    expected=joined((field.hint, field.limit.unit), " "),
                    remedy=field.limit.remedy,
                )
            return None
        try:
            value = number_typed(typed[name], field.label, field.limit)
            spread = number_typed(
                typed[f"{name}_pm"] or "0",
                said("{label}, plus or minus", label=field.label),
                _limit(0, 500, field.limit.unit, said("0 where it is exact")),
            )
        except InputError as error:
            wrong[name] = error
            return None
        unit = field.limit.unit
        return {unit: value, f"plus_minus_{unit}": spread}

    vehicle: dict[str, Any] = {
        "name": rig[:80],
        "ball_height": {"mm": record.height_mm, "u_mm": record.u_mm, "source": say("the case's photographs")},
    }
    for name, asked in (
        ("coupled", said("Whether the trailer was hitched is not said.")),
        ("laden", said("Whether it was loaded is not said.")),
    ):
        if typed[name] not in ("yes", "no"):
            wrong[name] = InputError(asked, expected=said("yes or no"), remedy=said("choose one"))
        vehicle[name] = typed[name] == "yes"
    trailer: dict[str, Any] = {"name": say("The trailer")}
    for name, key in (("level", "level_coupling_height"), ("drawbar", "drawbar"), ("ball_load", "ball_load")):
        trailer[key] = quantity(name)
    axles = quantity("axles")
    trailer["axles"] = 0 if axles is None else round(axles["axles"])
    mass, drop, load_drop = (quantity(name) for name in ("stand_mass", "stand_drop", "load_drop"))
    if mass is not None and drop is not None:
        vehicle["stand_test"] = {"mass": mass, "drop": drop}
    if load_drop is not None:
        vehicle["added_load_drop"] = load_drop
    if record.state.level_control is not None:
        vehicle["level_control"] = record.state.level_control
    raw = {
        "schema": "photomeasure/rig-setup/1",
        "title": say("Plan for {rig}", rig=rig)[:80],
        "rule": {"name": "au-ball-50" if record.rule is None else record.rule.name},
        "vehicle": vehicle,
        "trailer": trailer,
        "option": [*_changes(typed, "drop", wrong), *_changes(typed, "rise", wrong)],
    }
    return raw, wrong


def _changes(typed: Mapping[str, str], kind: str, wrong: dict[str, InputError]) -> list[dict[str, Any]]:
    """Drops or rises that can be had, typed with commas or blanks between them."""
    found = []
    for text in typed[f"{kind}s"].replace(";", ",").replace(",", " ").split():
        try:
            mm = number_typed(text, said("A drop") if kind == "drop" else said("A rise"), _CHANGES)
        except InputError as error:
            wrong[f"{kind}s"] = error
            continue
        name = say("{mm:g} mm drop", mm=mm) if kind == "drop" else say("{mm:g} mm rise", mm=mm)
        found.append({"name": name, f"{kind}_mm": mm, "u_mm": 1.0})
    return found
