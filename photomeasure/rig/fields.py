"""Which numbers a setup file accepts: unit in the key, allowed range, and what a wrong one probably meant.

The ranges are wide enough for anything from a box trailer to heavy plant on a pin coupling and narrow enough
that a number in the wrong unit falls outside (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calib.words.said import said, with_or
from photomeasure.rig.quantity import DistributionShape, Quantity
from photomeasure.statics import STANDARD_GRAVITY_M_S2


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit that may be typed: the inside value is `factor` times the number; low and high are in this
    unit."""

    key: str
    label: str
    factor: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityField:
    """One kind of quantity. Used as pydantic metadata: it validates the table and describes it in the JSON
    Schema.

    units:      the first is the one that messages speak of.
    example:    a table that would be accepted.
    confusions: keys of units that are not accepted but often meant, with the factor to the first unit.
    record:     True where the height may come from a measurement record instead.
    """

    what: str
    units: tuple[Unit, ...]
    example: str
    confusions: tuple[tuple[str, float], ...] = ()
    record: bool = False

    def allowed(self) -> str:
        """Say the allowed ranges in words."""
        ranges = with_or(
            [said("{low:g} to {high:g} {label}", low=unit.low, high=unit.high, label=unit.label) for unit in self.units]
        )
        return said("{what} of {ranges}, for example {example}", what=self.what, ranges=ranges, example=self.example)

    def parse(self, raw: object) -> Quantity:
        """Return the quantity of a table such as {mm = 412, u_mm = 3}; raises ValueError with a full
        sentence."""
        if isinstance(raw, Quantity):
            return raw
        if not isinstance(raw, dict):
            raise ValueError(
                said("{raw} is no table with a unit; expected {allowed}", raw=repr(raw), allowed=self.allowed())
            )
        unit = self._unit(raw)
        value = _number(raw, unit.key)
        if not unit.low <= value <= unit.high:
            raise ValueError(
                said(
                    "{value:g} {label} is outside {low:g} to {high:g} {label}{unit}",
                    value=value,
                    label=unit.label,
                    low=unit.low,
                    high=unit.high,
                    unit=self._meant(unit, value),
                )
            )
        u, shape = self._uncertainty(raw, unit, value)
        return Quantity(
            value=value * unit.factor,
            u=u * unit.factor,
            shape=shape,
            unit=unit.key,
            source=str(raw.get("source", "typed")),
        )

    def _unit(self, raw: dict[str, Any]) -> Unit:
        named = [unit for unit in self.units if unit.key in raw]
        keys = ", ".join(unit.key for unit in self.units)
        if len(named) != 1:
            found = ", ".join(map(str, raw)) or "nothing"
            raise ValueError(
                said(
                    "needs exactly one of the keys {keys} (found {found}); expected {allowed}",
                    keys=keys,
                    found=found,
                    allowed=self.allowed(),
                )
            )
        unit = named[0]
        known = {unit.key, f"u_{unit.key}", f"plus_minus_{unit.key}", "source"}
        if odd := [key for key in raw if key not in known]:
            raise ValueError(
                said(
                    "unknown key {odd} beside {key}; expected {allowed}",
                    odd=repr(odd[0]),
                    key=unit.key,
                    allowed=self.allowed(),
                )
            )
        return unit

    def _uncertainty(self, raw: dict[str, Any], unit: Unit, value: float) -> tuple[float, DistributionShape]:
        """Return the standard uncertainty in the typed unit and the shape of its distribution."""
        u_key, limit_key = f"u_{unit.key}", f"plus_minus_{unit.key}"
        if (u_key in raw) == (limit_key in raw):
            raise ValueError(
                said(
                    "needs one of {u_key} (standard uncertainty) or {limit_key} (limits either way) beside {key} = "
                    "{value:g}; for example {example}",
                    u_key=u_key,
                    limit_key=limit_key,
                    key=unit.key,
                    value=value,
                    example=self.example,
                )
            )
        rectangular = limit_key in raw
        typed = _number(raw, limit_key if rectangular else u_key)
        reach = typed if rectangular else 3.0 * typed
        widest = unit.high - unit.low
        if typed < 0.0 or reach > widest or (unit.low >= 0.0 and value > 0.0 and reach > value):
            most = min(widest, value) if unit.low >= 0.0 and value > 0.0 else widest
            key, cap = (limit_key, most) if rectangular else (u_key, most / 3.0)
            raise ValueError(
                said(
                    "{key} = {typed:g} is outside 0 to {cap:.4g} {label}, so that no draw changes sign",
                    key=key,
                    typed=typed,
                    cap=cap,
                    label=unit.label,
                )
            )
        return (typed / math.sqrt(3.0), "rectangular") if rectangular else (typed, "normal")

    def _meant(self, unit: Unit, value: float) -> str:
        """Guess the unit that was meant by a number outside its range."""
        for other in self.units:
            if other.key != unit.key and other.low <= value <= other.high:
                return said(
                    "; in {label} it would be allowed: write {key} = {value:g} if that is meant",
                    label=other.label,
                    key=other.key,
                    value=value,
                )
        for name, factor in self.confusions:
            first = self.units[0]
            if first.low <= value * factor <= first.high:
                return said(
                    "; if this is in {name}, write {key} = {value:.4g}", name=name, key=first.key, value=value * factor
                )
        return said("; expected {allowed}", allowed=self.allowed())

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> Any:
        from pydantic_core import core_schema

        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(self, _core: Any, _handler: Any) -> dict[str, Any]:
        forms: list[dict[str, Any]] = []
        for unit in self.units:
            number = {"type": "number", "minimum": unit.low, "maximum": unit.high}
            for spread in (f"u_{unit.key}", f"plus_minus_{unit.key}"):
                forms.append(_table({unit.key: number, spread: {"type": "number", "minimum": 0}}))
        if self.record:
            forms.append(_table({"record": {"type": "string"}}))
        return {"description": self.what, "anyOf": forms}


