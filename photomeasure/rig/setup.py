"""What a rig setup file says: the schema, and the checks that span several fields.

Every quantity is a table with its unit in the key and its uncertainty beside it (`fields`). Signs: a drop
lowers the ball, a rise lifts it, nose-up is positive.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StringConstraints, model_validator

from calib.words.said import said
from photomeasure.rig import fields
from photomeasure.rig.quantity import Quantity
from photomeasure.statics import n_from_kg

SCHEMA = "photomeasure/rig-setup/1"

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
BallHeight = Annotated[Quantity, fields.BALL_HEIGHT]
StandingPitch = Annotated[Quantity, fields.STANDING_PITCH]
CouplingHeight = Annotated[Quantity, fields.COUPLING_HEIGHT]
LoadDrop = Annotated[Quantity, fields.LOAD_DROP]
Wheelbase = Annotated[Quantity, fields.WHEELBASE]
Overhang = Annotated[Quantity, fields.OVERHANG]
Drawbar = Annotated[Quantity, fields.DRAWBAR]
AxleSpacing = Annotated[Quantity, fields.AXLE_SPACING]
GravityHeight = Annotated[Quantity, fields.GRAVITY_HEIGHT]
AxleHeight = Annotated[Quantity, fields.AXLE_HEIGHT]
StandDrop = Annotated[Quantity, fields.STAND_DROP]
CouplingDrop = Annotated[Quantity, fields.COUPLING_DROP]
StandMass = Annotated[Quantity, fields.STAND_MASS]
TrailerMass = Annotated[Quantity, fields.TRAILER_MASS]
BallLoad = Annotated[Quantity, fields.BALL_LOAD]
AxleRate = Annotated[Quantity, fields.AXLE_RATE]
AxleLoad = Annotated[Quantity, fields.AXLE_LOAD]
Levelling = Annotated[Quantity, fields.LEVELLING]
HelperLift = Annotated[Quantity, fields.HELPER_LIFT]
EmptyRise = Annotated[Quantity, fields.EMPTY_RISE]
Rating = Annotated[float, Field(strict=True, gt=0.0, le=20_000.0)]
RateRatio = Annotated[Quantity, fields.RATE_RATIO]
Degrees = Annotated[float, Field(strict=True, ge=0.0, le=45.0)]
Grade = Annotated[float, Field(strict=True, ge=-30.0, le=30.0)]

STIFFNESS_LOW_N_MM, STIFFNESS_HIGH_N_MM = 5.0, 600.0
SHARE_LOW, SHARE_HIGH = 0.01, 0.30


class Table(BaseModel):
    """A table of the file: no unknown keys, no NaN, never changed after reading."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)


class StandTest(Table):
    """The yard test: the ball's drop when a known mass stands on the tow bar, right at the ball."""

    drop: StandDrop
    mass: StandMass

    @model_validator(mode="after")
    def _plausible_stiffness(self) -> Self:
        stiffness_n_mm = float(n_from_kg(self.mass.value)) / self.drop.value
        if not STIFFNESS_LOW_N_MM <= stiffness_n_mm <= STIFFNESS_HIGH_N_MM:
            raise ValueError(
                said(
                    "{mass:g} kg for {drop:g} mm is {stiffness_n_mm:.3g} N/mm at the ball; expected "
                    "{stiffness_low_n_mm:g} to {stiffness_high_n_mm:g} N/mm: check kg against N and mm against cm",
                    mass=self.mass.value,
                    drop=self.drop.value,
                    stiffness_n_mm=stiffness_n_mm,
                    stiffness_low_n_mm=STIFFNESS_LOW_N_MM,
                    stiffness_high_n_mm=STIFFNESS_HIGH_N_MM,
                )
            )
        return self


