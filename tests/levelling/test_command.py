"""`photomeasure level` from the outside: contract of options, exit codes and JSON keys, on rendered pictures with truth."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from calib.kit.sheets import write_target
from calib.outcome.errors import InputError
from photomeasure.record.level import LevelRecord
from photomeasure.shown.picture.ink import BAND, RULE
from tests.running import runs
from tests.scenes import printed_kit
from tests.side_scenes import SideScene, draw_side_scene

CONTRACT_KEYS = {"pitch_deg", "u_deg", "interval_deg", "nose", "budget"}


class Pictured:
    """A rendered trailer: its photograph, the marks of a hand, and what is true of it."""

    def __init__(self, scene: SideScene, path: Path, marks: list[str]) -> None:
        self.scene, self.path, self.marks = scene, path, marks
        self.bars = ["--bar-x", str(scene.bars_mm[0]), "--bar-y", str(scene.bars_mm[1])]
        self.nose_up_deg = scene.pitch_deg if scene.nose == "right" else -scene.pitch_deg


@pytest.fixture(scope="module")
def pictured(tmp_path_factory: pytest.TempPathFactory) -> Pictured:
    place = tmp_path_factory.mktemp("side")
    kit = printed_kit(*write_target(place, "a4"))
    rng = np.random.default_rng(20261126)
    scene = draw_side_scene(
        rng, kit=kit, size_px=(2000, 1500), distance_mm=(4000.0, 4000.0), pitch_deg=(-2.5, -1.5), bare=True
    )
    return Pictured(scene, scene.save(place / "side.jpg", rng), scene.marks(rng, 0.7))


run = runs()


def measured(pictured: Pictured, *more: object, place: Path) -> dict[str, Any]:
    target = place / "level.json"
    assert run("level", pictured.path, *pictured.marks, *pictured.bars, "--json", target, *more)[0] == 0
    record: dict[str, Any] = json.loads(target.read_text())
    return record


def test_record_by_contract_and_true(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, "--level-ground", place=tmp_path)
    assert record.keys() >= CONTRACT_KEYS and LevelRecord.model_validate(record).refusal is None
    low, high = record["interval_deg"]
    assert low <= pictured.nose_up_deg <= high and low < record["pitch_deg"] < high
    assert (high - low) / 4.0 == pytest.approx(record["u_deg"], rel=0.05) and record["u_deg"] < 0.2
    assert record["U_deg"] == pytest.approx((high - low) / 2.0)
    assert record["nose"] == ("up" if pictured.nose_up_deg > 0 else "down")
    assert record["nose_side"] == pictured.scene.nose and record["nose_from"] == "sheet"
    assert sum(row["share"] for row in record["budget"]) == pytest.approx(1.0, abs=1e-9)
    assert sum(row["u_deg"] ** 2 for row in record["budget"]) == pytest.approx(record["u_deg"] ** 2, rel=1e-9)
    assert len(record["photos"][0]["sha256"]) == 64 and record["refusal"] is None


def test_two_bar_tags_on_the_rail_stand_for_its_marks(pictured: Pictured, tmp_path: Path) -> None:
    """Nobody marks the rail: the tags' middles lie on a line along its lower edge, and the record says which tags they are."""
    target = tmp_path / "tags.json"
    code, said = run("level", pictured.path, *pictured.marks[:4], *pictured.bars, "--level-ground", "--json", target)
    assert code == 0, said
    record = json.loads(target.read_text())
    low, high = record["interval_deg"]
    assert low <= pictured.nose_up_deg <= high and record["u_deg"] < 0.2
    assert sorted(record["rail_tags"]) == [26, 27] and record["asked"]["rail_marked"] is False
    assert {row["quantity"] for row in record["budget"]} >= {"tags on the rail", "marks on the ground"}
    assert "Bar tags" in said and "lower rim" in said.replace("\n", " ")
    code, said = run("verify", target)
    assert code == 0, said


def test_the_order_of_the_marks_does_not_matter(pictured: Pictured, tmp_path: Path) -> None:
    plain = measured(pictured, place=tmp_path)
    ground, rail = pictured.marks[:4], pictured.marks[4:]
    turned = [*rail[2:], *ground[2:], *rail[:2], *ground[:2]]
    target = tmp_path / "turned.json"
    assert run("level", pictured.path, *turned, *pictured.bars, "--json", target)[0] == 0
    again = json.loads(target.read_text())
    assert again["pitch_deg"] == pytest.approx(plain["pitch_deg"], abs=1e-4) and again["nose"] == plain["nose"]


def test_the_nose_can_be_said(pictured: Pictured, tmp_path: Path) -> None:
    plain = measured(pictured, place=tmp_path)
    other = measured(pictured, "--nose", "left" if pictured.scene.nose == "right" else "right", place=tmp_path)
    assert other["pitch_deg"] == pytest.approx(-plain["pitch_deg"]) and other["nose_from"] == "said"
    assert {plain["nose"], other["nose"]} == {"up", "down"}
    assert other["interval_deg"] == pytest.approx([-end for end in reversed(plain["interval_deg"])])