def _table(properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _number(raw: Mapping[str, Any], key: str) -> float:
    value = raw[key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(
            said(
                "{key} = {value} is no finite number; write it without quotes and without its unit",
                key=key,
                value=repr(value),
            )
        )
    return float(value)


def _length(
    what: str, low_mm: float, high_mm: float, example_mm: float, u_mm: float, *, record: bool = False
) -> QuantityField:
    return QuantityField(
        what=what,
        units=(
            Unit(key="mm", label="mm", factor=1.0, low=low_mm, high=high_mm),
            Unit(key="m", label="m", factor=1000.0, low=low_mm / 1000.0, high=high_mm / 1000.0),
        ),
        example=f"{{ mm = {example_mm:g}, u_mm = {u_mm:g} }}",
        confusions=(("cm", 10.0), ("inches", 25.4)),
        record=record,
    )


STANDING_PITCH = QuantityField(
    what=said("the trailer's pitch as it stands, nose-up positive"),
    units=(Unit(key="deg", label="degrees", factor=math.pi / 180.0, low=-20, high=20),),
    example="{ deg = -1.2, u_deg = 0.15 }",
    record=True,
)
BALL_HEIGHT = _length(said("the ball centre's height above ground"), 150, 1200, 455, 3, record=True)
COUPLING_HEIGHT = _length(said("the coupling centre's height above ground"), 150, 1200, 430, 3, record=True)
LOAD_DROP = _length(said("how far the ball goes down when the vehicle is loaded"), -50, 250, 30, 5)
WHEELBASE = _length(said("front axle to rear axle"), 1500, 7000, 3050, 10)
OVERHANG = _length(said("rear axle to ball centre"), 0, 3500, 1200, 10)
DRAWBAR = _length(said("coupling centre to the axle, or the middle of the axle group"), 800, 12000, 3600, 10)
AXLE_SPACING = _length(said("distance from one axle of the group to the next"), 400, 2500, 850, 5)
GRAVITY_HEIGHT = _length(said("centre of gravity above ground"), 200, 3000, 900, 100)
AXLE_HEIGHT = _length(said("wheel centres above ground"), 120, 700, 330, 10)
LEVELLING = _length(said("how far off its own height a vehicle that levels itself may come to rest"), -50, 50, 0, 6)
HELPER_LIFT = _length(said("how far air bags or weight-distribution bars lift the coupled ball"), 0, 200, 20, 5)
EMPTY_RISE = _length(said("how far the ball comes up when the vehicle is empty"), 0, 250, 30, 5)
STAND_DROP = _length(said("how far the ball went down"), 0.5, 200, 7, 1, record=True)
COUPLING_DROP = _length(
    said("how far the ball went down when this trailer was connected"), 0.5, 250, 38, 1, record=True
)

_KG_PER_N = 1.0 / STANDARD_GRAVITY_M_S2

TRAILER_MASS = QuantityField(
    what=said("the trailer's mass as towed"),
    units=(
        Unit(key="kg", label="kg", factor=1.0, low=50, high=12000),
        Unit(key="t", label="t", factor=1000.0, low=0.05, high=12),
    ),
    example="{ kg = 2600, u_kg = 80 }",
    confusions=(("N", _KG_PER_N),),
)
AXLE_LOAD = QuantityField(
    what=said("what the axle weighs on the scales as loaded for the way, without the trailer"),
    units=(
        Unit(key="kg", label="kg", factor=1.0, low=200, high=10000),
        Unit(key="t", label="t", factor=1000.0, low=0.2, high=10),
    ),
    example="{ kg = 1450, u_kg = 20 }",
    confusions=(("N", _KG_PER_N),),
)
STAND_MASS = QuantityField(
    what=said("the mass that stood on the bar"),
    units=(Unit(key="kg", label="kg", factor=1.0, low=30, high=400),),
    example="{ kg = 92, u_kg = 1 }",
    confusions=(("N", _KG_PER_N),),
)
BALL_LOAD = QuantityField(
    what=said("the ball load with the trailer level"),
    units=(
        Unit(key="kg", label="kg", factor=STANDARD_GRAVITY_M_S2, low=5, high=600),
        Unit(key="N", label="N", factor=1.0, low=250, high=6000),
        Unit(key="percent", label=said("% of the trailer's mass"), factor=0.01, low=1, high=30),
    ),
    example="{ kg = 180, u_kg = 15 }",
)
"""A force in newtons, or a share of the mass where `Quantity.unit` is "percent". Newtons start at 250, above
most ball loads in kg, so that a number in kg cannot pass for newtons; less than that is typed in kg."""

AXLE_RATE = QuantityField(
    what=said("rate of one axle, both wheels, springs and tyres in series"),
    units=(
        Unit(key="kN_per_m", label="kN/m", factor=1.0, low=10, high=2000),
        Unit(key="N_per_mm", label="N/mm", factor=1.0, low=10, high=2000),
    ),
    example="{ kN_per_m = 70, u_kN_per_m = 7 }",
    confusions=(("N/m", 0.001), ("kg/mm", STANDARD_GRAVITY_M_S2)),
)
RATE_RATIO = QuantityField(
    what=said("front axle's rate over the rear axle's"),
    units=(Unit(key="ratio", label="(ratio)", factor=1.0, low=0.2, high=5),),
    example="{ ratio = 0.9, u_ratio = 0.2 }",
)