class Vehicle(Table):
    """The tow vehicle, its ball as measured and how its springs answer to a ball load.

    coupling_drop: how far the ball went down when this trailer was connected and nothing else changed, by two photographs.
    """

    name: Name
    ball_height: BallHeight
    coupled: StrictBool
    laden: StrictBool
    level_control: StrictBool | None = None
    level_control_within: Levelling | None = None
    added_load_drop: LoadDrop | None = None
    helper_lift: HelperLift | None = None
    front_axle_load: AxleLoad | None = None
    rear_axle_load: AxleLoad | None = None
    wheelbase: Wheelbase | None = None
    overhang: Overhang | None = None
    front_axle_rate: AxleRate | None = None
    rear_axle_rate: AxleRate | None = None
    front_to_rear_rate: RateRatio | None = None
    stand_test: StandTest | None = None
    coupling_drop: CouplingDrop | None = None

    @model_validator(mode="after")
    def _springs_are_told_once(self) -> Self:
        rates = (self.front_axle_rate, self.rear_axle_rate)
        if self.stand_test is not None and any(rates):
            raise ValueError(said("give the stand_test or the axle rates, not both: they tell the same thing"))
        if self.coupling_drop is not None and (self.stand_test is not None or any(rates)):
            raise ValueError(said("give the coupling_drop, the stand_test or the axle rates: they tell the same thing"))
        if any(rates) and not (all(rates) and self.wheelbase and self.overhang):
            raise ValueError(said("axle rates need front_axle_rate, rear_axle_rate, wheelbase and overhang together"))
        if (self.wheelbase is None) != (self.overhang is None):
            raise ValueError(said("wheelbase and overhang are needed together, in mm or m"))
        if self.front_to_rear_rate and not ((self.stand_test or self.coupling_drop) and self.wheelbase):
            raise ValueError(
                said("front_to_rear_rate only goes with a stand_test or coupling_drop, wheelbase and overhang")
            )
        if self.level_control_within is not None and not self.level_control:
            raise ValueError(said("level_control_within only goes with level_control = true"))
        if self.level_control and (self.added_load_drop is not None or self.helper_lift is not None):
            raise ValueError(
                said(
                    "a vehicle that levels itself (level_control = true) comes back to its height under any load: leave "
                    "out added_load_drop and helper_lift, or write level_control = false"
                )
            )
        if self.helper_lift is not None and self.coupled:
            raise ValueError(
                said(
                    "the ball was measured coupled: what air bags or bars lift is in that height already; leave out "
                    "helper_lift"
                )
            )
        told = self.stand_test is not None or self.coupling_drop is not None or all(rates)
        if not self.coupled and not self.level_control and not told:
            raise ValueError(
                said(
                    "an uncoupled ball height needs to know how far the ball goes down: give stand_test (drop in mm "
                    "under a known mass in kg), coupling_drop (mm, under this very trailer) or both axle rates in kN/m"
                )
            )
        return self

    @property
    def laden_on_the_way(self) -> bool:
        """Whether the planned heights are those of the laden vehicle."""
        return self.laden or self.added_load_drop is not None


