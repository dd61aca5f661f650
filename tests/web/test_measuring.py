"""The page measures what the command line measures, to the last digit, and shows and keeps it."""

from __future__ import annotations

import asyncio
import html
import io
import json
import re
import threading
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pytest
from httpx2 import ASGITransport, AsyncClient, Response
from PIL import Image
from starlette.testclient import TestClient
from typer.testing import CliRunner

from photomeasure.cli import app
from photomeasure.record.tape import compare, read_tape
from photomeasure.seen.look import Refused
from photomeasure.web import bench, measuring
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.problems import PageError
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, SAMPLES, TOKEN, here, photo, record, send, url

SAID = ["--uncoupled", "--unladen", "--level-ground", "--bar-x", "150", "--bar-y", "150"]
OF_THE_RUN = ("computed", "photos", "software")  # when, where the files lie, what computed it


def by_command(place: Path, *arguments: str) -> dict[str, Any]:
    target = place / "record.json"
    assert CliRunner().invoke(app, ["measure", *arguments, "--json", str(target)]).exit_code == 0
    read: dict[str, Any] = json.loads(target.read_text())
    return read


def same(page: dict[str, Any], command: dict[str, Any]) -> bool:
    return {k: v for k, v in page.items() if k not in OF_THE_RUN} == {
        k: v for k, v in command.items() if k not in OF_THE_RUN
    }


@pytest.fixture(scope="module")
def within() -> Iterator[tuple[TestClient, Response]]:
    """One measured rig, for tests that only look at it."""
    with TestClient(page_app(TOKEN, [HOST]), base_url=BASE) as opened:
        yield opened, send(opened, photo("within.jpg"), **AS_PHOTOGRAPHED)


def test_the_same_record_as_on_the_command_line(within: tuple[TestClient, Response], tmp_path: Path) -> None:
    client, shown = within
    page, command = record(client, shown), by_command(tmp_path, str(SAMPLES / "within.jpg"), *SAID)
    assert page["height_mm"] == command["height_mm"] and same(page, command)
    assert page["photos"][0]["file"] == "within.jpg"  # the person's own name, not ours
    assert page["photos"][0]["sha256"] == command["photos"][0]["sha256"]
    text = html.unescape(shown.text)
    for said in (
        "Within the band",
        "indicative only",
        f"{command['height_mm']:.1f} mm",
        *command["advice"],
        *command["confirm"],
    ):
        assert said in text


def test_marks_of_several_photographs_are_one_measurement(client: TestClient, tmp_path: Path) -> None:
    """Marked where the truth files say; set-2 is stored turned, and marked as it is seen."""
    truth = tomllib.loads((SAMPLES / "set.toml").read_text(encoding="utf-8"))
    names, seen = truth["files"][:2], truth["centre_px"][:2]
    marking = send(client, *map(photo, names), **AS_PHOTOGRAPHED, mark="first")
    assert marking.url.path.endswith("/mark") and 'data-width="3000" data-height="4000"' in marking.text
    marks = {
        f"{axis}{i}": str(value) for i, centre in enumerate(seen, 1) for axis, value in zip("xy", centre, strict=True)
    }
    shown = client.post(here(marking) + "measure", data={"marks": "these", **marks})
    centres = [part for x, y in seen for part in ("--centre", f"{x},{y}")]
    files = [str(SAMPLES / name) for name in names]
    page = record(client, shown)
    assert same(page, by_command(tmp_path, *files, *SAID, *centres))
    assert abs(page["height_mm"] - truth["height_mm"]) <= page["U_mm"]


def test_other_answers_for_the_same_photographs(client: TestClient, tmp_path: Path) -> None:
    """Bars forgotten at first: the interval says so, and the page too; typed in afterwards, a level's reading with them,
    with the mark kept."""
    answers = {**AS_PHOTOGRAPHED, "bar_x": "", "bar_y": "", "coupling": "ball-50"}
    first = send(client, photo("chat.jpg"), **answers, mark="first")
    marked = client.post(here(first) + "measure", data={"marks": "these", "x1": "820,26", "y1": "596.006"})
    assert "Measure both check bars on the printed sheet with a ruler" in marked.text
    unknown = record(client, marked)
    corrected = {"coupling": "ball-50", "bar_x": "150,0 mm", "level_within": "5"}
    again = client.post(here(first) + "measure", data={**AS_PHOTOGRAPHED, **corrected})
    known = record(client, again)
    assert known["centre"]["px"] == unknown["centre"]["px"] == [[820.26, 596.006]]
    assert known["U_mm"] < 0.5 * unknown["U_mm"]
    said = (*SAID, "--level-within", "5", "--centre", "820.26,596.006")
    assert same(known, by_command(tmp_path, str(SAMPLES / "chat.jpg"), *said))
    assert known["state"]["level_within_mm_per_m"] == 5.0 and "a level read: within 5 mm per metre" in again.text