def test_what_is_allowed_is_typed_or_usual_practice(pictured: Pictured, tmp_path: Path) -> None:
    nose = ("--nose", "right" if pictured.scene.pitch_deg < 0 else "left")  # about 2 degrees nose-down
    usual = measured(pictured, *nose, place=tmp_path)["allowed"]
    assert (usual["nose_up_deg"], usual["nose_down_deg"], usual["verdict"]) == (0.0, 1.0, "nose-down")
    assert "usual practice" in usual["source"]
    typed = measured(pictured, *nose, "--nose-down-limit", "4", place=tmp_path)["allowed"]
    assert (typed["nose_down_deg"], typed["verdict"], typed["source"]) == (4.0, "within", "as typed")


def test_text_says_figure_nose_and_what_it_took_for_granted(pictured: Pictured) -> None:
    code, said = run("level", pictured.path, *pictured.marks, *pictured.bars)
    assert code == 0 and ("NOSE-UP" in said or "NOSE-DOWN" in said)
    for words in (
        "degrees",
        "Interval",
        "May stand",
        "usual practice",
        "was taken for the front",
        "Whether the ground is hard and flat",
    ):
        assert words in said


def test_the_picture_has_both_lines_where_they_were_marked(pictured: Pictured, tmp_path: Path) -> None:
    """The rail's colour lies on the rail, the ground line's on the ground line; the second run replaces the first."""
    for _ in range(2):
        code, said = run("level", pictured.path, *pictured.marks, *pictured.bars, "--out", tmp_path / "out")
        assert code == 0 and "side-level.jpg" in said and "side-level.json" in said
    with Image.open(tmp_path / "out" / "side-level.jpg") as opened:
        picture = np.asarray(opened.convert("RGB"), dtype=float)
    for px, colour in ((pictured.scene.rail_px, RULE), (pictured.scene.ground_px, BAND)):
        for share in (0.2, 0.35, 0.8):
            x, y = px[0] + share * (px[1] - px[0])
            near = picture[round(y) - 4 : round(y) + 5, round(x) - 2 : round(x) + 3].reshape(-1, 3)
            assert np.abs(near - colour[:3]).max(axis=1).min() < 60, (share, colour)
    record = json.loads((tmp_path / "out" / "side-level.json").read_text())
    assert record["schema"] == "photomeasure/level/1"


def test_unknown_ground_widens_the_interval(pictured: Pictured, tmp_path: Path) -> None:
    level, unknown, read = (
        measured(pictured, *said, place=tmp_path)["u_deg"]
        for said in (("--level-ground",), ("--unknown-ground",), ("--level-within", "0.5"))
    )
    assert read <= level < unknown


def test_refusals_have_a_reason_and_a_remedy(pictured: Pictured, tmp_path: Path) -> None:
    ground, rail = pictured.marks[:4], pictured.marks[4:]
    below = [word if word.startswith("--") else f"{word.split(',')[0]},1490" for word in rail]
    near = [*ground[:3], ground[1], *rail]
    outside = [*ground[:3], "5000,10", *rail]
    for marks, code in ((ground + below, "marks-exchanged"), (near, "marks-too-near"), (outside, "mark-outside")):
        target = tmp_path / f"{code}.json"
        exit_code, said = run("level", pictured.path, *marks, "--json", target)
        record = json.loads(target.read_text())
        assert exit_code == 3 and record["refusal"]["code"] == code, said
        assert record["refusal"]["reason"] in said and record["pitch_deg"] is None
        assert record["photos"][0]["sha256"] == hashlib.sha256(pictured.path.read_bytes()).hexdigest()


def test_a_photograph_that_cannot_be_read_is_known_by_its_bytes(pictured: Pictured, tmp_path: Path) -> None:
    broken, target = tmp_path / "broken.jpg", tmp_path / "level.json"
    broken.write_bytes(pictured.path.read_bytes()[:400])
    assert run("level", broken, *pictured.marks, "--json", target)[0] == 3
    part = json.loads(target.read_text())["photos"][0]
    assert part["sha256"] == hashlib.sha256(broken.read_bytes()).hexdigest() and part["width_px"] is None


@pytest.mark.parametrize(
    "wrong",
    [
        ["--ground", "1,2"],
        ["--ground", "1,2", "--ground", "3,4", "--rail", "1,2"],
        ["--ground", "1,2", "--ground", "3,4", "--rail", "1,2", "--rail", "5"],
        ["--ground", "1,2", "--ground", "3,4", "--rail", "1,2", "--rail", "5,nan"],
        ["--ground", "1,2", "--ground", "3,4", "--rail", "1,2", "--rail", "5,6", "--rail", "7,8"],
        ["--level-within", "5", "--unknown-ground"],
        ["--nose-down-limit", "20"],
    ],
)
def test_wrong_usage(pictured: Pictured, wrong: list[str]) -> None:
    try:
        code, _ = run("level", pictured.path, *wrong)
    except InputError:
        code = 2
    assert code == 2


def test_a_record_of_the_level_is_verified(pictured: Pictured, tmp_path: Path) -> None:
    """The same photograph gives the same record again, with what was typed; a figure that was changed is found."""
    measured(pictured, "--level-ground", "--nose-down-limit", "2", place=tmp_path)
    record = tmp_path / "level.json"
    folder = ["--photos", pictured.path.parent]
    code, said = run("verify", record, *folder)
    assert code == 0 and "THE SAME" in said and "identical" in said
    changed = json.loads(record.read_text())
    changed["pitch_deg"] += 0.02
    record.write_text(json.dumps(changed), encoding="utf-8")
    code, said = run("verify", record, *folder)
    assert code == 3 and "pitch_deg" in said
