"""Facts from the sheet: ticked boxes and remembered prints go all the way from a rendered photograph into the record."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from calib.kit.sheets import write_target
from calib.outcome.errors import InputError
from photomeasure.cli import app
from tests.scenes import PrintedKit, PrintedSheet, draw_rig_scene, printed_kit, render, save_jpeg

NUMBER = 468_779
ANSWERS = {"coupled": "no", "laden": "no", "level-ground": "yes", "ball": "50"}


def filled(sheet: PrintedSheet, facts: dict[str, Any], ticks: set[tuple[str, str]]) -> PrintedSheet:
    """The sheet with these boxes filled in black, by target.json alone."""
    texture, (mx, my), (x0, y0) = sheet.texture.copy(), sheet.mm_per_texel, sheet.corner_mm
    (upright,) = [page for page in facts["sheets"] if page["role"] == "upright"]
    hit = 0
    for box in upright["boxes"]:
        if (box["question"], box["value"]) in ticks:
            left, top = box["x_mm"] - box["width_mm"] / 2 - x0, box["y_mm"] + box["height_mm"] / 2 - y0
            row = len(texture) - round(top / my)
            column = round(left / mx)
            texture[row : row + round(box["height_mm"] / my), column : column + round(box["width_mm"] / mx)] = 0
            hit += 1
    assert hit == len(ticks)
    return replace(sheet, texture=texture)


@cache
def printed() -> tuple[dict[str, Any], PrintedKit]:
    """The kit as it comes out of its PDF, with the facts beside it: one print for all rigs."""
    with TemporaryDirectory() as folder:
        pdf, facts_file = write_target(Path(folder), "a4", NUMBER)
        return json.loads(facts_file.read_text()), printed_kit(pdf, facts_file)


class Rig:
    """A rendered rig whose sheet is ticked, and what is true of it."""

    def __init__(
        self,
        folder: Path,
        ticks: dict[str, str],
        more: frozenset[tuple[str, str]] = frozenset(),
        *,
        coupled: bool = False,
        condition: str = "followed",
    ) -> None:
        self.facts, kit = printed()
        how = {"condition": condition, "coupled": coupled, "size_px": (1600, 1200)}
        plain = draw_rig_scene(np.random.default_rng(20261125), kit=kit, **how)  # type: ignore[arg-type]
        assert plain.truth is not None
        self.height_mm = plain.truth.height_mm
        self.bars = {axis: f"{plain.truth.nuisance[f'bar_{axis}_mm']:.1f}" for axis in "xy"}
        wanted = {(f"bar-{axis}", value) for axis, value in self.bars.items()} if ticks else set()
        kit = replace(kit, upright=filled(kit.upright, self.facts, wanted | set(ticks.items()) | more))
        rng = np.random.default_rng(20261125)
        scene = draw_rig_scene(rng, kit=kit, **how)  # type: ignore[arg-type]
        self.path = folder / "rig.jpg"
        save_jpeg(render(scene, replace(scene.look, grey=True, samples=9), rng), self.path, 70, scene.exif)
        x, y = scene.centre_px().ravel()
        self.centre = f"{x:.1f},{y:.1f}"


@pytest.fixture(scope="module")
def ticked(tmp_path_factory: pytest.TempPathFactory) -> Rig:
    return Rig(tmp_path_factory.mktemp("ticked"), ANSWERS)


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Rig:
    return Rig(tmp_path_factory.mktemp("blank"), {})


@pytest.fixture(autouse=True)
def remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of remembered things of this test alone."""
    folder = tmp_path / "remembered"
    monkeypatch.setattr("photomeasure.seen.camera_for.profile_folder", lambda: folder)
    monkeypatch.setattr("photomeasure.commands.measure.profile_folder", lambda: folder)
    return folder


def measured(rig: Rig, *more: object, place: Path) -> dict[str, Any]:
    target = place / f"{rig.path.parent.name}.json"
    result = CliRunner().invoke(app, ["measure", str(rig.path), "--json", str(target), *map(str, more)])
    if isinstance(result.exception, InputError):
        raise result.exception
    assert result.exit_code == 0, result.output
    record: dict[str, Any] = json.loads(target.read_text())
    return record


