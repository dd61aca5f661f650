"""What a reader of a plan has to know besides: what was assumed, what looks odd, what to beware of."""

from __future__ import annotations

from collections.abc import Iterator

from calib.words.said import said
from photomeasure.rig.loads_said import load_line
from photomeasure.rig.model import ASSUMED_LEVELLING
from photomeasure.rig.plan import Plan
from photomeasure.rig.quantities_said import named

_PHOTOGRAPHED = ("ball height", "level coupling height", "coupling height as it stands", "pitch as it stands")

CAUTIONS = (
    said(
        "The least of the ratings of vehicle, tow bar, drop or rise, ball and coupling decides; hold the "
        "axle load changes against the vehicle's plates."
    ),
    said(
        "A drop or rise that sets the ball further back lengthens the lever: more load on the bar and the "
        "rear axle, less on the steered wheels."
    ),
    said("Have tow bars, drops and couplings fitted or changed by licensed people; local rules decide."),
    said("Before anything is raised, uncoupled or adjusted: hard, level ground, both brakes on, wheels chocked."),
    said(
        "Stay out from between vehicle and trailer, and never reach or get under what only a jack or jockey wheel holds."
    ),
    said("This is a plan from typed or photographed heights, no certificate: confirm with a tape once coupled."),
)


def warnings(plan: Plan) -> tuple[str, ...]:
    """List what was assumed, held fixed or looks odd."""
    parts = (_vehicle_remarks, _together_remarks, _trailer_remarks, _not_in_it, _empty_remarks, _oddities)
    return tuple(line for part in parts for line in part(plan))


def _vehicle_remarks(plan: Plan) -> Iterator[str]:
    structure, setup = plan.structure, plan.setup
    if plan.target.indicative:
        yield said("Indicative only: {indicative}.", indicative=plan.target.indicative)
    if not setup.vehicle.laden_on_the_way and not setup.vehicle.level_control:
        yield said("No added_load_drop is given: the heights are those of the unladen vehicle.")
    ratio = plan.quantities.get("front to rear rate")
    if ratio is not None and ratio.source == "assumed":
        yield (
            said(
                "The front axle's rate is assumed to be {value:g} of the rear's, u {u:g} (from memory, no source); "
                "type front_to_rear_rate if you know better.",
                value=ratio.value,
                u=ratio.u,
            )
        )
    if structure.springs == "levels itself":
        yield from _levels_itself(plan)
    elif structure.springs == "unknown":
        yield said("How far the ball goes down under load is not given: the ball load is taken as fixed.")
    levers = [option.name for option in setup.option if option.extra_lever_mm]
    if levers and not (structure.has_lever and structure.springs != "unknown"):
        yield (
            said(
                "The extra lever of {levers} does not move the height here: that needs wheelbase, overhang, and the stand test, the drop "
                "when coupled or both axle rates.",
                levers=levers,
            )
        )


def _levels_itself(plan: Plan) -> Iterator[str]:
    vehicle = plan.setup.vehicle
    yield (
        said(
            "The vehicle levels itself: once it has (engine running, doors shut, as its maker says), no ball "
            "load lowers the ball. With that system off or at fault it sinks like any other, which is not in "
            "this plan."
        )
    )
    if vehicle.stand_test or vehicle.rear_axle_rate:
        yield said("The stand test or axle rates are not used: a vehicle that levels itself comes back to its height.")
    if plan.quantities.get("levelling") == ASSUMED_LEVELLING:
        yield (
            said(
                "It is taken to come back to its own height within 10 mm (from memory, no source): measure it "
                "coupled and levelled, or type level_control_within."
            )
        )


def _not_in_it(plan: Plan) -> Iterator[str]:
    """What moves real rigs and is in no field that was typed."""
    vehicle, trailer = plan.setup.vehicle, plan.setup.trailer
    if vehicle.helper_lift is None and not vehicle.coupled and not vehicle.level_control:
        yield (
            said(
                "Air bags and weight-distribution bars are not in it: measure how far they lift the coupled ball and "
                "type helper_lift, or measure the ball coupled with them in use."
            )
        )
    elif vehicle.helper_lift is not None:
        yield said("What weight-distribution bars move from the rear axle to the others is not in the axle loads.")
    if trailer.load_drop is None:
        yield (
            said(
                "The trailer's coupling is taken to stand as high when towed as it was measured: where it was "
                "measured empty, type load_drop (trailer), how far it goes down on its own springs when loaded."
            )
        )


def _empty_remarks(plan: Plan) -> Iterator[str]:
    empty = plan.empty
    if empty is None:
        return
    if not empty.new_level_height:
        yield said(
            "Empty, the trailer's coupling is taken to stand as high as laden: type empty.level_coupling_height."
        )
    if empty.target.indicative:
        yield said("Empty, the band is indicative only: {indicative}.", indicative=empty.target.indicative)


def _together_remarks(plan: Plan) -> Iterator[str]:
    for one in plan.setup.correlation:
        if all(name in plan.quantities for name in one.between):
            yield (
                said(
                    "Not independent: {first} and {second} (correlation {r:+.2f}); that is in every figure here.",
                    first=named(one.between[0]),
                    second=named(one.between[1]),
                    r=one.r,
                )
            )


def _trailer_remarks(plan: Plan) -> Iterator[str]:
    structure, level = plan.structure, plan.setup.level
    if not structure.load_moves:
        yield (
            said(
                "The ball load is held the same at every pitch: gravity_height, axle_height and mass are needed to "
                "move it, and axle_rate too where axles do not share load."
            )
        )
    if not structure.shares_load and not structure.has_axle_rate:
        yield said("The axles do not share load; how unequally they carry needs trailer.axle_rate.")
    if not {"nose_up_deg", "nose_down_deg"} <= level.model_fields_set:
        yield (
            said(
                'Level is taken as {up:g} deg nose-up to {down:g} deg nose-down ("always level or slightly nose down", National Caravan '
                "Council, read; the figures are our own choice); type your own under [level].",
                up=level.nose_up_deg,
                down=level.nose_down_deg,
            )
        )
    found = [plan.quantities[name].source for name in _PHOTOGRAPHED if name in plan.quantities]
    recorded = [source for source in found if source != "typed"]
    if len(recorded) > 1:
        yield (
            said(
                "{records}: records are taken as independent; one print or one camera shares them.",
                records=list(dict.fromkeys(recorded)),
            )
        )
    if plan.setup.trailer.standing_pitch is not None:
        yield (
            said(
                "The level coupling height is worked out from how the trailer stands, h - D tan(pitch): the axle "
                "stays where it is, the drawbar's length counts."
            )
        )


def _oddities(plan: Plan) -> Iterator[str]:
    shown = plan.shown
    for check in shown.unusual:
        yield said(
            "{line} ({name}) Check the ball load and the trailer's mass.", line=load_line(check), name=shown.called
        )
    if plan.setup.trailer.mass is None:
        yield said("Without trailer.mass nobody can tell whether the ball load is a usual share of it (4 to 15 %).")
    if shown.p_axle_off_ground is not None and shown.p_axle_off_ground > 0.001:
        yield said(
            "An axle may be off the ground ({name}): the figures hold only while all wheels carry.", name=shown.called
        )
    if shown.ball_load_kg.low < 0.0:
        yield said(
            "The trailer may lift the vehicle's ball ({name}): its load has to go further forward.", name=shown.called
        )
