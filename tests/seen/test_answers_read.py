"""Boxes and numbers read from small pictures of the printed page, with what was ticked known; facts settled by hand.

Pictures are those of `tests/experiments/boxes_study.py`, which counts them by the thousand; here a few of each hold the line.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from calib.finding.ink import read_ink
from calib.finding.sheets import Finding, FoundSheet, find_sheets
from calib.kit.answers import QUESTIONS
from calib.kit.kit import kit
from calib.kit.number import modules_of
from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.facts import Fact, unsaid
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule
from photomeasure.seen.answers.answered import Answered, answered, second_bars_of
from photomeasure.seen.answers.number import PrintNumber, read_number
from photomeasure.seen.answers.read import Answer, read_answers
from photomeasure.seen.look import View
from photomeasure.verdict.remembered import of_remembered
from tests.experiments.boxes_pictures import CONDITIONS, Ticked, answers_of, draw_mark, printed, take

SHEET = kit("a4").upright
BY_NAME = {condition.name: condition for condition in CONDITIONS}


@cache
def picture(name: str, mark: str = "fill", pen_mm: float = 2.0, *, twice: bool = False, seed: int = 4) -> Ticked:
    rng = np.random.default_rng(seed)
    light, answers = printed("a4", 468_779), answers_of(SHEET, rng)
    if twice:
        answers["coupled"] = ("yes", "no")
    for box in SHEET.boxes:
        if mark and box.value in answers[box.question]:
            draw_mark(light, SHEET, box, mark, pen_mm, rng)
    grey = take(light, SHEET, BY_NAME[name], rng)
    return Ticked(grey=grey, answers=answers if mark else {}, pen_mm=pen_mm, mark=mark, number=468_779)


def upright(shown: Ticked) -> FoundSheet:
    found = find_sheets(shown.grey)
    assert isinstance(found, Finding)
    sheet = found.of_role("upright")
    assert sheet is not None
    return sheet


@pytest.mark.parametrize("name", ["1600 px, 1.5 m", "1600 px, 2.5 m", "12 MP, 1.5-2.5 m", "1600 px, 1.5-2.5 m, yaw 30"])
@pytest.mark.parametrize(("mark", "pen_mm"), [("fill", 2.0), ("cross", 1.0)])
def test_what_is_ticked_is_read(name: str, mark: str, pen_mm: float) -> None:
    shown = picture(name, mark, pen_mm)
    answers = read_answers(shown.grey, upright(shown))
    assert [answer.question for answer in answers] == list(QUESTIONS)
    read = {answer.question: answer.value for answer in answers if answer.value is not None}
    assert all((value,) == shown.answers[question] for question, value in read.items())
    assert len(read) >= 5  # nothing wrong, and hardly anything left open


def test_a_blank_sheet_answers_nothing() -> None:
    for name in BY_NAME:
        shown = picture(name, "")
        assert all(answer.value is None for answer in read_answers(shown.grey, upright(shown)))


def test_an_empty_box_on_burnt_out_paper_is_no_answer() -> None:
    """A thin stroke leaves nothing in such a file: that nothing is seen is told, and asked about."""
    shown = picture("1600 px, 1.5-2.5 m, sun", mark="")
    assert {answer.doubt for answer in read_answers(shown.grey, upright(shown))} == {"burnt"}
    filled = picture("1600 px, 1.5-2.5 m, sun")
    assert {a.question: a.value for a in read_answers(filled.grey, upright(filled))} == {
        question: value for question, (value,) in filled.answers.items()
    }
    thin = picture("1600 px, 1.5-2.5 m, sun", mark="tick", pen_mm=0.5)
    answers = read_answers(thin.grey, upright(thin))
    assert all(answer.value is None and answer.doubt in ("burnt", "unclear") for answer in answers)


def test_two_boxes_of_one_question_are_a_doubt() -> None:
    shown = picture("1600 px, 1.5 m", twice=True)
    (coupled,) = [answer for answer in read_answers(shown.grey, upright(shown)) if answer.question == "coupled"]
    assert coupled.value is None and coupled.doubt == "two" and set(coupled.between) == {"yes", "no"}


@pytest.mark.parametrize("name", [c.name for c in CONDITIONS if "sun" not in c.name])
def test_the_number_is_read(name: str) -> None:
    shown = picture(name)
    assert read_number(shown.grey, upright(shown)).number == shown.number


def test_a_number_that_is_damaged_is_refused_and_never_another() -> None:
    """One to six modules painted over, all over the strip: never a number that is not the print's."""
    rng = np.random.default_rng(11)
    assert SHEET.strip is not None
    for painted in (1, 2, 3, 4, 6) * 2:
        light = printed("a4", 468_779)
        for module in rng.choice(36, painted, replace=False):
            left, bottom, right, top = (8.0 * side for side in SHEET.strip.sides_mm(int(module)))
            rows = slice(round(8.0 * SHEET.height_mm - top), round(8.0 * SHEET.height_mm - bottom))
            light[rows, round(left) : round(right)] = rng.choice([0.06, 0.97])
        shown = replace(picture("1600 px, 1.5 m"), grey=take(light, SHEET, BY_NAME["1600 px, 1.5 m"], rng))
        assert read_number(shown.grey, upright(shown)).number in (None, 468_779)


