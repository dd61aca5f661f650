"""A customer's answers, one question a screen, and what they make of the page's own answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.web.answers import Answers, checked
from photomeasure.web.enquiries.enquiry import Enquiry


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerQuestion:
    """choices: value and words, a button each; none where something is typed."""

    name: str
    title: str
    help: str
    choices: tuple[tuple[str, str], ...] = ()


UNKNOWN = "unknown"
QUESTIONS: Mapping[str, CustomerQuestion] = {
    question.name: question
    for question in (
        CustomerQuestion(
            name="coupled",
            title=said("Will the trailer be hitched in the photographs?"),
            help=said("Not hitched is best: then the ball can be seen."),
            choices=(
                ("no", said("No, the ball is bare")),
                ("yes", said("Yes, it is hitched")),
                (UNKNOWN, said("I do not know")),
            ),
        ),
        CustomerQuestion(
            name="laden",
            title=said("Is it loaded as it will be on the road?"),
            help=said("Load pushes the coupling down."),
            choices=(
                ("yes", said("Yes, loaded")),
                ("no", said("No, empty or nearly")),
                (UNKNOWN, said("I do not know")),
            ),
        ),
        CustomerQuestion(
            name="level_ground",
            title=said("Is the ground hard and flat there?"),
            help=said("Concrete, asphalt or paving, as flat as a floor, from the sheet to the wheels."),
            choices=(("yes", said("Yes, hard and flat")), (UNKNOWN, said("Not sure"))),
        ),
        CustomerQuestion(
            name="bars",
            title=said("How long did the two bars come out?"),
            help=said(
                "Printers shrink. Lay a ruler on bar X and on bar Y of the printed sheet; it says beside them how long they should be."
            ),
        ),
    )
}
STATE = (
    "coupled",
    "laden",
    "level_ground",
)  # what may be otherwise after something was moved; the print stays what it is
MOVED = CustomerQuestion(
    name="moved",
    title=said("Has anything been moved since your last photographs?"),
    help=said("The vehicle, the trailer, the load or the printed sheet."),
    choices=(("no", said("No, all stands as it was")), ("yes", said("Yes, or I am not sure"))),
)


def answer_from(
    question: CustomerQuestion, typed: Mapping[str, object]
) -> tuple[dict[str, str], dict[str, InputError]]:
    """What is to be kept of a form, and what is wrong by field."""
    if question.choices:
        value = typed.get("value")
        if value not in {choice for choice, _ in question.choices}:
            return {}, {
                "value": InputError(
                    said("Nothing was chosen."), expected=said("one of the buttons"), remedy=said("tap on one")
                )
            }
        return {question.name: str(value)}, {}
    if "none" in typed:
        return {"bars": "none", "bar_x": "", "bar_y": ""}, {}
    typed_of: dict[str, str] = {"bars": "measured"}
    wrong: dict[str, InputError] = {}
    for field in ("bar_x", "bar_y"):
        text = typed.get(field)
        typed_of[field] = text.strip()[:12] if isinstance(text, str) else ""
    faults = checked(Answers(bar_x=typed_of["bar_x"], bar_y=typed_of["bar_y"]))[1]
    wrong.update({field: fault for field, fault in faults.items() if field in typed_of})
    if not wrong and not (typed_of["bar_x"] or typed_of["bar_y"]):
        wrong["bar_x"] = InputError(
            said("Nothing was typed."),
            expected=said("what the ruler says, in mm"),
            remedy=said("measure the bars, or say that there is no ruler"),
        )
    return typed_of, wrong


def in_words(enquiry: Enquiry) -> tuple[tuple[CustomerQuestion, str], ...]:
    """What was answered, in the words of the buttons and as it was typed."""
    return tuple(
        (question, _words(enquiry, question)) for name, question in QUESTIONS.items() if name in enquiry.answers
    )


def _words(enquiry: Enquiry, question: CustomerQuestion) -> str:
    value = enquiry.answers[question.name]
    if question.choices:
        return next((words for choice, words in question.choices if choice == value), "")
    bars = [f"{axis.upper()} {text} mm" for axis in "xy" if (text := enquiry.answers.get(f"bar_{axis}", ""))]
    return ", ".join(bars) or said("No ruler")


def answers_of(enquiry: Enquiry) -> Answers:
    """The same as the dealer's own form would have it."""

    def told(name: str) -> str:
        value = enquiry.answers.get(name, "")
        return "" if value == UNKNOWN else value

    about = enquiry.about
    return Answers(
        coupling=about.coupling,
        ball_diameter=about.ball_diameter,
        rule=about.rule,
        coupled=told("coupled"),
        laden=told("laden"),
        level_ground=told("level_ground"),
        bar_x=told("bar_x"),
        bar_y=told("bar_y"),
        rig=about.rig,
        by=about.customer,
    )