def facts_of(record: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {fact["question"]: (fact["value"], fact["from"]) for fact in record["facts"]}


def test_a_ticked_sheet_needs_the_photograph_and_nothing_else(ticked: Rig, tmp_path: Path) -> None:
    record = measured(ticked, place=tmp_path)
    wanted = ANSWERS | {f"bar-{axis}": value for axis, value in ticked.bars.items()}
    assert facts_of(record) == {question: (value, "ticked") for question, value in wanted.items()}
    assert record["print_number"] == NUMBER
    assert abs(record["height_mm"] - ticked.height_mm) <= 3.0 * record["u_mm"]
    assert record["state"]["coupled"] is False and record["state"]["level_ground"] is True
    assert not any("bars were not measured" in said for said in record["warnings"])


@pytest.mark.parametrize(
    ("answers", "coupled"),
    [
        ({"coupled": "yes", "laden": "yes", "level-ground": "yes", "ball": "50"}, True),
        pytest.param(
            {"coupled": "yes", "laden": "no", "level-ground": "no", "ball": "pin"}, True, marks=pytest.mark.slow
        ),
        pytest.param(
            {"coupled": "no", "laden": "yes", "level-ground": "no", "ball": "50.8"}, False, marks=pytest.mark.slow
        ),
    ],
    ids=["connected and loaded, by its tag", "a pin, by its tag", "a bare ball of two inches, soft ground"],
)
def test_each_state_needs_the_photograph_and_nothing_else(
    answers: dict[str, str], coupled: bool, tmp_path_factory: pytest.TempPathFactory, tmp_path: Path
) -> None:
    rig = Rig(tmp_path_factory.mktemp("state"), answers, coupled=coupled)
    record = measured(rig, place=tmp_path)
    wanted = answers | {f"bar-{axis}": value for axis, value in rig.bars.items()}
    assert facts_of(record) == {question: (value, "ticked") for question, value in wanted.items()}
    state = record["state"]
    assert {name: state[name.replace("-", "_")] for name in ("coupled", "laden", "level-ground")} == {
        name: answers[name] == "yes" for name in ("coupled", "laden", "level-ground")
    }
    assert record["centre"]["source"] == ("tag" if coupled else "ball")
    assert ("pin" in record["rule"]["name"]) == (answers["ball"] == "pin")
    assert abs(record["height_mm"] - rig.height_mm) <= 3.0 * record["u_mm"]
    assert record["U_mm"] < 12.0 and not any("bars were not measured" in said for said in record["warnings"])


def test_the_same_figure_as_typed(ticked: Rig, blank: Rig, tmp_path: Path) -> None:
    typed = ("--bar-x", blank.bars["x"], "--bar-y", blank.bars["y"], "--uncoupled", "--unladen", "--level-ground")
    by_hand = measured(blank, "--centre", blank.centre, *typed, place=tmp_path)
    by_box = measured(ticked, "--centre", ticked.centre, place=tmp_path)
    assert by_box["height_mm"] == pytest.approx(by_hand["height_mm"], abs=0.2)
    assert by_box["u_mm"] == pytest.approx(by_hand["u_mm"], rel=0.02)
    assert all(source == "typed" for question, (_, source) in facts_of(by_hand).items() if question != "ball")
    assert facts_of(by_hand)["ball"] == ("50", "assumed")


def test_what_is_typed_stands_above_what_is_ticked_and_is_told(ticked: Rig, tmp_path: Path) -> None:
    record = measured(ticked, "--laden", "--bar-y", float(ticked.bars["y"]) + 1.0, place=tmp_path)
    facts = facts_of(record)
    assert facts["laden"] == ("yes", "typed") and record["state"]["laden"] is True
    assert facts["bar-y"][1] == "typed" and facts["bar-x"][1] == "ticked"
    told = [said for said in record["warnings"] if "ticked on the sheet" in said]
    assert len(told) == 2


def test_two_boxes_are_asked_about_and_neither_is_taken(
    tmp_path_factory: pytest.TempPathFactory, tmp_path: Path
) -> None:
    twice = Rig(tmp_path_factory.mktemp("twice"), ANSWERS, frozenset({("coupled", "yes"), ("bar-x", "171.0")}))
    record = measured(twice, "--centre", twice.centre, place=tmp_path)
    facts = facts_of(record)
    assert "coupled" not in facts and "bar-x" not in facts and facts["laden"] == ("no", "ticked")
    assert record["state"]["coupled"] is None
    asked = [said for said in record["warnings"] if "Two boxes are ticked" in said]
    assert len(asked) == 2 and any("yes" in said and "no" in said for said in asked)


def test_a_remembered_print_is_taken_where_its_number_is_seen(blank: Rig, tmp_path: Path) -> None:
    before = measured(blank, "--centre", blank.centre, place=tmp_path)
    assert "bar-x" not in facts_of(before) and before["print_number"] == NUMBER
    code = CliRunner().invoke(
        app, ["kit", "remember", "--number", str(NUMBER), "--bar-x", blank.bars["x"], "--bar-y", blank.bars["y"]]
    )
    assert code.exit_code == 0, code.output
    after = measured(blank, "--centre", blank.centre, place=tmp_path)
    assert facts_of(after)["bar-x"] == (blank.bars["x"], "remembered")
    assert after["u_mm"] < 0.5 * before["u_mm"]
    other = CliRunner().invoke(
        app, ["verify", str(tmp_path / f"{blank.path.parent.name}.json"), "--photos", str(blank.path.parent)]
    )
    assert other.exit_code == 0, other.output


def test_a_bar_of_another_edition_is_refused(blank: Rig, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="250 mm long"):
        measured(blank, "--bar-y", 150, place=tmp_path)


def test_a_default_for_many_rigs_gives_way_to_this_sheet_and_says_what_it_answered(
    ticked: Rig, blank: Rig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = float(ticked.bars["y"]) + 2.0
    lines = f"bar-x = {ticked.bars['x']}\nbar-y = {wrong}\nladen = true\nuncoupled = true\nball-diameter = 50.8\n"
    (tmp_path / "photomeasure.toml").write_text(lines)
    on_sheet = measured(ticked, place=tmp_path)
    wanted = ANSWERS | {f"bar-{axis}": value for axis, value in ticked.bars.items()}
    assert facts_of(on_sheet) == {question: (value, "ticked") for question, value in wanted.items()}
    told = [said for said in on_sheet["warnings"] if said.startswith("Your defaults have")]
    assert len(told) == 2 and any("bar Y" in said for said in told) and any("trailer loaded" in said for said in told)
    plain = measured(blank, "--centre", blank.centre, "--unladen", place=tmp_path)
    facts = facts_of(plain)
    assert facts["bar-y"] == (f"{wrong:.1f}", "settings") and facts["coupled"] == ("no", "settings")
    assert facts["ball"] == ("50.8", "settings") and facts["laden"] == ("no", "typed")
    again = CliRunner().invoke(
        app, ["verify", str(tmp_path / f"{blank.path.parent.name}.json"), "--photos", str(blank.path.parent)]
    )
    assert again.exit_code == 0, again.output


def test_a_whole_millimetre_that_is_ticked_was_chosen_among_halves(ticked: Rig, blank: Rig, tmp_path: Path) -> None:
    """Half-width 0.25 mm by its boxes, 0.5 mm where whole millimetres were typed."""
    rows = {
        rig.path.parent.name: [
            row for row in measured(rig, *more, place=tmp_path)["inputs"] if row["quantity"].startswith("check bar")
        ]
        for rig, more in ((ticked, ()), (blank, ("--bar-x", "176", "--bar-y", "245")))
    }
    by_boxes, by_digits = rows.values()
    assert len(by_boxes) == len(by_digits) == 2
    for row, typed in zip(by_boxes, by_digits, strict=True):
        assert row["u"] == pytest.approx(typed["u"] / 2) and "boxes that were ticked" in row["source"]
        assert "digits that were typed" in typed["source"]