def test_ink_is_what_is_printed() -> None:
    """The strip's own modules, black and white alternately enough: ink 0 and 1 within what a tone curve does."""
    shown = picture("12 MP, 1.5-2.5 m")
    assert SHEET.strip is not None
    sides = [SHEET.strip.sides_mm(module) for module in range(36)]
    ink = read_ink(shown.grey, upright(shown), sides, margin_mm=2.5).ink
    black = np.array(modules_of(468_779))
    assert np.abs(ink - black).max() < 0.2


def test_a_sheet_of_the_first_edition_has_no_boxes() -> None:
    first = kit("a4", 1).upright
    assert first.boxes == () and first.strip is None
    found = replace(upright(picture("1600 px, 1.5 m")), sheet=first)
    assert read_answers(picture("1600 px, 1.5 m").grey, found) == ()


# -- settled --------------------------------------------------------------------------------------------------------


class Seen:
    """A view as far as settling looks at it."""

    def __init__(self, number: int | None = None, **ticked: str) -> None:
        self.number, self.second_number, self.bars_mm = number, None, SHEET.bars_mm
        self.answers = tuple(
            Answer(question=question, value=ticked.get(question.replace("-", "_"))) for question in QUESTIONS
        )


def asked(**changes: object) -> Request:
    plain = Request(photos=(), rule=default_rule("ball-50"), unsaid=unsaid(None, None, None))
    return replace(plain, **changes)  # type: ignore[arg-type]


def outcome(request: Request, *views: Seen) -> Answered:
    found = answered(request, views)  # type: ignore[arg-type]
    assert isinstance(found, Answered)
    return found


def test_a_ticked_pin_takes_its_own_rule() -> None:
    found = outcome(asked(), Seen(ball="pin"))
    assert found.request.coupling == "pin" and found.request.rule == default_rule("pin")
    typed = outcome(asked(unsaid=unsaid("ball-50", None, None)), Seen(ball="pin"))
    assert typed.request.coupling == "ball-50" and "Typed" in typed.said[0]


def test_a_ticked_ball_has_its_diameter() -> None:
    assert outcome(asked(), Seen(ball="50.8")).request.ball_diameter_mm == 50.8
    kept = outcome(asked(ball_diameter_mm=47.55, unsaid=unsaid(None, 47.55, None)), Seen(ball="47.6"))
    assert kept.request.ball_diameter_mm == 47.55 and kept.said == ()


def test_photographs_that_show_different_ticks_are_asked_about() -> None:
    found = outcome(asked(), Seen(coupled="yes"), Seen(coupled="no"))
    assert found.request.state.coupled is None and "different boxes" in found.said[0]
    assert outcome(asked(), Seen(coupled="yes"), Seen()).request.state.coupled is True


