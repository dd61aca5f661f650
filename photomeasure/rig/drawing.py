"""The plan as one drawing: the rig as it is and, under it at the same scale, what is recommended or
proposed."""

from __future__ import annotations

from photomeasure.rig import advice
from photomeasure.rig.magnifier import Scale, height_limits_mm, magnifier
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan
from photomeasure.rig.shapes import Drawing, Path, Shape, Stroke, Text
from photomeasure.rig.sideview import LEVEL, SideFrame, lengths_of, side_view

WIDTH, MARGIN, HEAD, PANEL, FOOT = 1240.0, 30.0, 76.0, 318.0, 62.0
SIDE_WIDTH, SCALE_LEFT = 830.0, 940.0
TALLEST_MM = 1900.0
_WORDS = {
    "within": "within the band",
    "above": "above the band",
    "below": "below the band",
    "undecided": "too close to call",
    "no-band": "no band applies",
}


def plan_drawing(plan: Plan) -> Drawing:
    """Return the drawing of a plan: one panel, or two where something is to be changed."""
    outcomes = (plan.outcomes[0],) if plan.shown is plan.outcomes[0] else (plan.outcomes[0], plan.shown)
    height = HEAD + PANEL * len(outcomes) + FOOT
    longest_mm = max(lengths_of(plan, one).total for one in outcomes)
    scale = min(SIDE_WIDTH / longest_mm, (PANEL - 130.0) / TALLEST_MM)
    limits = height_limits_mm(plan, outcomes)
    shapes: list[Shape] = [*_head(plan)]
    for i, one in enumerate(outcomes):
        top = HEAD + PANEL * i
        shapes += _panel_text(plan, one, top)
        view = SideFrame(left=MARGIN + 20.0, ground=top + PANEL - 58.0, scale=scale)
        shapes += side_view(plan, one, view)
        place = Scale(
            left=SCALE_LEFT, right=WIDTH - MARGIN, top=top + 66.0, bottom=top + PANEL - 30.0,
            low_mm=limits[0], high_mm=limits[1],
        )  # fmt: skip
        shapes.append(Text(at=(SCALE_LEFT, top + 57), text="height above the ground, mm", size=12, colour="#444444"))
        shapes += magnifier(plan, one, place)
    shapes += _foot(plan, outcomes, height)
    return Drawing(width=WIDTH, height=height, title=plan.setup.title, shapes=tuple(shapes))


def _head(plan: Plan) -> list[Shape]:
    setup = plan.setup
    line = f"{setup.vehicle.name} with {setup.trailer.name}. {plan.target.title}: {plan.target.text}."
    return [
        Text(at=(MARGIN, 36), text=shortened(setup.title, 90), size=21, bold=True),
        Text(at=(MARGIN, 60), text=shortened(line, 160), size=14, colour="#444444"),
    ]


def _panel_text(plan: Plan, one: Outcome, top: float) -> list[Shape]:
    if one is plan.outcomes[0]:
        heading = "As it is"
    elif one is plan.proposal:
        would = "Would do" if plan.conclusion == "obtain" else "Nearest to level inside the band"
        heading = f"{would} (not listed), {one.name}"
    else:
        barred = plan.too_much or bool(plan.overloaded)
        kind = "Compromise" if plan.conclusion == "compromise" else "On level ground" if barred else "Recommended"
        heading = f"{kind}: {shortened(one.name, 45 if barred else 60)} ({one.move})"
    too_much = "; TOO MUCH on the way" if plan.too_much and one is plan.shown else ""
    too_much += "; TOO MUCH load" if one.overloaded else ""
    return [
        Path(points=((MARGIN, top), (WIDTH - MARGIN, top)), stroke=Stroke(colour="#cccccc")),
        Text(
            at=(MARGIN, top + 26), text=f"{heading}: {_WORDS[one.verdict]}, {_level(one)}{too_much}", size=16, bold=True
        ),
        Text(at=(MARGIN, top + 47), text="; ".join(_figures(one)), size=13, colour="#444444"),
    ]


def _level(one: Outcome) -> str:
    return "trailer level" if one.level else f"trailer not level ({_signed(one.trailer_pitch_deg.mean)})"


def _signed(pitch_deg: float) -> str:
    if abs(pitch_deg) < 0.05:
        return "0.0\N{DEGREE SIGN}"
    return f"{abs(pitch_deg):.1f}\N{DEGREE SIGN} nose-{'up' if pitch_deg > 0 else 'down'}"


def _figures(one: Outcome) -> list[str]:
    half = 0.5 * (one.height_mm.high - one.height_mm.low)
    found = [f"coupled height {one.height_mm.mean:.0f} \N{PLUS-MINUS SIGN} {half:.0f} mm"]
    if one.p_inside is not None:
        found.append(f"inside the band with probability {advice.chance(one.p_inside)}")
    found.append(f"trailer {_signed(one.trailer_pitch_deg.mean)}")
    share = next((check.found for check in one.checks if check.practice), None)
    of_it = "" if share is None else f" ({share.mean:.1f} %)"
    found.append(f"ball load {one.ball_load_kg.mean:.0f} kg{of_it}")
    if one.rear_change_kg and one.front_change_kg:
        found.append(f"rear axle {one.rear_change_kg.mean:+.0f} kg, front axle {one.front_change_kg.mean:+.0f} kg")
    return found


def _foot(plan: Plan, outcomes: tuple[Outcome, ...], height: float) -> list[Shape]:
    guessed = lengths_of(plan, outcomes[0]).guessed
    missing = f" Not given and drawn by guess: {', '.join(guessed)}." if guessed else ""
    first = f"To scale: heights, pitches and the lengths named. Bodies and wheels are drawn by guess.{missing}"
    second = (
        "A plan, no certificate: confirm with a tape once coupled. Ratings of vehicle, bar, ball and coupling rule."
    )
    return [
        Text(at=(MARGIN, height - 38), text=first, size=12, colour="#444444"),
        Text(at=(MARGIN, height - 18), text=second, size=12, colour="#444444"),
        Path(
            points=((872, height - 22), (902, height - 22)),
            stroke=Stroke(colour=LEVEL, width=1.1, dashes="6 4"),
        ),
        Text(
            at=(908, height - 18),
            text="level line; upright bar: heights that count as level",
            size=12,
            colour=LEVEL,
        ),
    ]


def shortened(text: str, most: int) -> str:
    """Return the text, cut with an ellipsis where it is longer than `most` signs."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