class Trailer(Table):
    """The trailer as towed. `ball_load` and `level_coupling_height` are those of the trailer standing level.

    standing_coupling_height, standing_pitch: in place of level_coupling_height, of the trailer as it stands on its jockey
    wheel; level, its coupling is at h - D tan(pitch). load_drop: how far the coupling of the level trailer goes down on its
    own springs from the state in which its height was measured to the state in which it is towed.
    """

    name: Name
    level_coupling_height: CouplingHeight | None = None
    standing_coupling_height: CouplingHeight | None = None
    standing_pitch: StandingPitch | None = None
    load_drop: LoadDrop | None = None
    drawbar: Drawbar
    axles: Annotated[int, Field(strict=True, ge=1, le=4)]
    shares_load: StrictBool = True
    axle_spacing: AxleSpacing | None = None
    axle_rate: AxleRate | None = None
    ball_load: BallLoad
    mass: TrailerMass | None = None
    gravity_height: GravityHeight | None = None
    axle_height: AxleHeight | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        standing = (self.standing_coupling_height, self.standing_pitch)
        if self.level_coupling_height is None and None in standing:
            raise ValueError(
                said(
                    "needs level_coupling_height, or of the trailer as it stands both standing_coupling_height and "
                    "standing_pitch"
                )
            )
        if self.level_coupling_height is not None and standing != (None, None):
            raise ValueError(
                said("level_coupling_height and the standing height and pitch tell the same thing: give one of the two")
            )
        if self.axles == 1 and self.axle_spacing is not None:
            raise ValueError(said("axle_spacing makes no sense with axles = 1"))
        if self.axles > 1 and not self.shares_load and self.axle_spacing is None:
            raise ValueError(said("axles that do not share load need axle_spacing, in mm or m"))
        if self.gravity_height and not (self.axle_height and self.mass):
            raise ValueError(said("gravity_height needs axle_height (wheel centres, mm) and mass (kg) beside it"))
        if self.ball_load.unit == "percent" and self.mass is None:
            raise ValueError(said("ball_load in percent needs the trailer's mass in kg"))
        if self.mass is not None and self.ball_load.unit != "percent":
            share = self.ball_load.value / float(n_from_kg(self.mass.value))
            if not SHARE_LOW <= share <= SHARE_HIGH:
                raise ValueError(
                    f"the ball load is {share:.1%} of the mass; expected {SHARE_LOW:.0%} to "
                    f"{SHARE_HIGH:.0%}: check whether ball_load is in kg or N, and mass in kg"
                )
        return self


class Option(Table):
    """A drop or rise that can be had, against the ball as it was measured."""

    name: Name
    drop_mm: Annotated[float, Field(strict=True, ge=0.0, le=500.0)] | None = None
    rise_mm: Annotated[float, Field(strict=True, ge=0.0, le=500.0)] | None = None
    u_mm: Annotated[float, Field(strict=True, ge=0.0, le=20.0)]
    extra_lever_mm: Annotated[float, Field(strict=True, ge=-500.0, le=1500.0)] = 0.0

    @model_validator(mode="after")
    def _one_direction(self) -> Self:
        if (self.drop_mm is None) == (self.rise_mm is None):
            raise ValueError(
                said("needs exactly one of drop_mm (ball goes down) or rise_mm (ball goes up), 0 to 500 mm")
            )
        return self

    @property
    def offset_mm(self) -> float:
        """How far the ball goes up against the measured one; a drop is negative."""
        return self.rise_mm if self.rise_mm is not None else -(self.drop_mm or 0.0)


class Level(Table):
    """What counts as level, and how much nose-down the user is prepared to run (none unless typed).

    Unless typed, level to one degree nose-down: "always level or slightly nose down" (NCC, read); the degree is our own.
    """

    nose_up_deg: Annotated[float, Field(strict=True, ge=0.0, le=5.0)] = 0.0
    nose_down_deg: Annotated[float, Field(strict=True, ge=0.0, le=5.0)] = 1.0
    nose_down_limit_deg: Annotated[float, Field(strict=True, ge=0.0, le=10.0)] | None = None

    @property
    def ends_deg(self) -> tuple[float, float]:
        """Lower and upper end, nose-up positive, each half a printed tenth further out: a pitch is held against them as it
        is printed, so that 0.0 counts as level."""
        return -(self.nose_down_deg + 0.05), self.nose_up_deg + 0.05


class Ratings(Table):
    """What plates and papers allow, kg; what is not typed is not checked. source: where they were read."""

    ball_load_kg: Rating | None = None
    tow_bar_load_kg: Rating | None = None
    coupling_load_kg: Rating | None = None
    rear_axle_kg: Rating | None = None
    front_axle_kg: Rating | None = None
    vehicle_kg: Rating | None = None
    trailer_axle_kg: Rating | None = None
    trailer_kg: Rating | None = None
    source: Name | None = None

    @model_validator(mode="after")
    def _says_where_from(self) -> Self:
        if self.typed and self.source is None:
            raise ValueError(said("ratings need source: which plates or papers they were read from, in words"))
        return self

    @property
    def typed(self) -> bool:
        """Whether there is any rating."""
        return any(value is not None for name, value in self if name != "source")

    def of_ball_load(self) -> tuple[tuple[str, float | None], ...]:
        """Name and rating of everything that carries the ball load."""
        return (
            (said("ball load, by the vehicle's and the ball's plates"), self.ball_load_kg),
            (said("ball load, by the tow bar's or drop's plate"), self.tow_bar_load_kg),
            (said("ball load, by the coupling's plate"), self.coupling_load_kg),
        )


