"""Every question has a door everywhere, or a reason why not, and is one and the same question at each of them."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
import typer.main

from calib.outcome.errors import InputError
from photomeasure.asked.bars import Bars
from photomeasure.asked.case import Particulars
from photomeasure.asked.fields import CASE, NO_QUESTION, QUESTIONS, open_at
from photomeasure.asked.question import Door, Question
from photomeasure.asked.request import Request
from photomeasure.asked.requested import request_of
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.asked.stated import Stated
from photomeasure.batch.columns import COLUMNS, OF_A_PHOTO
from photomeasure.cli import app
from photomeasure.record.schema import AskedPart, CasePart
from photomeasure.web.answers import FIELDS, Answers, checked
from photomeasure.web.last_time import SAME_FOR_THE_NEXT
from photomeasure.web.render import Pages

DOORS: tuple[Door, ...] = get_args(Door)
NUMBERS = [question for question in QUESTIONS if question.limit is not None]
PARTS = {"bars": Bars, "state": State, "sag": Sag, "case": Particulars}


@cache  # the whole tree of commands is built for each
def command(name: str) -> Any:
    return typer.main.get_command(app).commands[name]  # type: ignore[attr-defined]


def options(name: str) -> set[str]:
    """Every option of a command that can be typed."""
    return {typed for one in command(name).params for typed in (*one.opts, *one.secondary_opts)}


def places() -> set[str]:
    """Every field of a request, those of its parts under the part's name."""
    found: set[str] = set()
    for one in fields(Request):
        part = PARTS.get(one.name)
        found |= {one.name} if part is None else {f"{one.name}.{inner.name}" for inner in fields(part)}
    return found


def test_every_field_of_a_request_is_asked_for_or_told_why_not() -> None:
    asked = {question.at for question in QUESTIONS if question.at}
    assert asked | NO_QUESTION.keys() == places() and not asked & NO_QUESTION.keys()
    assert {one.name for one in fields(Stated)} == {question.name for question in QUESTIONS} | {"more", "by_default"}


def test_no_part_of_a_request_is_missed_by_the_test_above() -> None:
    request = request_of(Stated(), ())
    assert {f.name for f in fields(Request) if is_dataclass(getattr(request, f.name))} == PARTS.keys()


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.name)
def test_every_question_has_its_doors_or_a_reason_why_not(question: Question) -> None:
    assert all(len(reason) > 10 for reason in question.closed.values())
    here: dict[Door, bool] = {
        "measure": {question.option, *filter(None, [question.opposite])} <= options("measure"),
        "batch": question.option in options("batch"),
        "list": question.name in COLUMNS,
        "page": question.page in FIELDS,
        "record": (question.kept or question.name) in (CasePart if question.panel == CASE else AskedPart).model_fields,
    }
    assert here == {door: question.open_at(door) for door in DOORS}
    assert bool(question.page) == bool(question.label) == question.open_at("page")


def test_no_door_asks_what_is_in_no_row() -> None:
    names = {question.name for question in QUESTIONS}
    assert COLUMNS.keys() - OF_A_PHOTO <= names
    assert set(FIELDS) == {question.page for question in open_at("page")}
    kept = {question.kept or question.name for question in open_at("record") if question.panel != CASE}
    # before_photos: of which photographs it was said; monte_carlo_seed: how it was worked out, nothing that was said of the rig
    assert AskedPart.model_fields.keys() - kept == {
        "centres_px",
        "remembered",
        "monte_carlo_seed",
        "case",
        "carried",
        "before_photos",
        "standing",
        "unsaid",
        "by_default",
    }
    assert CasePart.model_fields.keys() - {q.name for q in QUESTIONS if q.panel == CASE} == {"more"}


def test_the_page_shows_a_field_for_each() -> None:
    page = bytes(Pages("/t").start(Answers()).body).decode()
    assert [field for field in FIELDS if f'name="{field}"' not in page] == []
    # what one print, one place and one coupling have in common; what is of one rig is never among them
    assert set(SAME_FOR_THE_NEXT) == {"coupling", "ball_diameter", "level_ground", "bar_x", "bar_y"}
    assert not [question.name for question in QUESTIONS if question.next_rig and question.of_one_rig]


def refused(door: str, question: Question, text: str) -> bool:
    """Whether that door refuses what was typed."""
    if door == "list":
        try:
            COLUMNS[question.name].parse(text)
        except ValueError:
            return True
        return False
    if door == "page":
        other = {"coupling": "other-ball"} if question.page == "ball_diameter" else {}
        return question.page in checked(Answers(**{question.page: text}, **other))[1]
    try:
        rest = ["rig.jpg"] if door == "measure" else ["yard", "--out", "records"]
        command(door).make_context(door, [*rest, f"{question.option}={text}"])
    except InputError:
        return True
    return False


@pytest.mark.parametrize("question", NUMBERS, ids=lambda question: question.name)
def test_a_number_has_the_same_limits_at_every_door(question: Question) -> None:
    assert question.limit is not None
    low, high = question.limit.low, question.limit.high
    for door in DOORS[:-1]:
        if not question.open_at(door):
            continue
        for inside in (f"{low:.10g}", f"{high:.10g}", f"{(low + high) / 2:.10g}".replace(".", ",")):
            pair = (
                question.name in ("stand_mass_kg", "stand_drop_mm") and door == "page"
            )  # one of two halves is missing
            assert pair or not refused(door, question, inside), (door, inside)
        for outside in (f"{low - 0.01:.10g}", f"{high + 0.01:.10g}", "ten", f"{high} furlongs"):
            assert refused(door, question, outside), (door, outside)


def test_one_set_of_answers_makes_one_request_whatever_the_door(tmp_path: Path) -> None:
    """What the list reads and what the page checks come to the same as the options' own values."""
    typed = {
        "coupled": "yes", "laden": "no", "level_ground": "yes", "level_control": "no", "level_within_mm_per_m": "5",
        "ball_load_kg": "120", "stand_mass_kg": "92", "stand_drop_mm": "10", "load_drop_mm": "25", "bar_x_mm": "149,5",
        "bar_y_mm": "5 7/8 in", "rule": "dk", "case": "26-117", "by": "M. Hale", "place": "Ferncombe", "note": "wet",
        "tag_by_gauge": "yes",
    }  # fmt: skip
    listed = Stated(**{name: COLUMNS[name].parse(text) for name, text in typed.items()})
    pages = {question.name: question.page for question in QUESTIONS}
    asked, wrong = checked(Answers(**{pages[name]: text for name, text in typed.items()}))
    assert asked is not None and not wrong
    by_page = asked.request((), ())
    assert request_of(listed, (), profile_folder=by_page.profile_folder) == by_page
