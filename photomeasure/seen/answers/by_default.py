"""Answers from a person's file of defaults: meant for many rigs, so what this sheet shows, or its print remembers, goes before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Literal

from calib.kit.answers import Question
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.asked.facts import SAME_BAR_MM, Fact, Unsaid
from photomeasure.asked.prints import RememberedPrint
from photomeasure.asked.request import Request

_STATES: Mapping[Question, Literal["coupled", "laden", "level_ground"]] = {
    "coupled": "coupled",
    "laden": "laden",
    "level-ground": "level_ground",
}
_WORDS = {
    "coupled": said("the trailer connected"),
    "laden": said("the trailer loaded"),
    "level_ground": said("hard, flat ground"),
}
_YES_NO = {True: said("yes"), False: said("no")}
# the question of the table behind each fact
_BEHIND: Mapping[str, tuple[str, ...]] = {
    "bar-x": ("bar_x_mm",),
    "bar-y": ("bar_y_mm",),
    "coupled": ("coupled",),
    "laden": ("laden",),
    "level-ground": ("level_ground",),
    "ball": ("coupling", "ball_diameter_mm"),
}


def given_way(
    request: Request, ticked: Mapping[Question, str | None], print_: RememberedPrint | None, told: list[str]
) -> Request:
    """The request without those defaults that the sheet or its print answers; where they differ, it is told."""
    held = request.by_default
    bars = {
        axis: _bar(axis, value, ticked[question], remembered, told) if f"bar_{axis}_mm" in held else value
        for axis, value, question, remembered in _bars_of(request, print_)
    }
    state = request.state
    for question, field in _STATES.items():
        box, typed = ticked[question], getattr(state, field)
        if field in held and box is not None and typed is not None:
            if typed != (box == "yes"):
                told.append(_differ(_WORDS[field], _YES_NO[typed], _YES_NO[box == "yes"]))
            state = replace(state, **{field: None})
    unsaid: frozenset[Unsaid] = request.unsaid
    if ticked["ball"] is not None:
        unsaid |= {"coupling"} if "coupling" in held else frozenset()
        unsaid |= {"ball-diameter"} if "ball_diameter_mm" in held else frozenset()
    return replace(request, bars=Bars(x_mm=bars["x"], y_mm=bars["y"]), state=state, unsaid=unsaid)


def marked(facts: Iterable[Fact], request: Request) -> tuple[Fact, ...]:
    """The facts, those that a default answered said to be so."""
    return tuple(
        replace(fact, source="settings")
        if fact.source == "typed" and any(name in request.by_default for name in _BEHIND[fact.question])
        else fact
        for fact in facts
    )


def _bars_of(
    request: Request, print_: RememberedPrint | None
) -> tuple[tuple[str, float | None, Question, float | None], ...]:
    kept = Bars() if print_ is None else print_.bars
    return (("x", request.bars.x_mm, "bar-x", kept.x_mm), ("y", request.bars.y_mm, "bar-y", kept.y_mm))


def _bar(axis: str, value: float | None, box: str | None, remembered: float | None, told: list[str]) -> float | None:
    before = float(box) if box is not None else remembered
    if value is None or before is None:
        return value
    if abs(value - before) > SAME_BAR_MM:
        told.append(
            _differ(
                said("bar {axis}", axis=axis.upper()),
                said("{mm:g} mm", mm=value),
                said("{mm:g} mm", mm=before),
            )
        )
    return None


def _differ(what: str, default: str, taken: str) -> str:
    return said(
        "Your defaults have {default} for {what}; this sheet has {taken}, which is taken.",
        default=default,
        what=what,
        taken=taken,
    )
