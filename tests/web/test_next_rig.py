"""The next rig begins with what is the same, and two windows do not get into each other's way."""

from __future__ import annotations

import html
import re

from starlette.testclient import TestClient

from photomeasure.web.answers import Answers
from photomeasure.web.cases import Cases
from tests.web.sending import AS_PHOTOGRAPHED, SAMPLES, here, photo, record, send, url
from tests.web.test_slips import field


def chosen(page: str, name: str) -> list[str]:
    return re.findall(rf'name="{name}" value="([\w-]*)" checked', page)


def test_bars_ground_and_coupling_are_as_last_time_and_nothing_else_is(client: TestClient) -> None:
    first = client.get(url()).text
    assert "as last time" not in first and 'value=""' in field(first, "bar_x")
    said = {**AS_PHOTOGRAPHED, "bar_y": "149,5", "laden": "yes", "coupled": "no", "rig": "Ferncombe 7", "tape": "402"}
    answer = send(
        client, photo("chat.jpg"), **{**said, "coupling": "other-ball", "ball_diameter": "50.8"}, mark="first"
    )
    assert answer.status_code == 200
    following = client.get(url()).text
    assert "as last time" in following and chosen(following, "coupling") == ["other-ball"]
    assert 'value="50.8"' in field(following, "ball_diameter") and chosen(following, "level_ground") == ["yes"]
    assert 'value="150"' in field(following, "bar_x") and 'value="149,5"' in field(following, "bar_y")
    assert chosen(following, "coupled") == chosen(following, "laden") == [""]
    assert 'value=""' in field(following, "rig") and 'value=""' in field(following, "tape")
    emptied = client.get(url("?afresh")).text
    assert "as last time" not in emptied and 'value=""' in field(emptied, "bar_x")
    assert client.get(url()).text == emptied


def test_what_is_remembered_is_only_sent_here_and_no_script_reads_it(client: TestClient) -> None:
    answer = client.post(url("measure"), files=[photo("chat.jpg")], data={"coupling": "pin", "mark": "first"},
                         follow_redirects=False)  # fmt: skip
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie and "Max-Age=43200" in cookie


def test_a_cookie_that_is_rubbish_fills_nothing_in(client: TestClient) -> None:
    for rubbish in ("coupling=cart", "bar_x=9999", "bar_x=" + "1" * 400, "%00%ff", "rule=evil&rig=x"):
        page = client.get(url(), headers={"cookie": f"photomeasure-last-time={rubbish}"})
        assert page.status_code == 200 and "as last time" not in page.text, rubbish


def test_other_answers_in_another_window_leave_the_first_result_as_it_is(client: TestClient, cases: Cases) -> None:
    first = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    client.post(here(first) + "tape", data={"tape": "402", "tape_class": "I"})
    before = record(client, first)
    form = client.get(here(first) + "answers").text
    assert 'value="402"' in field(form, "tape")  # goes with the other answers
    other = {**AS_PHOTOGRAPHED, "coupling": "ball-50", "bar_x": "149.5", "tape": "402", "tape_class": "I"}
    second = client.post(here(first) + "measure", data=other)
    assert here(second) != here(first) and record(client, first) == before
    told = record(client, second)
    assert told["asked"]["bar_x_mm"] == 149.5 and told["tape"]["tape_class"] == "I"
    assert here(client.post(here(first) + "measure", data=other)) == here(second)  # pressed twice
    client.post(here(first) + "tape", data={"tape": "401"})
    assert (
        record(client, first)["tape"]["reading_mm"] == 401.0 and record(client, second)["tape"]["reading_mm"] == 402.0
    )
    assert len(cases) == 2 and len(list(cases.root.iterdir())) == 1  # the photographs lie there once
    marking = client.get(here(second) + "mark")
    assert marking.status_code == 200 and "within.jpg" in html.unescape(marking.text)


def test_photographs_stay_as_long_as_a_result_of_them() -> None:
    cases = Cases(most=2)
    try:
        with (SAMPLES / "chat.jpg").open("rb") as stream:
            first, _ = cases.keep([("a.jpg", stream)], Answers())
        one, two, three = ((None, (), 1.0, name) for name in ("one", "two", "three"))
        first.doing = one
        second = cases.beside(first, two)
        assert second is not first and second.folder == first.folder
        third = cases.beside(second, three)
        assert third is second  # it has measured nothing yet
        second.doing = two
        last = cases.beside(second, three)
        assert cases.get(first.key) is None and last.uploads[0].path.is_file()
    finally:
        cases.close()
