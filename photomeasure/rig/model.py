"""The rig as a function of its input quantities: one evaluation for estimates, draws and sensitivities
alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure import statics
from photomeasure.rig.equilibrium import (
    Coupled,
    HeldBallLoad,
    MovingBallLoad,
    Trailer,
    axle_offsets_mm,
    free_height_from_coupled_mm,
)
from photomeasure.rig.quantity import Quantity
from photomeasure.rig.setup import Correlation, Setup

Array = NDArray[np.float64]
Springs = Literal["rates", "stand test", "coupling", "unknown", "levels itself"]

ASSUMED_RATE_RATIO = Quantity(value=0.9, u=0.25, source="assumed")
"""Front axle's rate over the rear's where only the stand test is known (from memory, no source): it shares
the measured drop between the axles, so it moves the vehicle's pitch and a longer lever's effect, not the drop
itself."""


ASSUMED_LEVELLING = Quantity(value=0.0, u=10.0 / 3.0**0.5, shape="rectangular", source="assumed")
"""A vehicle that levels itself comes back to its height within 10 mm either way (from memory, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Structure:
    """What kind of rig it is: everything about it that is not a number with an uncertainty."""

    measured_coupled: bool
    springs: Springs
    has_lever: bool  # wheelbase and overhang are known
    load_is_share: bool
    load_moves: bool
    axles: int
    shares_load: bool
    has_axle_rate: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """What the rig does, each (N,); None where the inputs do not tell it. Axle changes are against no
    trailer."""

    height_mm: Array
    ball_load_n: Array
    trailer_pitch_rad: Array  # nose-up positive
    vehicle_pitch_rad: Array | None  # nose-up positive
    rear_change_n: Array | None
    front_change_n: Array | None
    group_difference_n: Array | None  # last axle less first, axles that do not share load
    lightest_axle_n: Array | None  # below 0 an axle would be off the ground


def structure_of(setup: Setup) -> Structure:
    """Return the rig's structure."""
    vehicle, trailer = setup.vehicle, setup.trailer
    springs: Springs = "unknown"
    if vehicle.level_control:
        springs = "levels itself"
    elif vehicle.stand_test:
        springs = "stand test"
    elif vehicle.coupling_drop:
        springs = "coupling"
    elif vehicle.rear_axle_rate:
        springs = "rates"
    pooled = trailer.axles == 1 or trailer.shares_load
    return Structure(
        measured_coupled=vehicle.coupled,
        springs=springs,
        has_lever=vehicle.wheelbase is not None,
        load_is_share=trailer.ball_load.unit == "percent",
        load_moves=trailer.gravity_height is not None and (pooled or trailer.axle_rate is not None),
        axles=trailer.axles,
        shares_load=pooled,
        has_axle_rate=trailer.axle_rate is not None,
    )


def quantities_of(setup: Setup) -> dict[str, Quantity]:
    """Return the input quantities under the names that people read, in the inside units."""
    vehicle, trailer = setup.vehicle, setup.trailer
    ratio = vehicle.front_to_rear_rate
    if ratio is None and (vehicle.stand_test or vehicle.coupling_drop) and vehicle.wheelbase:
        ratio = ASSUMED_RATE_RATIO
    levelling = None
    if vehicle.level_control and not vehicle.coupled:
        levelling = vehicle.level_control_within or ASSUMED_LEVELLING
    named = {
        "ball height": vehicle.ball_height,
        "drop when loaded": vehicle.added_load_drop,
        "levelling": levelling,
        "lift by bags or bars": vehicle.helper_lift,
        "front axle load": vehicle.front_axle_load,
        "rear axle load": vehicle.rear_axle_load,
        "wheelbase": vehicle.wheelbase,
        "rear overhang": vehicle.overhang,
        "front axle rate": vehicle.front_axle_rate,
        "rear axle rate": vehicle.rear_axle_rate,
        "stand-test drop": vehicle.stand_test.drop if vehicle.stand_test else None,
        "stand-test mass": vehicle.stand_test.mass if vehicle.stand_test else None,
        "drop when coupled": vehicle.coupling_drop,
        "front to rear rate": ratio,
        "level coupling height": trailer.level_coupling_height,
        "coupling height as it stands": trailer.standing_coupling_height,
        "pitch as it stands": trailer.standing_pitch,
        "trailer's drop when loaded": trailer.load_drop,
        "drawbar length": trailer.drawbar,
        "axle spacing": trailer.axle_spacing,
        "trailer axle rate": trailer.axle_rate,
        "ball load": trailer.ball_load,
        "trailer mass": trailer.mass,
        "centre of gravity height": trailer.gravity_height,
        "wheel centre height": trailer.axle_height,
    }
    return {name: quantity for name, quantity in named.items() if quantity is not None}


# what moves the ball beside the load on it, and which way
_BALL_MOVES: Mapping[str, float] = {"drop when loaded": -1.0, "levelling": 1.0, "lift by bags or bars": 1.0}


@dataclass(frozen=True, slots=True)
class RigModel:
    """The rig with a set of values: x maps a quantity's name to (N,) values in the inside units."""

    structure: Structure
    x: Mapping[str, Array]
    free_mm: Array | None = None  # (N,) the ball's height without a load, where another state's model tells it

    def level_ball_load_n(self) -> Array:
        """Return the ball load when level, (N,)."""
        if self.structure.load_is_share:
            return np.asarray(self.x["ball load"] * statics.n_from_kg(self.x["trailer mass"]))
        return self.x["ball load"]

    def trailer(self) -> Trailer:
        """Return the trailer, its ball load moving with pitch where the inputs tell how."""
        level, drawbar = self._level_height_mm(), self.x["drawbar length"]
        if "trailer's drop when loaded" in self.x:
            level = level - self.x["trailer's drop when loaded"]
        held = HeldBallLoad(level_height_mm=level, drawbar_mm=drawbar, level_ball_load_n=self.level_ball_load_n())
        if not self.structure.load_moves:
            return held
        return MovingBallLoad(
            level_height_mm=level,
            drawbar_mm=drawbar,
            level_ball_load_n=held.level_ball_load_n,
            weight_n=np.asarray(statics.n_from_kg(self.x["trailer mass"])),
            gravity_height_mm=self.x["centre of gravity height"],
            axle_height_mm=self.x["wheel centre height"],
            group_compliance_mm_per_n=self._group_compliance(),
            pitch_stiffness_n_mm=self._pitch_stiffness(),
        )

    def _level_height_mm(self) -> Array:
        """Return the coupling's height with the trailer level, (N,): measured so, or h - D tan(pitch) from how it stands."""
        if "level coupling height" in self.x:
            return self.x["level coupling height"]
        rise = statics.coupling_rise_mm(self.x["pitch as it stands"], self.x["drawbar length"])
        return np.asarray(self.x["coupling height as it stands"] - rise)

    def compliance_mm_per_n(self, extra_lever_mm: float) -> Array:
        """Return how far the ball goes down per newton, (N,), with the ball further back by the extra
        lever."""
        if self.structure.springs in ("unknown", "levels itself"):
            return np.zeros_like(self.x["ball height"])
        if not self.structure.has_lever:
            return self._stand_compliance()
        front, rear = self._rates()
        return np.asarray(statics.hitch_compliance_mm_per_n(self._ratio(extra_lever_mm), front, rear))

    def free_height_mm(self) -> Array:
        """Return the measured ball's height without a ball load, in the load state of the journey, (N,)."""
        if self.free_mm is not None:
            return self.free_mm
        height = self.x["ball height"]
        if self.structure.measured_coupled:
            height = free_height_from_coupled_mm(self.trailer(), height, self.compliance_mm_per_n(0.0))
        for name, sign in _BALL_MOVES.items():
            if name in self.x:
                height = height + sign * self.x[name]
        return height

    def respond(self, offset_mm: Array | float, extra_lever_mm: float) -> Response:
        """Return what the coupled rig does with the ball moved up by offset_mm and back by extra_lever_mm."""
        rest = self.trailer().on_vehicle(self.free_height_mm() + offset_mm, self.compliance_mm_per_n(extra_lever_mm))
        rear, front, pitch = self._vehicle_side(rest.ball_load_n, extra_lever_mm)
        difference, lightest = self._axle_group(rest)
        return Response(
            height_mm=rest.height_mm,
            ball_load_n=rest.ball_load_n,
            trailer_pitch_rad=rest.pitch_rad,
            vehicle_pitch_rad=pitch,
            rear_change_n=rear,
            front_change_n=front,
            group_difference_n=difference,
            lightest_axle_n=lightest,
        )

    def offset_for_height_mm(self, height_mm: float) -> Array:
        """Return the offset of the ball, up positive, that makes the coupled height exactly this one,
        (N,)."""
        heights = np.full_like(self.x["ball height"], height_mm)
        _, load_n = self.trailer().at_height(heights)
        return heights + self.compliance_mm_per_n(0.0) * load_n - self.free_height_mm()

    def offset_for_pitch_mm(self, pitch_rad: float) -> Array:
        """Return the offset of the ball, up positive, that makes the trailer's pitch exactly this one,
        (N,)."""
        height_mm, load_n = self.trailer().at_pitch(np.full_like(self.x["ball height"], pitch_rad))
        return height_mm + self.compliance_mm_per_n(0.0) * load_n - self.free_height_mm()

    def height_at_pitch_mm(self, pitch_rad: float) -> Array:
        """Return the coupling height that gives the trailer this pitch, (N,)."""
        return self.trailer().at_pitch(np.full_like(self.x["ball height"], pitch_rad))[0]

    def _ratio(self, extra_lever_mm: float) -> Array:
        return (self.x["rear overhang"] + extra_lever_mm) / self.x["wheelbase"]

    def _stand_compliance(self) -> Array:
        if self.structure.springs == "coupling":
            return np.asarray(self.x["drop when coupled"] / self._load_when_coupled_n())
        return np.asarray(statics.stand_compliance_mm_per_n(self.x["stand-test drop"], self.x["stand-test mass"]))

    def _load_when_coupled_n(self) -> Array:
        """The ball load under which the ball went down when this trailer was connected, (N,): that of the height it had then."""
        height = self.x["ball height"]
        if not self.structure.measured_coupled:
            height = height - self.x["drop when coupled"]
        return self.trailer().at_height(height)[1]

    def _rates(self) -> tuple[Array, Array]:
        """Return (front, rear) axle rates; from a stand test they reproduce its drop exactly."""
        if self.structure.springs == "rates":
            return self.x["front axle rate"], self.x["rear axle rate"]
        share = self.x["front to rear rate"]
        rear = statics.rear_rate_from_compliance_n_mm(self._stand_compliance(), self._ratio(0.0), share)
        return np.asarray(share * rear), np.asarray(rear)

    def _vehicle_side(self, load_n: Array, extra_lever_mm: float) -> tuple[Array | None, Array | None, Array | None]:
        """Return (rear change, front change, vehicle pitch) as far as the inputs tell them."""
        if not self.structure.has_lever:
            return None, None, None
        ratio = self._ratio(extra_lever_mm)
        rear, front = (np.asarray(change) for change in statics.axle_load_changes_n(load_n, ratio))
        if self.structure.springs == "unknown":
            return rear, front, None
        if self.structure.springs == "levels itself":
            return rear, front, np.zeros_like(rear)
        front_rate, rear_rate = self._rates()
        pitch = statics.vehicle_pitch_rad(load_n, ratio, self.x["wheelbase"], front_rate, rear_rate)
        return rear, front, np.asarray(pitch)

    def _axle_group(self, rest: Coupled) -> tuple[Array | None, Array | None]:
        """Return (last less first axle load, lightest axle load) of axles that do not share load."""
        if self.structure.shares_load or not self.structure.has_axle_rate:
            return None, None
        spread = self.x["axle spacing"] * (self.structure.axles - 1)
        difference = np.asarray(statics.group_load_difference_n(self.x["trailer axle rate"], spread, rest.pitch_rad))
        if "trailer mass" not in self.x:
            return difference, None
        on_axles_n = statics.n_from_kg(self.x["trailer mass"]) - rest.ball_load_n
        return difference, np.asarray(on_axles_n / self.structure.axles - np.abs(difference) / 2.0)

    def _group_compliance(self) -> Array:
        if not self.structure.has_axle_rate:
            return np.zeros_like(self.x["drawbar length"])
        return 1.0 / (self.structure.axles * self.x["trailer axle rate"])

    def _pitch_stiffness(self) -> Array:
        if self.structure.shares_load:
            return np.zeros_like(self.x["drawbar length"])
        offsets = axle_offsets_mm(self.structure.axles, self.x["axle spacing"])  # (axles, N)
        return np.asarray(self.x["trailer axle rate"] * np.sum(offsets**2, axis=0))


def best_values(quantities: Mapping[str, Quantity]) -> dict[str, Array]:
    """Return every quantity's best estimate, (1,)."""
    return {name: np.array([quantity.value]) for name, quantity in quantities.items()}


def drawn_values(
    quantities: Mapping[str, Quantity],
    rng: np.random.Generator,
    count: int,
    correlation: Sequence[Correlation] = (),
) -> dict[str, Array]:
    """Return draws of every quantity, (count,) each; independent but for those of which a correlation is known."""
    drawn = {name: quantity.draw(rng, count) for name, quantity in quantities.items()}
    matrix = correlation_matrix(tuple(drawn), correlation)
    names = [
        name for name, row in zip(drawn, matrix, strict=True) if np.count_nonzero(row) > 1 and quantities[name].u > 0.0
    ]
    if not names:
        return drawn
    at = [list(drawn).index(name) for name in names]
    root = np.linalg.cholesky(matrix[np.ix_(at, at)])
    own = np.stack([(drawn[name] - quantities[name].value) / quantities[name].u for name in names])
    for name, together in zip(names, root @ own, strict=True):
        drawn[name] = quantities[name].value + quantities[name].u * together
    return drawn


def correlation_matrix(names: Sequence[str], correlation: Sequence[Correlation]) -> Array:
    """(n, n) coefficients of correlation of quantities by their names.

    Raises InputError where one is named that is not there, and where no quantities can go together so.
    """
    matrix = np.eye(len(names))
    for one in correlation:
        unknown = next((name for name in one.between if name not in names), None)
        if unknown is not None:
            raise InputError(
                said("A correlation names {unknown}, which is no quantity of this setup.", unknown=repr(unknown)),
                expected=said("two of: {listed}", listed=", ".join(names)),
                remedy=said("write the names as the plan prints them, or take the entry under [[correlation]] away"),
            )
        i, j = (names.index(name) for name in one.between)
        matrix[i, j] = matrix[j, i] = one.r
    if float(np.linalg.eigvalsh(matrix)[0]) <= 0.0:
        raise InputError(
            said("The correlations contradict each other."),
            expected=said("coefficients that quantities can have together (a matrix without negative variances)"),
            remedy=said("check the entries under [[correlation]]"),
        )
    return matrix
