"""The plan as terminal text: what to do first, then the table, then why, then what to beware of."""

from __future__ import annotations

import io
from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from calib.words.said import Digits, number, said, say, shown
from photomeasure.rig import advice, remarks
from photomeasure.rig.loads_said import load_lines
from photomeasure.rig.options import Outcome, Spread
from photomeasure.rig.plan import Plan
from photomeasure.rig.quantities_said import named, sourced

_MOST_PARTS = 5
_WIDE = 1000  # signs: nothing is wrapped where no person's terminal is


def print_plan(plan: Plan, console: Console) -> None:
    """Print the plan: laid out on a terminal, one sentence a line elsewhere; every colour is also a word."""
    if console.is_terminal:
        _print(plan, console)
        return
    kept = io.StringIO()
    _print(plan, Console(file=kept, width=_WIDE, highlight=False, force_terminal=False))
    text = "\n".join(line.rstrip() for line in kept.getvalue().split("\n"))
    console.file.write(_encodable(text, console.encoding))


def _encodable(text: str, encoding: str) -> str:
    """The text with what the output cannot hold replaced."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = text.replace("\N{PLUS-MINUS SIGN}", "+/-").replace("\N{BOX DRAWINGS LIGHT HORIZONTAL}", "-")
        return text.encode(encoding, "replace").decode(encoding)
    except LookupError:
        return text.encode("ascii", "replace").decode("ascii")
    return text


def _print(plan: Plan, console: Console) -> None:
    setup, target = plan.setup, plan.target
    console.print(f"[bold]{escape(setup.title)}[/bold]")
    head = say(
        "{vehicle} with {trailer}; {rule}: {band} (source: {confidence})",
        vehicle=setup.vehicle.name,
        trailer=setup.trailer.name,
        rule=target.title,
        band=target.text,
        confidence=target.rule_confidence,
    )
    console.print(escape(head))
    console.print()
    console.print(escape(shown(advice.recommendation(plan))), style=_style(plan))
    console.print(escape(shown(advice.fault_sentence(plan))))
    _list(console, say("What remains"), advice.remaining_choices(plan))
    console.print()
    console.print(_options_table(plan))
    console.print(say("Pitch: nose-up is +. ± is half the 95 % interval. Axle changes are against no trailer."))
    _ranges(plan, console)
    _list(console, say("Loads: {name}", name=plan.shown.called), load_lines(plan))
    _empty(plan, console)
    _articulation(plan, console)
    _parts(plan, console)
    _list(console, say("Assumed, or to look at"), remarks.warnings(plan))
    _list(console, say("Before you do it"), remarks.CAUTIONS)


def _style(plan: Plan) -> str:
    if plan.too_much or plan.overloaded:
        return "bold red"
    if plan.shown.unusual or plan.target.indicative:
        return "bold yellow"
    return {"as-is": "bold green", "option": "bold green", "compromise": "bold yellow"}.get(plan.conclusion, "bold red")


def _options_table(plan: Plan) -> Table:
    """One column for each option, so that it reads on a narrow terminal as well."""
    outcomes = [*plan.outcomes, *([plan.proposal] if plan.proposal else [])]
    chosen = say("compromise") if plan.conclusion == "compromise" else say("recommended")
    proposed = say("not listed")
    if plan.too_much:
        chosen, proposed = say("TOO MUCH bend on the way"), say("not listed; TOO MUCH bend on the way")
    if plan.overloaded:
        chosen, proposed = say("TOO MUCH load"), say("not listed; TOO MUCH load")
    heads = [
        f" ({chosen})" if i == plan.chosen else f" ({proposed})" if one is plan.proposal else ""
        for i, one in enumerate(outcomes)
    ]
    rows: list[tuple[str, list[str]]] = [
        *_height_rows(outcomes),
        (said("ball load, kg"), [_pm(one.ball_load_kg, 0) for one in outcomes]),
        (said("ball load, % of the trailer"), [_share(one) for one in outcomes]),
        (said("ratings"), [_ratings(one) for one in outcomes]),
        (said("vehicle pitch, deg"), [_pm(one.vehicle_pitch_deg, 1, sign=True) for one in outcomes]),
        (said("rear axle, kg"), [_pm(one.rear_change_kg, 0, sign=True) for one in outcomes]),
        (said("front axle, kg"), [_pm(one.front_change_kg, 0, sign=True) for one in outcomes]),
        (said("last less first trailer axle, kg"), [_pm(one.group_difference_kg, 0, sign=True) for one in outcomes]),
    ]
    return _table([shown(one.called) + head for one, head in zip(outcomes, heads, strict=True)], rows)


def _height_rows(outcomes: Sequence[Outcome]) -> list[tuple[str, list[str]]]:
    return [
        (said("ball moves"), [one.move for one in outcomes]),
        (said("coupled height, mm"), [_pm(one.height_mm, 0) for one in outcomes]),
        (said("band"), [advice.VERDICTS[one.verdict] for one in outcomes]),
        (
            said("inside, probability"),
            ["-" if one.p_inside is None else advice.chance(one.p_inside) for one in outcomes],
        ),
        (said("trailer pitch, deg"), [_pm(one.trailer_pitch_deg, 1, sign=True) for one in outcomes]),
        (said("level"), [_level(one) for one in outcomes]),
    ]


def _table(names: Sequence[str], rows: Sequence[tuple[str, list[str]]]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("")
    for name in names:
        table.add_column(escape(name), justify="right", overflow="fold")
    for label, cells in rows:
        if any(cell != "-" for cell in cells):
            table.add_row(shown(label), *(shown(cell) for cell in cells))
    return table


def _pm(found: Spread | None, digits: int, *, sign: bool = False) -> str:
    if found is None:
        return "-"
    value, half = round(found.mean, digits) + 0.0, 0.5 * (found.high - found.low)
    return Digits(f"{value:{'+' if sign and value else ''}.{digits}f} \N{PLUS-MINUS SIGN} {half:.{digits}f}")


def _share(one: Outcome) -> str:
    return next((_pm(check.found, 1) for check in one.checks if check.practice), "-")


def _ratings(one: Outcome) -> str:
    rated = [check for check in one.checks if not check.practice]
    if not rated:
        return "-"
    if one.overloaded:
        return said("TOO MUCH") if any(check.state == "over" for check in one.overloaded) else said("TOO CLOSE")
    return said("not all known") if any(check.state == "unknown" for check in rated) else said("kept")


def _level(one: Outcome) -> str:
    return said(
        "{answer} ({chance})", answer=said("yes") if one.level else said("no"), chance=advice.chance(one.p_level)
    )


def _ranges(plan: Plan, console: Console) -> None:
    reach = plan.ranges
    if plan.target.has_band:
        inside = reach.inside.text if reach.inside else said("nothing, at this uncertainty")
        percent = 100.0 * plan.target.confidence
        console.print(say("Inside the band at {percent:.1f} %: {range}.", percent=percent, range=inside))
    nothing = said("nothing")
    console.print(say("Level: {range}.", range=reach.level.text if reach.level else nothing))
    if plan.target.has_band:
        console.print(say("Both: {range}.", range=reach.both.text if reach.both else nothing))


def _empty(plan: Plan, console: Console) -> None:
    if plan.empty is None:
        return
    outcomes = plan.empty.outcomes
    console.print()
    console.print(f"[bold]{say('The same with the trailer empty')}[/bold]")
    console.print(
        _table(
            [shown(one.called) for one in outcomes],
            [
                *_height_rows(outcomes),
                (said("ball load, kg"), [_pm(one.ball_load_kg, 0) for one in outcomes]),
                (said("ball load, % of the trailer"), [_share(one) for one in outcomes]),
            ],
        )
    )


def _articulation(plan: Plan, console: Console) -> None:
    if not plan.articulations:
        return
    table = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        title=say("What the way demands of the coupling"),
        title_justify="left",
    )
    table.add_column(say("place"))
    table.add_column(say("bend"))
    for name in (say("demand, deg"), say("maker's limit, deg"), say("margin, deg")):
        table.add_column(name, justify="right")
    for place in plan.articulations:
        for bend in place.bends:
            if bend.demand_deg < 0.05 and len(place.bends) > 1:
                continue
            limit = say("none given") if bend.limit_deg is None else number(bend.limit_deg, ".1f")
            margin = "-" if bend.margin_deg is None else number(bend.margin_deg, "+.1f")
            if bend.too_much:
                margin += " " + say("TOO MUCH")
            bent = shown(advice.BENDS[bend.direction])
            table.add_row(escape(place.name), bent, number(bend.demand_deg, ".1f"), limit, margin)
    console.print()
    console.print(table)
    source = plan.setup.articulation.limits_source
    told = (
        say("Limits: {source}.", source=source)
        if source
        else say("Ask the coupling's maker for its limits and type them in.")
    )
    console.print(escape(told))


def _parts(plan: Plan, console: Console) -> None:
    console.print()
    if sentence := advice.measure_next(plan):
        console.print(f"[bold]{say('Measure this next.')}[/bold] {escape(shown(sentence))}")
    for part in plan.sensitivities[:_MOST_PARTS]:
        if part.height_share < 0.005 and part.pitch_share < 0.005:
            continue
        told = say(
            "{name} ({source}): {mm:.1f} mm of the height, {deg:.2f} deg of the pitch",
            name=named(part.name),
            source=sourced(part.source),
            mm=part.height_u_mm,
            deg=part.pitch_u_deg,
        )
        console.print(f"  {escape(told)}")


def _list(console: Console, heading: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    console.print()
    console.print(f"[bold]{escape(heading)}[/bold]")
    for line in lines:
        console.print(f"- {escape(shown(line))}", soft_wrap=False)
