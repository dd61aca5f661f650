"""The plan as one drawing: the rig as it is and, under it at the same scale, what is recommended or
proposed."""

from __future__ import annotations

from calib.words.said import Digits, said, say, shown
from photomeasure.rig import advice
from photomeasure.rig.magnifier import Scale, height_limits_mm, magnifier
from photomeasure.rig.options import Outcome
from photomeasure.rig.plan import Plan
from photomeasure.rig.shapes import Drawing, Path, Shape, Stroke, Text
from photomeasure.rig.sideview import LENGTHS, LEVEL, SideFrame, lengths_of, side_view

WIDTH, MARGIN, HEAD, PANEL, FOOT = 1240.0, 30.0, 76.0, 318.0, 62.0
SIDE_WIDTH, SCALE_LEFT = 830.0, 940.0
TALLEST_MM = 1900.0


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
        shapes.append(
            Text(at=(SCALE_LEFT, top + 57), text=say("height above the ground, mm"), size=12, colour="#444444")
        )
        shapes += magnifier(plan, one, place)
    shapes += _foot(plan, outcomes, height)
    return Drawing(width=WIDTH, height=height, title=plan.setup.title, shapes=tuple(shapes))


def _head(plan: Plan) -> list[Shape]:
    setup = plan.setup
    line = say(
        "{vehicle} with {trailer}. {rule}: {band}.",
        vehicle=setup.vehicle.name,
        trailer=setup.trailer.name,
        rule=plan.target.title,
        band=plan.target.text,
    )
    return [
        Text(at=(MARGIN, 36), text=shortened(setup.title, 90), size=21, bold=True),
        Text(at=(MARGIN, 60), text=shortened(line, 160), size=14, colour="#444444"),
    ]


def _panel_text(plan: Plan, one: Outcome, top: float) -> list[Shape]:
    if one is plan.outcomes[0]:
        heading = say("As it is")
    elif one is plan.proposal:
        heading = (
            say("Would do (not listed), {name}", name=one.called)
            if plan.conclusion == "obtain"
            else say("Nearest to level inside the band (not listed), {name}", name=one.called)
        )
    else:
        barred = plan.too_much or bool(plan.overloaded)
        kind = (
            said("Compromise")
            if plan.conclusion == "compromise"
            else said("On level ground")
            if barred
            else said("Recommended")
        )
        name = shortened(shown(one.called), 45 if barred else 60)
        heading = say("{kind}: {name} ({move})", kind=kind, name=name, move=one.move)
    too_much = f"; {say('TOO MUCH on the way')}" if plan.too_much and one is plan.shown else ""
    too_much += f"; {say('TOO MUCH load')}" if one.overloaded else ""
    return [
        Path(points=((MARGIN, top), (WIDTH - MARGIN, top)), stroke=Stroke(colour="#cccccc")),
        Text(
            at=(MARGIN, top + 26),
            text=f"{heading}: {shown(advice.VERDICTS[one.verdict])}, {_level(one)}{too_much}",
            size=16,
            bold=True,
        ),
        Text(at=(MARGIN, top + 47), text="; ".join(_figures(one)), size=13, colour="#444444"),
    ]


def _level(one: Outcome) -> str:
    if one.level:
        return say("trailer level")
    return say("trailer not level ({pitch})", pitch=_signed(one.trailer_pitch_deg.mean))


def _signed(pitch_deg: float) -> str:
    if abs(pitch_deg) < 0.05:
        return Digits("0.0\N{DEGREE SIGN}")
    return said("{deg:.1f}° nose-up", deg=pitch_deg) if pitch_deg > 0 else said("{deg:.1f}° nose-down", deg=-pitch_deg)


def _figures(one: Outcome) -> list[str]:
    half = 0.5 * (one.height_mm.high - one.height_mm.low)
    found = [say("coupled height {mm:.0f} ± {half:.0f} mm", mm=one.height_mm.mean, half=half)]
    if one.p_inside is not None:
        found.append(say("inside the band with probability {chance}", chance=advice.chance(one.p_inside)))
    found.append(say("trailer {pitch}", pitch=_signed(one.trailer_pitch_deg.mean)))
    share = next((check.found for check in one.checks if check.practice), None)
    if share is None:
        found.append(say("ball load {kg:.0f} kg", kg=one.ball_load_kg.mean))
    else:
        found.append(say("ball load {kg:.0f} kg ({percent:.1f} %)", kg=one.ball_load_kg.mean, percent=share.mean))
    if one.rear_change_kg and one.front_change_kg:
        rear, front = one.rear_change_kg.mean, one.front_change_kg.mean
        found.append(say("rear axle {rear:+.0f} kg, front axle {front:+.0f} kg", rear=rear, front=front))
    return found


def _foot(plan: Plan, outcomes: tuple[Outcome, ...], height: float) -> list[Shape]:
    guessed = lengths_of(plan, outcomes[0]).guessed
    first = say("To scale: heights, pitches and the lengths named. Bodies and wheels are drawn by guess.")
    if guessed:
        names = [LENGTHS[name] for name in guessed]
        first += " " + say("Not given and drawn by guess: {names}.", names=names)
    second = say(
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
            text=say("level line; upright bar: heights that count as level"),
            size=12,
            colour=LEVEL,
        ),
    ]


def shortened(text: str, most: int) -> str:
    """Return the text, cut with an ellipsis where it is longer than `most` signs."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
