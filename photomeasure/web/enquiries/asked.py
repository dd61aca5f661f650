"""A customer's answers, one question a screen, and what they make of the page's own answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calib.outcome.errors import InputError
from photomeasure.web.answers import Answers, checked
from photomeasure.web.enquiries.enquiry import Enquiry


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """choices: value and words, a button each; none where something is typed."""

    name: str
    title: str
    help: str
    choices: tuple[tuple[str, str], ...] = ()


UNKNOWN = "unknown"
QUESTIONS: Mapping[str, Question] = {
    question.name: question
    for question in (
        Question(
            name="coupled",
            title="Will the trailer be hitched in the photographs?",
            help="Not hitched is best: then the ball can be seen.",
            choices=(("no", "No, the ball is bare"), ("yes", "Yes, it is hitched"), (UNKNOWN, "I do not know")),
        ),
        Question(
            name="laden",
            title="Is it loaded as it will be on the road?",
            help="Load pushes the coupling down.",
            choices=(("yes", "Yes, loaded"), ("no", "No, empty or nearly"), (UNKNOWN, "I do not know")),
        ),
        Question(
            name="level_ground",
            title="Is the ground hard and flat there?",
            help="Concrete, asphalt or paving, as flat as a floor, from the sheet to the wheels.",
            choices=(("yes", "Yes, hard and flat"), (UNKNOWN, "Not sure")),
        ),
        Question(
            name="bars",
            title="How long did the two bars come out?",
            help="Printers shrink. Lay a ruler on bar X and on bar Y of the printed sheet; it says beside them how long they should be.",
        ),
    )
}
MOVED = Question(
    name="moved",
    title="Has anything been moved since your last photographs?",
    help="The vehicle, the trailer, the load or the printed sheet.",
    choices=(("no", "No, all stands as it was"), ("yes", "Yes, or I am not sure")),
)


def answer_from(question: Question, typed: Mapping[str, object]) -> tuple[dict[str, str], dict[str, InputError]]:
    """What is to be kept of a form, and what is wrong by field."""
    if question.choices:
        value = typed.get("value")
        if value not in {choice for choice, _ in question.choices}:
            return {}, {"value": InputError("Nothing was chosen.", expected="one of the buttons", remedy="tap on one")}
        return {question.name: str(value)}, {}
    if "none" in typed:
        return {"bars": "none", "bar_x": "", "bar_y": ""}, {}
    said: dict[str, str] = {"bars": "measured"}
    wrong: dict[str, InputError] = {}
    for field in ("bar_x", "bar_y"):
        text = typed.get(field)
        said[field] = text.strip()[:12] if isinstance(text, str) else ""
    faults = checked(Answers(bar_x=said["bar_x"], bar_y=said["bar_y"]))[1]
    wrong.update({field: fault for field, fault in faults.items() if field in said})
    if not wrong and not (said["bar_x"] or said["bar_y"]):
        wrong["bar_x"] = InputError(
            "Nothing was typed.",
            expected="what the ruler says, in mm",
            remedy="measure the bars, or say that there is no ruler",
        )
    return said, wrong


def answers_of(enquiry: Enquiry) -> Answers:
    """The same as the dealer's own form would have it."""

    def said(name: str) -> str:
        value = enquiry.answers.get(name, "")
        return "" if value == UNKNOWN else value

    about = enquiry.about
    return Answers(
        coupling=about.coupling,
        ball_diameter=about.ball_diameter,
        rule=about.rule,
        coupled=said("coupled"),
        laden=said("laden"),
        level_ground=said("level_ground"),
        bar_x=said("bar_x"),
        bar_y=said("bar_y"),
        rig=about.rig,
        by=about.customer,
    )