def test_a_tapes_reading_is_compared_and_kept(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    before = record(client, shown)
    taped = client.post(here(shown) + "tape", data={"tape": "430"})
    kept = record(client, taped)
    expected = compare(before["height_mm"], before["U_mm"], read_tape(430.0))
    assert kept["tape"]["En"] == expected.En and kept["tape"]["agrees"] is False
    assert expected.sentence in html.unescape(taped.text) and "Photograph and tape disagree" in taped.text
    assert kept["verdict"] == before["verdict"] == "within" and kept["indicative"] and kept["adjustment"] is None
    agreeing = record(client, client.post(here(shown) + "tape", data={"tape": "402"}))
    of_the_tape = {"tape": None, "said": None, "digests": None}
    assert agreeing | of_the_tape == before | of_the_tape  # all that was withdrawn is there again
    client.post(here(shown) + "tape", data={"tape": "430"})
    finer = record(client, client.post(here(shown) + "tape", data={"tape": "430", "tape_class": "I"}))
    assert finer["tape"]["u_mm"] == read_tape(430.0, tape_class="I").u_mm and finer["tape"]["tape_class"] == "I"
    assert client.post(here(shown) + "tape", data={"tape": "430", "tape_class": "IV"}).status_code == 400
    wrong = client.post(here(shown) + "tape", data={"tape": "4"})
    assert wrong.status_code == 400 and "100 to 1500 mm" in wrong.text
    assert record(client, shown)["tape"]["reading_mm"] == 430.0


def test_what_can_be_taken_away(within: tuple[TestClient, Response]) -> None:
    client, shown = within
    report = client.get(here(shown) + "report.pdf")
    assert 'filename="within-report.pdf"' in report.headers["content-disposition"]
    text = "".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(report.content))
    assert f"{record(client, shown)['height_mm']:.1f} mm" in text and "within.jpg" in text and "upload-1" not in text
    picture = client.get(here(shown) + "picture-1.jpg")
    assert (
        Image.open(io.BytesIO(picture.content)).width > 1000
        and 'filename="within-height.jpg"' in picture.headers["content-disposition"]
    )
    assert all(
        client.get(here(shown) + name).status_code == 404
        for name in ("picture-2.jpg", "upload-1", "..%2Fupload-1", "nothing")
    )
    kit = client.get(url("kit-a4.pdf"))
    assert len(pdfium.PdfDocument(kit.content)) >= 3 and client.get(url("kit-a9.pdf")).status_code == 404


def test_a_refusal_says_why_and_what_next_in_the_pages_own_words(client: TestClient) -> None:
    """A connected trailer's head hides the ball, and no tag is there."""
    shown = send(client, photo("chat.jpg"), **{**AS_PHOTOGRAPHED, "coupled": "yes"})
    said = record(client, shown)["refusal"]
    assert said["code"] == "no-centre" and "--" not in said["remedy"]
    assert "Cannot measure" in shown.text and said["reason"] in html.unescape(shown.text)
    assert "tap on it in the picture" in shown.text and "--" not in shown.text
    marking = client.get(here(shown) + "mark").text
    assert '/mark">Mark it' in shown.text and 'class="picker"' in marking and 'data-interest="' in marking


def test_candidates_are_shown_where_they_were_seen(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    real = measuring.recorded  # type: ignore[attr-defined]

    def with_candidates(*arguments: Any, **more: Any) -> Any:
        outcome, made = real(*arguments, **more)
        assert isinstance(outcome, Refused)
        seen = ((np.array([820.26, 596.006]), np.array([12.0, 7.5])),)
        return replace(outcome, candidates_px=seen), made

    monkeypatch.setattr(measuring, "recorded", with_candidates)
    shown = send(client, photo("chat.jpg"), **{**AS_PHOTOGRAPHED, "coupled": "yes"})
    places = re.findall(r'data-x="([\d.]+)" data-y="([\d.]+)">(\w)<', client.get(here(shown) + "mark").text)
    assert places == [("820.26", "596.01", "A"), ("12.00", "7.50", "B")]


def test_pressed_twice_it_measures_once_and_the_page_goes_on_answering(monkeypatch: pytest.MonkeyPatch) -> None:
    held, calls, real = threading.Event(), [], bench.figured  # type: ignore[attr-defined]

    def slow(*arguments: Any) -> Any:
        calls.append(arguments)
        assert held.wait(20)
        return real(*arguments)

    monkeypatch.setattr(bench, "figured", slow)
    cases = Cases()

    async def press() -> list[str]:
        transport = ASGITransport(page_app(TOKEN, [HOST], cases=cases))
        async with AsyncClient(transport=transport, base_url=BASE, timeout=60) as browser:
            twice = [
                asyncio.create_task(browser.post(url("measure"), files=[photo("chat.jpg")], data={"coupling": "pin"}))
                for _ in range(2)
            ]
            async with asyncio.timeout(20):
                while not calls:
                    await asyncio.sleep(0.01)
            assert (await browser.get(url())).status_code == 200  # while it measures
            held.set()
            answers = await asyncio.gather(*twice)
            third = await browser.post(url("measure"), files=[photo("chat.jpg")], data={"coupling": "pin"})
            return [answer.headers["location"] for answer in (*answers, third)]

    places = asyncio.run(press())
    assert len(set(places)) == 1 and len(calls) == 1 and len(cases) == 1
    cases.close()


def test_too_many_that_wait_are_told_so() -> None:
    held = threading.Event()

    async def crowd() -> list[object]:
        line = bench.Bench()
        waiting = [asyncio.create_task(line.in_line(held.wait)) for _ in range(bench.MOST_WAITING)]
        await asyncio.sleep(0)
        try:
            with pytest.raises(PageError, match="Too many") as caught:
                await line.in_line(held.wait)
            assert caught.value.status == 503
        finally:
            held.set()
        return list(await asyncio.gather(*waiting))

    assert asyncio.run(crowd()) == [True] * bench.MOST_WAITING


def test_a_fault_of_the_program_is_a_sentence_and_no_traceback(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*arguments: Any) -> Any:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(bench, "figured", broken)
    shown = send(client, photo("chat.jpg"))
    assert shown.status_code == 500 and "mistake of its own" in shown.text
    assert "secret" not in shown.text and "Traceback" not in shown.text
    assert "fault of the program: ZeroDivisionError" in capsys.readouterr().err
    monkeypatch.undo()
    assert send(client, photo("chat.jpg")).status_code == 200  # what failed is tried again