class Empty(Table):
    """The way back: what of the rig is another with the trailer empty; what is left out stays as it is laden.

    vehicle_laden: whether the vehicle keeps its own load; vehicle_rise: how far the ball comes up when it does not, where
    the ball was measured laden.
    """

    ball_load: BallLoad
    mass: TrailerMass | None = None
    level_coupling_height: CouplingHeight | None = None
    gravity_height: GravityHeight | None = None
    vehicle_laden: StrictBool = False
    vehicle_rise: EmptyRise | None = None


class RuleChoice(Table):
    """Which rule's band, and how sure "inside" has to be (unless typed: as the rule's own decision rule
    asks)."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=500)] = "au-ball-50"
    confidence: Annotated[float, Field(strict=True, ge=0.5, lt=1.0)] | None = None


class Demand(Table):
    """A place on the way: a crest, dip or ramp (two grades that meet), a cross-slope, or one wheel on a step.

    Grades are up-hill positive, in degrees, in the direction of travel; radius_m rounds the change of grade.
    """

    name: Name
    kind: Literal["crest", "dip", "ramp", "cross-slope", "step"]
    grade_in_deg: Grade = 0.0
    grade_out_deg: Grade = 0.0
    radius_m: Annotated[float, Field(strict=True, ge=0.0, le=500.0)] = 0.0
    vehicle_side_deg: Grade = 0.0
    trailer_side_deg: Grade = 0.0
    step_mm: Annotated[float, Field(strict=True, ge=0.0, le=500.0)] = 0.0
    track_mm: Annotated[float, Field(strict=True, ge=800.0, le=3000.0)] | None = None

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        change_deg = self.grade_out_deg - self.grade_in_deg
        if self.kind == "crest" and change_deg >= 0.0:
            raise ValueError(said("a crest needs grade_out_deg below grade_in_deg (degrees, up-hill positive)"))
        if self.kind == "dip" and change_deg <= 0.0:
            raise ValueError(said("a dip needs grade_out_deg above grade_in_deg (degrees, up-hill positive)"))
        if self.kind == "ramp" and change_deg == 0.0:
            raise ValueError(said("a ramp needs two different grades in degrees: grade_in_deg, grade_out_deg"))
        if self.kind == "cross-slope" and self.vehicle_side_deg == self.trailer_side_deg:
            raise ValueError(
                said("a cross-slope that twists needs vehicle_side_deg and trailer_side_deg to differ (degrees)")
            )
        if self.kind == "step" and (self.step_mm == 0.0 or self.track_mm is None):
            raise ValueError(said("a step needs step_mm (above 0 to 500 mm) and track_mm (800 to 3000 mm)"))
        return self


class Articulation(Table):
    """Limits from the coupling's maker, and the places where the rig has to go."""

    crest_limit_deg: Degrees | None = None
    dip_limit_deg: Degrees | None = None
    roll_limit_deg: Degrees | None = None
    limits_source: Name | None = None
    demand: tuple[Demand, ...] = ()

    @model_validator(mode="after")
    def _limits_say_where_from(self) -> Self:
        limits = (self.crest_limit_deg, self.dip_limit_deg, self.roll_limit_deg)
        if any(limit is not None for limit in limits) and self.limits_source is None:
            raise ValueError(said("limits need limits_source: the maker's sheet that gives them, in words"))
        return self


