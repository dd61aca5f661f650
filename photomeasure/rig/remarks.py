"""What a reader of a plan has to know besides: what was assumed, what looks odd, what to beware of."""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.rig.plan import Plan
from photomeasure.rig.statics import kg_from_n

TYPICAL_SHARE_LOW, TYPICAL_SHARE_HIGH = 0.04, 0.15
"""Ball load as a share of the laden mass: Germany at least 4 % (StVZO 44 (3), read), UK 5-7 % (NCC, read),
Australia 8-10 % (secondary); the 15 % is from memory, no source. Outside, the plan asks to look again."""

CAUTIONS = (
    "The least of the ratings of vehicle, tow bar, drop or rise, ball and coupling decides; hold the "
    "axle load changes against the vehicle's plates.",
    "A drop or rise that sets the ball further back lengthens the lever: more load on the bar and the "
    "rear axle, less on the steered wheels.",
    "Have tow bars, drops and couplings fitted or changed by licensed people; local rules decide.",
    "Before anything is raised, uncoupled or adjusted: hard, level ground, both brakes on, wheels chocked.",
    "Stay out from between vehicle and trailer, and never reach or get under what only a jack or jockey wheel holds.",
    "This is a plan from typed or photographed heights, no certificate: confirm with a tape once coupled.",
)


def warnings(plan: Plan) -> tuple[str, ...]:
    """List what was assumed, held fixed or looks odd."""
    return (*_vehicle_remarks(plan), *_trailer_remarks(plan), *_oddities(plan))


def _vehicle_remarks(plan: Plan) -> Iterator[str]:
    structure, setup = plan.structure, plan.setup
    if plan.target.indicative:
        yield f"Indicative only: {plan.target.indicative}."
    if not setup.vehicle.laden_on_the_way:
        yield "No added_load_drop is given: the heights are those of the unladen vehicle."
    ratio = plan.quantities.get("front to rear rate")
    if ratio is not None and ratio.source == "assumed":
        yield (
            f"The front axle's rate is assumed to be {ratio.value:g} of the rear's, u {ratio.u:g} (from "
            "memory, no source); type front_to_rear_rate if you know better."
        )
    if structure.springs == "unknown":
        yield "How far the ball goes down under load is not given: the ball load is taken as fixed."
    levers = [option.name for option in setup.option if option.extra_lever_mm]
    if levers and not (structure.has_lever and structure.springs != "unknown"):
        yield (
            f"The extra lever of {', '.join(levers)} does not move the height here: that needs wheelbase, "
            "overhang, and the stand test or both axle rates."
        )


def _trailer_remarks(plan: Plan) -> Iterator[str]:
    structure, level = plan.structure, plan.setup.level
    if not structure.load_moves:
        yield (
            "The ball load is held the same at every pitch: gravity_height, axle_height and mass are "
            "needed to move it, and axle_rate too where axles do not share load."
        )
    if not structure.shares_load and not structure.has_axle_rate:
        yield "The axles do not share load; how unequally they carry needs trailer.axle_rate."
    if not {"nose_up_deg", "nose_down_deg"} <= level.model_fields_set:
        yield (
            f"Level is taken as {level.nose_down_deg:g} deg nose-down to {level.nose_up_deg:g} deg "
            "nose-up (our own choice, no source); type your own under [level]."
        )
    heights = (plan.quantities["ball height"], plan.quantities["level coupling height"])
    if all(height.source != "typed" for height in heights):
        yield "Both heights come from records and are taken as independent; one print or camera shares them."


def _oddities(plan: Plan) -> Iterator[str]:
    trailer, shown = plan.setup.trailer, plan.shown
    share = None
    if trailer.ball_load.unit == "percent":
        share = trailer.ball_load.value
    elif trailer.mass is not None:
        share = float(kg_from_n(trailer.ball_load.value)) / trailer.mass.value
    if share is not None and not TYPICAL_SHARE_LOW <= share <= TYPICAL_SHARE_HIGH:
        yield f"The ball load is {share:.1%} of the trailer's mass; 4 to 15 % is usual: check both."
    if shown.p_axle_off_ground is not None and shown.p_axle_off_ground > 0.001:
        yield f"An axle may be off the ground ({shown.name}): the figures hold only while all wheels carry."
    if shown.ball_load_kg.low < 0.0:
        yield f"The trailer may lift the vehicle's ball ({shown.name}): its load has to go further forward."
