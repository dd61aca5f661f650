"""What is ticked in the photographs of one sheet, in one word a question; and what is told where that cannot be said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from calib.kit.answers import Question
from calib.words.said import Digits, said, with_and, with_or
from photomeasure.asked.facts import Fact
from photomeasure.seen.answers.read import Answer

if TYPE_CHECKING:
    from photomeasure.seen.look import View

ASKED_WORDS: dict[str, str] = {
    "bar-x": said("what bar X reads"),
    "bar-y": said("what bar Y reads"),
    "coupled": said("whether the trailer is connected"),
    "laden": said("whether the trailer is loaded"),
    "level-ground": said("whether the ground is hard and flat"),
    "ball": said("the ball's size, or pin"),
}


def ticked_in(question: Question, views: Sequence[View], told: list[str]) -> str | None:
    """What is ticked in the photographs; where they differ, or nothing can be read although something is there, None."""
    answers = [answer for view in views for answer in view.answers if answer.question == question]
    values = list(dict.fromkeys(answer.value for answer in answers if answer.value is not None))
    if len(values) == 1:
        return values[0]
    words = ASKED_WORDS[question]
    if len(values) > 1:
        told.append(
            said(
                "The photographs show different boxes ticked for {words} ({values}): which one holds?",
                words=words,
                values=with_and([word(value) for value in values]),
            )
        )
        return None
    doubtful = next((answer for answer in answers if answer.doubt in ("two", "unclear")), None)
    if doubtful is not None:
        told.append(_asks(doubtful, words))
    return None


def _asks(answer: Answer, words: str) -> str:
    if answer.doubt == "two":
        return said(
            "Two boxes are ticked for {words} ({between}): neither is taken. Which one holds?",
            words=words,
            between=with_and([word(value) for value in answer.between]),
        )
    return said(
        "A box for {words} ({between}) holds something that is no clear mark: it is not taken. Is it ticked?",
        words=words,
        between=with_or([word(value) for value in answer.between]),
    )


def unread(questions: Sequence[Question], views: Sequence[View], known: Sequence[Fact]) -> list[str]:
    """That boxes cannot be read at all, of questions that nothing else answers: whoever ticked them would count on it."""
    answered = {fact.question for fact in known if fact.source != "assumed"}
    doubts = {
        question: {answer.doubt for view in views for answer in view.answers if answer.question == question}
        for question in questions
        if question not in answered
    }
    if {"small"} in doubts.values():
        return [
            said(
                "The boxes on the sheet are too small in the picture to be read: if any is ticked, photograph from nearer, or say "
                "what it says."
            )
        ]
    if {"burnt"} in doubts.values():
        return [
            said(
                "The sheet is burnt out in the picture, and a thin mark in one of its boxes would not show: if one is ticked that is "
                "not named here, fill the box and photograph in the shade, or say what it says."
            )
        ]
    hidden = [ASKED_WORDS[question] for question, why in doubts.items() if why and why <= {"hidden", "small"}]
    if not hidden:
        return []
    return [
        said(
            "The picture does not show all boxes for {words}: if one is ticked, photograph the whole sheet, or say what it says.",
            words=with_and(hidden),
        )
    ]


def word(value: str) -> str:
    """A box's value as it is told."""
    words = {"yes": said("yes"), "no": said("no"), "pin": said("pin")}
    return words.get(value, Digits(value))
