"""Answers as people type them, and what a mistake in one says; photographs are not sent twice for it."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from calib.outcome.errors import InputError
from photomeasure.asked.bars import Bars
from photomeasure.asked.fields import BY_NAME
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.rules.load import available_rules, load_rule
from photomeasure.web.answers import Answers, centres_from, checked, pick_u_from
from tests.web.sending import here, photo, record, send, url


def test_nothing_said_is_what_the_command_line_assumes() -> None:
    asked, wrong = checked(Answers())
    assert asked is not None and not wrong
    request = asked.request((), ())
    assert request.state == State() and request.bars == Bars() and request.ball_diameter_mm == 50.0
    assert request.rule == load_rule("au-ball-50") and request.coupling == "ball-50"


def test_everything_said() -> None:
    typed = Answers(
        coupling="other-ball", ball_diameter="47,55 mm", rule="dk", coupled="yes", laden="no", level_ground="yes",
        level_control="yes", level_within="2,5 mm/m",
        ball_load="200 kg", stand_mass="92", stand_drop="10,5", load_drop="28 mm", bar_x="149.5", bar_y=" 150,5 ", tape="412",
    )  # fmt: skip
    asked, _ = checked(typed)
    assert asked is not None and asked.tape == TapeSaid(reading_mm=412.0)
    request = asked.request((), ())
    assert (request.ball_diameter_mm, request.bars) == (47.55, Bars(x_mm=149.5, y_mm=150.5))
    assert (
        request.state == State(coupled=True, laden=False, level_ground=True, level_control=True)
        and request.rule.name == "dk"
    )
    assert request.level_within_mm_per_m == 2.5
    assert request.sag == Sag(ball_load_kg=200.0, stand_mass_kg=92.0, stand_drop_mm=10.5, load_drop_mm=28.0)
    assert set(checked(Answers(stand_mass="92"))[1]) == {"stand_drop"}
    assert checked(Answers(level_ground="no"))[0].request((), ()).state.level_ground is False  # type: ignore[union-attr]
    assert checked(Answers(coupling="pin"))[0].request((), ()).rule.name == "au-pin"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("bar_x", "15"),
        ("bar_y", "a"),
        ("tape", "nan"),
        ("level_within", "500"),
        ("level_within", "-1"),
        ("level_within", "flat"),
        ("tape_class", "IV"),
        ("rule", "/etc/passwd"),
        ("coupled", "perhaps"),
        ("coupling", "hook"),
    ],
)
def test_a_mistake_is_told_by_its_field(field: str, typed: str) -> None:
    asked, wrong = checked(Answers(**{field: typed}))
    assert asked is None and set(wrong) == {field} and wrong[field].expected and wrong[field].remedy


def test_a_level_that_was_read_contradicts_ground_that_is_not_known() -> None:
    wrong = checked(Answers(level_ground="no", level_within="5"))[1]
    assert set(wrong) == {"level_within"} and "contradict" in wrong["level_within"].what
    for ground in ("", "yes"):
        assert checked(Answers(level_ground=ground, level_within="5"))[0] is not None


def test_the_other_ball_needs_its_diameter() -> None:
    assert set(checked(Answers(coupling="other-ball"))[1]) == {"ball_diameter"}
    assert checked(Answers(coupling="ball-50", ball_diameter="9"))[0] is not None  # not asked for, not looked at


def test_a_mistake_keeps_photographs_and_answers(client: TestClient) -> None:
    shown = send(client, photo("chat.jpg"), bar_x="15", bar_y="150", coupled="yes")
    assert shown.status_code == 400 and "Check bar X is 15 mm" in shown.text and "135 to 310 mm" in shown.text
    assert 'value="15"' in shown.text and 'aria-invalid="true"' in shown.text and "chat.jpg" in shown.text
    action = shown.text.split('id="start"')[1].split('action="')[1].split('"')[0]
    right = client.post(action, data={"coupling": "ball-50", "bar_x": "150", "bar_y": "150", "coupled": "yes"})
    assert right.status_code == 200 and record(client, right)["asked"]["bar_x_mm"] == 150.0


def test_marks() -> None:
    assert centres_from({}, 2) == ((), {}) and centres_from({"x1": "", "y1": " "}, 1) == ((), {})
    assert centres_from({"x2": "1,5", "y2": "-0.5", "x9": "7"}, 2) == ((None, (1.5, -0.5)), {})
    for slip in ({"x1": "3"}, {"x1": "a", "y1": "2"}, {"x1": "inf", "y1": "2"}):
        centres, wrong = centres_from({**slip, "x2": "1", "y2": "2"}, 2)
        assert centres == (None, (1.0, 2.0)) and list(wrong) == [1] and "photograph 1" in wrong[1].what


@pytest.mark.parametrize(
    ("typed", "u_px"),
    [(("", ""), 0.5), (("1.25", ""), 1.25), (("0.62", "3.4"), 3.4), (("wide", "-2"), 0.5), (("1e9", "nan"), 0.5)],
)
def test_the_least_sure_mark_tells_how_sure_they_are(typed: tuple[str, str], u_px: float) -> None:
    assert pick_u_from({f"u{number}": text for number, text in enumerate(typed, start=1)}, 2) == u_px


def test_a_mark_outside_the_picture_is_refused_with_the_way_back(client: TestClient) -> None:
    shown = send(client, photo("chat.jpg"), mark="first")
    outside = client.post(here(shown) + "measure", data={"marks": "these", "x1": "5000", "y1": "1"})
    assert "outside chat.jpg" in outside.text and "Mark it in the photograph" in outside.text
    assert client.post(here(shown) + "measure", data={"marks": "these", "x1": "5"}).status_code == 400


def test_numbers() -> None:
    bar = BY_NAME["bar_x_mm"]
    assert bar.typed(" 150,25 mm ", "page") == 150.25 and bar.typed("", "page") is None
    with pytest.raises(InputError, match="Check bar X: '1e' is no number"):
        bar.typed("1e", "page")


def test_every_rule_is_offered_with_what_it_rests_on(client: TestClient) -> None:
    page = client.get(url()).text
    for name in available_rules():
        rule = load_rule(name)
        assert f'<option value="{name}"' in page and rule.edition in page and rule.confidence in page
