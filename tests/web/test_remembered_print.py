"""Through the door: a print that is remembered is taken by its number, and one that the picture contradicts is told."""

from __future__ import annotations

import html
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient
from typer.testing import CliRunner

from photomeasure.cli import app
from tests.seen.test_ticked import NUMBER, Rig
from tests.web.sending import record, send

STATE: dict[str, Any] = {"coupled": "no", "laden": "no", "level_ground": "yes"}
WRONG_MM = 6.0  # of 250: a copy at 98 %, in one direction


@pytest.fixture(scope="module")
def rig(unticked: Rig) -> Rig:
    return unticked


@pytest.fixture(autouse=True)
def remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of remembered things of this test alone, the same for the command line and the page."""
    for room in ("seen.camera_for", "web.answers", "web.bench", "web.remembered"):
        monkeypatch.setattr(f"photomeasure.{room}.profile_folder", lambda: tmp_path / "remembered")


def remember(bar_x: float, bar_y: float) -> None:
    told = ["kit", "remember", "--number", str(NUMBER), "--bar-x", f"{bar_x}", "--bar-y", f"{bar_y}"]
    done = CliRunner().invoke(app, told)
    assert done.exit_code == 0, done.output


def sent(client: TestClient, rig: Rig, **more: Any) -> Response:
    return send(client, ("photos", ("rig.jpg", rig.path.read_bytes(), "image/jpeg")), **STATE, **more)


def test_the_number_on_the_sheet_brings_its_bars(client: TestClient, rig: Rig) -> None:
    remember(float(rig.bars["x"]), float(rig.bars["y"]))
    kept = record(client, sent(client, rig))
    facts = {fact["question"]: (fact["value"], fact["from"]) for fact in kept["facts"]}
    assert facts["bar-y"] == (rig.bars["y"], "remembered") and facts["bar-x"] == (rig.bars["x"], "remembered")
    assert abs(kept["height_mm"] - rig.height_mm) <= kept["U_mm"]
    assert not any("contradicts what is remembered" in said for said in kept["warnings"])


def test_what_is_remembered_and_the_picture_contradicts_is_told(client: TestClient, rig: Rig) -> None:
    remember(float(rig.bars["x"]), float(rig.bars["y"]) - WRONG_MM)
    shown = sent(client, rig)
    kept = record(client, shown)
    (told,) = [said for said in kept["warnings"] if "contradicts what is remembered" in said]
    assert f"{NUMBER:06d}" in told and told in html.unescape(shown.text)


def test_what_is_typed_stands_above_what_is_remembered_and_the_difference_is_told(client: TestClient, rig: Rig) -> None:
    remember(float(rig.bars["x"]), float(rig.bars["y"]) - WRONG_MM)
    kept = record(client, sent(client, rig, bar_x=rig.bars["x"], bar_y=rig.bars["y"]))
    assert {fact["question"]: fact["from"] for fact in kept["facts"]}["bar-y"] == "typed"
    assert abs(kept["height_mm"] - rig.height_mm) <= kept["U_mm"]
    assert any("are remembered for bar Y" in said for said in kept["warnings"])
    assert not any("contradicts what is remembered" in said for said in kept["warnings"])