def test_bars_of_a_second_sheet_are_those_that_are_ticked_on_it() -> None:
    """What is typed is of the first print; nothing ticked is told, for the second print's scale is then a guess."""
    none = Finding(sheets=(), codes=())
    view = View(photo=None, finding=none, camera=None, number=1, second_number=2)  # type: ignore[arg-type]
    told: list[str] = []
    open_bars, _ = second_bars_of(asked(bars=Bars(x_mm=179.0, y_mm=249.0)), [view], told)
    assert open_bars == Bars() and "000002" in told[0] and "same printer" in told[0]
    ticked = (Answer(question="bar-x", value="178.5"), Answer(question="bar-y", value="248.0"))
    bars, facts = second_bars_of(asked(), [replace(view, second_answers=ticked)], told)
    assert (bars.x_mm, bars.y_mm, bars.division_mm) == (178.5, 248.0, 0.5) and len(told) == 1
    assert [(fact.question, fact.source) for fact in facts] == [("second-bar-x", "ticked"), ("second-bar-y", "ticked")]


def test_different_prints_are_refused() -> None:
    found = answered(asked(), [Seen(number=1), Seen(number=2)])  # type: ignore[list-item]
    assert isinstance(found, Refusal) and found.code == "two-kits"


def test_nothing_said_is_assumed_and_named_so() -> None:
    found = outcome(asked(), Seen())
    assert {(fact.question, fact.value, fact.source) for fact in found.facts} == {
        ("level-ground", "yes", "assumed"),
        ("ball", "50", "assumed"),
    }


def test_typed_stands_above_ticked() -> None:
    request = asked(bars=Bars(x_mm=180.0), state=State(coupled=True))
    found = outcome(request, Seen(bar_x="178.5", bar_y="249.5", coupled="no"))
    assert found.request.bars == Bars(x_mm=180.0, y_mm=249.5) and found.request.state.coupled is True
    assert len(found.said) == 2
    assert {fact.question: fact.source for fact in found.facts}["bar-y"] == "ticked"


def test_boxes_that_cannot_be_read_are_told_where_nothing_else_answers() -> None:
    """Somebody who ticked them counts on it; a sheet that another photograph shows from nearer says all there is."""
    small = Seen()
    small.answers = tuple(Answer(question=question, value=None, doubt="small") for question in QUESTIONS)
    (told,) = outcome(asked(), small).said
    assert "too small" in told
    assert outcome(asked(), small, Seen()).said == ()
    burnt = Seen(coupled="yes")
    burnt.answers = tuple(replace(answer, doubt=None if answer.value else "burnt") for answer in burnt.answers)
    (told,) = outcome(asked(), burnt).said
    assert "burnt out" in told
    hidden = Seen()
    hidden.answers = tuple(
        Answer(question=question, value=None, doubt="hidden" if question == "bar-x" else None) for question in QUESTIONS
    )
    (told,) = outcome(asked(), hidden).said
    assert "what bar X reads" in told
    assert outcome(asked(bars=Bars(x_mm=180.0)), hidden).said == ()


def test_a_remembered_print_that_the_picture_contradicts_is_told() -> None:
    remembered = [Fact(question="bar-y", value="249.5", source="remembered")]
    (said,) = of_remembered(remembered, ["check bar y"], 468_779)
    assert "468779" in said and "kit remember" in said
    assert of_remembered(remembered, ["foot gap"], 468_779) == ()
    typed = [Fact(question="bar-y", value="249.5", source="typed")]
    assert of_remembered(typed, ["check bar y"], 468_779) == ()


@pytest.mark.parametrize(
    ("white", "black", "expected"),
    [
        (0.05, 0.95, PrintNumber(number=468_779)),
        (0.30, 0.51, PrintNumber(number=468_779)),
        (0.30, 0.48, PrintNumber(number=None, unreadable=True)),  # fainter than what blur and sun do to white paper
        (0.05, 0.19, PrintNumber(number=None)),  # hardly anything is printed: a sheet without a number
    ],
)
def test_a_strip_that_is_too_faint_is_not_read(
    white: float, black: float, expected: PrintNumber, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ink of a sound number, between two levels: read from a step of 0.2 on (`BLANK`), a judgement."""
    ink = np.where(modules_of(468_779), black, white)
    monkeypatch.setattr("photomeasure.seen.answers.number.read_ink", lambda *_, **__: SimpleNamespace(ink=ink))
    found = SimpleNamespace(sheet=SHEET)
    assert read_number(np.zeros((1, 1), np.uint8), found) == expected  # type: ignore[arg-type]