class MonteCarlo(Table):
    """How many draws, and the seed that makes a plan come out the same again."""

    draws: Annotated[int, Field(strict=True, ge=1000, le=1_000_000)] = 20_000
    seed: Annotated[int, Field(strict=True, ge=0)] = 1


class Correlation(Table):
    """Two input quantities that are not independent, by the names that a plan prints, with their coefficient of correlation.

    Filled in by itself where both come from records of one print, phone or pair of photographs.
    """

    between: tuple[Name, Name]
    r: Annotated[float, Field(ge=-0.999, le=0.999)]

    @model_validator(mode="after")
    def _of_two(self) -> Self:
        if self.between[0] == self.between[1]:
            raise ValueError(said("between names one quantity twice: a quantity goes with another one"))
        return self


class Setup(Table):
    """A whole setup file."""

    schema_name: Literal["photomeasure/rig-setup/1"] = Field(alias="schema")
    title: Name
    rule: RuleChoice = RuleChoice()
    vehicle: Vehicle
    trailer: Trailer
    option: tuple[Option, ...] = ()
    level: Level = Level()
    ratings: Ratings = Ratings()
    empty: Empty | None = None
    articulation: Articulation = Articulation()
    monte_carlo: MonteCarlo = MonteCarlo()
    correlation: tuple[Correlation, ...] = ()

    @model_validator(mode="after")
    def _coupling_drop_is_plausible(self) -> Self:
        drop, load = self.vehicle.coupling_drop, self.trailer.ball_load
        if drop is None or load.unit == "percent":
            return self
        stiffness_n_mm = load.value / drop.value
        if not STIFFNESS_LOW_N_MM <= stiffness_n_mm <= STIFFNESS_HIGH_N_MM:
            raise ValueError(
                said(
                    "vehicle.coupling_drop: {load:.0f} N of ball load for {drop:g} mm is {stiffness_n_mm:.3g} N/mm "
                    "at the ball; expected {stiffness_low_n_mm:g} to {stiffness_high_n_mm:g} N/mm: was something else "
                    "loaded or moved in between?",
                    load=load.value,
                    drop=drop.value,
                    stiffness_n_mm=stiffness_n_mm,
                    stiffness_low_n_mm=STIFFNESS_LOW_N_MM,
                    stiffness_high_n_mm=STIFFNESS_HIGH_N_MM,
                )
            )
        return self

    @model_validator(mode="after")
    def _empty_rise_is_needed_once(self) -> Self:
        if self.empty is None:
            return self
        rises = self.vehicle.laden and not self.empty.vehicle_laden and not self.vehicle.level_control
        if rises and self.empty.vehicle_rise is None:
            raise ValueError(
                said(
                    "empty: the ball was measured laden; give vehicle_rise (mm), how far it comes up when the vehicle is "
                    "empty, or write vehicle_laden = true"
                )
            )
        if not rises and self.empty.vehicle_rise is not None:
            raise ValueError(said("empty: vehicle_rise only goes with a ball measured laden and vehicle_laden = false"))
        told = self.vehicle.stand_test or self.vehicle.coupling_drop or self.vehicle.rear_axle_rate
        if self.vehicle.coupled and told is None:
            raise ValueError(
                said(
                    "empty: the ball was measured with the trailer on, and without stand_test or axle rates nobody knows "
                    "how far it comes up with less on it"
                )
            )
        if self.empty.ball_load.unit == "percent" and (self.empty.mass or self.trailer.mass) is None:
            raise ValueError(said("empty: ball_load in percent needs the empty trailer's mass in kg"))
        return self

    @model_validator(mode="after")
    def _pitch_articulation_has_lengths(self) -> Self:
        pitching = any(demand.kind in ("crest", "dip", "ramp") for demand in self.articulation.demand)
        if pitching and self.vehicle.wheelbase is None:
            raise ValueError(said("a crest, dip or ramp needs vehicle.wheelbase and vehicle.overhang, in mm or m"))
        return self
