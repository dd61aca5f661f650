"""From what was typed, ticked and remembered to one request: typed stands above ticked, ticked above remembered.

What contradicts each other is told, what cannot be read is asked about; neither is ever guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from calib.kit.answers import QUESTIONS, Question
from calib.outcome.refusal import Refusal
from calib.words.said import Digits, said
from photomeasure.asked.bars import Bars
from photomeasure.asked.facts import SAME_BAR_MM, Fact, bar_value
from photomeasure.asked.limits import check_length
from photomeasure.asked.prints import RememberedPrint, remembered_print
from photomeasure.asked.request import Request
from photomeasure.rules.load import default_rule
from photomeasure.seen.answers.by_default import given_way, marked
from photomeasure.seen.answers.ticked import ASKED_WORDS, ticked_in, unread, word
from photomeasure.seen.two_sheets import one_printer

if TYPE_CHECKING:
    from photomeasure.seen.look import View

BOX_DIVISION_MM = 0.5  # a whole millimetre that is ticked was chosen among halves
SAME_BALL_MM = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """request: as it is measured; facts: with their sources; said: sentences on what contradicts or cannot be read.

    second_bars: of a second upright sheet in the pictures.
    """

    request: Request
    facts: tuple[Fact, ...]
    said: tuple[str, ...]
    second_bars: Bars = Bars()


def answered(request: Request, views: Sequence[View]) -> Answered | Refusal:
    """The request with what the sheet says; refused for photographs of different prints.

    Raises InputError for a typed bar that cannot be this sheet's.
    """
    numbers = sorted({view.number for view in views if view.number is not None})
    if len(numbers) > 1:
        return Refusal(
            code="two-kits",
            reason=said(
                "The photographs show different prints of the sheet: {numbers}.",
                numbers=", ".join(f"{n:06d}" for n in numbers),
            ),
            remedy=said("Measure photographs of one rig with one print at a time."),
        )
    print_ = remembered_print(request.profile_folder, numbers[0] if numbers else None)
    told: list[str] = []
    ticked = {question: ticked_in(question, views, told) for question in QUESTIONS}
    drawn = next((v.bars_mm for v in views if v.bars_mm is not None), None)
    request = given_way(request, ticked, print_, told)
    bars, facts = _bars(request.bars, ticked, print_, drawn, told)
    state, more = request.state, []
    for question, field in (("coupled", "coupled"), ("laden", "laden"), ("level-ground", "level_ground")):
        value, fact = _truth(question, getattr(state, field), ticked[question], told)  # type: ignore[index]
        levelled = field == "level_ground" and (request.level_within_mm_per_m is not None or request.bay is not None)
        if levelled and getattr(state, field) is None:
            continue
        state = replace(state, **{field: value})
        if fact is not None:
            more.append(fact)
        elif field == "level_ground":
            more.append(Fact(question=question, value="yes", source="assumed"))
    second, of_second = second_bars_of(request, views, told)
    more += of_second
    request = replace(request, bars=bars, state=state)
    request, ball = _ball(request, ticked["ball"], told)
    known = marked((*facts, *more, ball), request)
    told.extend(unread([question for question in QUESTIONS if ticked[question] is None], views, known))
    return Answered(request=request, facts=known, said=tuple(told), second_bars=second)


def second_bars_of(request: Request, views: Sequence[View], told: list[str]) -> tuple[Bars, list[Fact]]:
    """Bars of a second upright sheet: ticked on it, or remembered of its print; what is typed is of the first print."""
    seconds = [replace(view, answers=view.second_answers) for view in views if view.second_number is not None]
    if not seconds:
        return Bars(), []
    print_ = remembered_print(request.profile_folder, seconds[0].second_number)
    ticked = {question: ticked_in(question, seconds, told) for question in ("bar-x", "bar-y")}
    drawn = next((view.bars_mm for view in seconds if view.bars_mm is not None), None)
    bars, facts = _bars(Bars(), ticked, print_, drawn, told)  # type: ignore[arg-type]
    if bars.x_mm is None or bars.y_mm is None:
        told.append(one_printer(seconds[0].number or 0, seconds[0].second_number or 0))
    return bars, [replace(fact, question=f"second-{fact.question}") for fact in facts]


def _bars(
    typed: Bars,
    ticked: dict[Question, str | None],
    print_: RememberedPrint | None,
    drawn_mm: tuple[float, float] | None,
    told: list[str],
) -> tuple[Bars, list[Fact]]:
    kept = Bars() if print_ is None else print_.bars
    found: list[float | None] = []
    u_mm: list[float | None] = []
    facts = []
    for axis, by_hand, box, remembered, by_card, drawn in zip(
        "xy",
        (typed.x_mm, typed.y_mm),
        (ticked["bar-x"], ticked["bar-y"]),
        (kept.x_mm, kept.y_mm),
        (kept.x_u_mm, kept.y_u_mm),
        drawn_mm or (None, None),
        strict=True,
    ):
        name = said("bar {axis}", axis=axis.upper())
        if by_hand is not None and drawn is not None:
            check_length(name, by_hand, drawn)
        on_sheet = None if box is None else float(box)
        value, source = (by_hand, "typed") if by_hand is not None else (on_sheet, "ticked")
        if by_hand is not None and on_sheet is not None and abs(by_hand - on_sheet) > SAME_BAR_MM:
            told.append(
                said(
                    "Typed for {name}: {by_hand:g} mm; ticked on the sheet: {box} mm. What was typed is taken.",
                    name=name,
                    by_hand=by_hand,
                    box=Digits(box),
                )
            )
        if remembered is not None and print_ is not None:
            if value is None:
                value, source = remembered, "remembered"
            elif abs(value - remembered) > SAME_BAR_MM:
                told.append(
                    said(
                        "For print {number:06d} {remembered:g} mm are remembered for {name}; {source} now: {value:g} mm. "
                        "What is {source} is taken: measure the bar again, and remember it anew if it changed.",
                        number=print_.number,
                        remembered=remembered,
                        name=name,
                        source=said("typed") if source == "typed" else said("ticked"),
                        value=value,
                    )
                )
        found.append(value)
        u_mm.append(by_card if source == "remembered" else None)
        if value is not None:
            facts.append(Fact(question=f"bar-{axis}", value=bar_value(value), source=source))  # type: ignore[arg-type]
    ticked_only = bool(facts) and all(fact.source == "ticked" for fact in facts)
    division_mm = BOX_DIVISION_MM if ticked_only else None
    bars = Bars(
        x_mm=found[0],
        y_mm=found[1],
        x_u_mm=u_mm[0],
        y_u_mm=u_mm[1],
        correlation=kept.correlation,
        division_mm=division_mm,
    )
    return bars, facts


def _truth(question: str, typed: bool | None, ticked: str | None, told: list[str]) -> tuple[bool | None, Fact | None]:
    on_sheet = None if ticked is None else ticked == "yes"
    if typed is not None:
        if on_sheet is not None and on_sheet != typed:
            told.append(
                said(
                    "Typed for {what}: {yes}; ticked on the sheet: {ticked}. What was typed is taken.",
                    what=ASKED_WORDS[question],
                    yes=word(_yes(typed)),
                    ticked=word(ticked or ""),
                )
            )
        return typed, Fact(question=question, value=_yes(typed), source="typed")
    return on_sheet, None if ticked is None else Fact(question=question, value=ticked, source="ticked")


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _ball(request: Request, ticked: str | None, told: list[str]) -> tuple[Request, Fact]:
    """Coupling, ball's diameter and, where nobody named one, the coupling's own rule."""
    coupling_open, diameter_open = "coupling" in request.unsaid, "ball-diameter" in request.unsaid
    kind = None if ticked is None else "pin" if ticked == "pin" else "ball-50"
    coupling = kind if coupling_open and diameter_open and kind is not None else request.coupling
    diameter = request.ball_diameter_mm
    by_box = ticked is not None and kind == coupling
    if ticked is not None and kind != coupling:
        was = said("pin") if request.coupling == "pin" else said("a ball")
        told.append(
            said(
                "Typed for {what}: {was}; ticked on the sheet: {ticked}. What was typed is taken.",
                what=ASKED_WORDS["ball"],
                was=was,
                ticked=word(ticked),
            )
        )
    elif ticked is not None and kind == "ball-50":
        if diameter_open:
            diameter = float(ticked)
        elif abs(diameter - float(ticked)) > SAME_BALL_MM:
            told.append(
                said(
                    "Typed for the ball: {diameter:g} mm; ticked on the sheet: {ticked} mm. What was typed is taken.",
                    diameter=diameter,
                    ticked=word(ticked),
                )
            )
    typed = not diameter_open or (coupling == "pin" and not coupling_open)
    source = "typed" if typed else "ticked" if by_box else "assumed" if coupling_open else "typed"
    value = "pin" if coupling == "pin" else f"{diameter:g}"
    rule = default_rule(coupling) if "rule" in request.unsaid and coupling != request.coupling else request.rule
    settled_request = replace(request, coupling=coupling, ball_diameter_mm=diameter, rule=rule)
    return settled_request, Fact(question="ball", value=value, source=source)  # type: ignore[arg-type]
