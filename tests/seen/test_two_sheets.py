"""Two upright sheets in one picture, through the command line: two prints with numbers laid into a sample photograph.

The sample's camera, ground and ball are known exactly (its .toml), so the height is too: 402 mm.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import cv2
import numpy as np
import pytest
from PIL import Image

from calib.finding.sheets import Finding
from calib.kit.kit import kit
from calib.outcome.refusal import Refusal
from photomeasure.seen.look import View
from photomeasure.seen.two_sheets import first_and_second
from tests.running import runs
from tests.scenes.pasted import SAMPLES, Stance, picture, shots, upright_piece

LEFT, RIGHT = 730_066, 104_215
LEFT_AT, RIGHT_AT = Stance(aside_mm=-330.0, roll_rad=0.004), Stance(aside_mm=290.0, lean_rad=0.004)

run = runs()


def laid_in(place: Path, *sheets: tuple[Stance, int], seed: int = 3) -> Path:
    """The sample `within` with these prints in place of its own sheet, as its camera would have written it."""
    shot = shots("within")[0]
    grey = picture(shot, tuple(upright_piece(*sheet) for sheet in sheets), np.random.default_rng(seed))
    path = place / "rig.jpg"
    exif = Image.open(SAMPLES / "within.jpg").getexif()
    Image.fromarray(cv2.cvtColor(grey.astype(np.uint8), cv2.COLOR_GRAY2RGB)).save(path, quality=92, exif=exif)
    return path


def measured(photo: Path, *more: object) -> tuple[int, dict[str, Any], str]:
    truth = shots("within")[0].truth
    (x, y), *_ = cast(list[list[float]], truth["centre_px"])
    record = photo.with_suffix(".json")
    bars = [f"{mm:.1f}" for mm in kit("a4").upright.bars_mm]
    asked = ("--uncoupled", "--unladen", "--level-ground", "--bar-x", bars[0], "--bar-y", bars[1])
    code, told = run("measure", photo, *asked, "--centre", f"{x:.1f},{y:.1f}", *more, "--json", record)
    return code, json.loads(record.read_text()), told


@pytest.fixture(scope="module")
def right_alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return laid_in(tmp_path_factory.mktemp("right"), (RIGHT_AT, RIGHT))


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any], str]:
    photo = laid_in(tmp_path_factory.mktemp("two"), (LEFT_AT, LEFT), (RIGHT_AT, RIGHT))
    code, record, told = measured(photo)
    assert code == 0, told
    return photo, record, told


def test_the_height_is_true_and_surer_than_by_one_sheet_alone(
    two: tuple[Path, dict[str, Any], str], right_alone: Path
) -> None:
    """A quarter of u at least: the line between the feet is the ground, however each sheet is rolled (0.23 degrees here)."""
    _, record, _ = two
    low, high = record["interval_mm"]
    assert low <= 402.0 <= high
    _, alone, _ = measured(right_alone)
    assert alone["second_sheet"] is None
    assert record["u_mm"] < 0.75 * alone["u_mm"]


@pytest.mark.slow  # the sheet on the right alone is above
def test_the_height_is_surer_than_by_the_left_sheet_alone(
    two: tuple[Path, dict[str, Any], str], tmp_path: Path
) -> None:
    _, alone, _ = measured(laid_in(tmp_path, (LEFT_AT, LEFT)))
    assert alone["second_sheet"] is None
    assert two[1]["u_mm"] < 0.75 * alone["u_mm"]


def test_the_record_says_which_prints_and_how_far_apart(two: tuple[Path, dict[str, Any], str]) -> None:
    _, record, told = two
    assert record["print_number"] == RIGHT  # the lower number where both are shown as often
    assert record["second_sheet"]["number"] == LEFT and record["second_sheet"]["apart_mm"] == pytest.approx(620, abs=6)
    quantities = {row["quantity"] for row in record["budget"]}
    assert {"ground between the sheets", "second foot gap", "second print"} <= quantities
    assert "sheet turn" not in quantities  # the coupling stands between the feet
    assert any(f"{LEFT:06d}" in warning and "same printer" in warning for warning in record["warnings"])
    assert record["indicative"] and any("second print" in why for why in record["indicative_why"])
    assert "same printer" in told.replace("\n", " ")


def test_it_is_repeated_from_its_record(two: tuple[Path, dict[str, Any], str]) -> None:
    photo, _, _ = two
    code, told = run("verify", photo.with_suffix(".json"))
    assert code == 0, told


def test_the_level_by_two_sheets_is_true_and_surer(
    two: tuple[Path, dict[str, Any], str], right_alone: Path, tmp_path: Path
) -> None:
    """Points of a ground line and of a rail that rises to the right by 1.2 degrees, where the sample's camera sees them."""
    shot = shots("within")[0]
    rise_mm = 1800.0 * np.tan(np.radians(1.2))
    places = {
        "--ground": np.array([[-900.0, -150.0, 0.0], [900.0, -150.0, 0.0]]),
        "--rail": np.array([[-900.0, -100.0, 520.0], [900.0, -100.0, 520.0 + rise_mm]]),
    }
    marks = [word for name, points in places.items() for x, y in shot.px(points) for word in (name, f"{x:.1f},{y:.1f}")]
    bars = [f"{mm:.1f}" for mm in kit("a4").upright.bars_mm]
    common = ("--bar-x", bars[0], "--bar-y", bars[1], "--level-ground", "--nose", "right")
    records = []
    for number, photo in enumerate((two[0], right_alone)):
        target = tmp_path / f"level{number}.json"
        code, told = run("level", photo, *marks, *common, "--json", target)
        assert code == 0, told
        records.append(json.loads(target.read_text()))
    both, alone = records
    low, high = both["interval_deg"]
    assert low <= 1.2 <= high
    assert both["u_deg"] < 0.6 * alone["u_deg"]
    assert both["second_sheet"]["number"] == LEFT and alone["second_sheet"] is None


def test_one_number_twice_is_refused(tmp_path: Path) -> None:
    code, record, told = measured(laid_in(tmp_path, (LEFT_AT, LEFT), (RIGHT_AT, LEFT)))
    assert code == 3 and record["refusal"]["code"] == "two-kits"
    assert f"print {LEFT:06d}" in record["refusal"]["reason"] and "Leave one upright sheet" in told.replace("\n", " ")


def test_a_sheet_on_a_step_is_noticed(tmp_path: Path) -> None:
    """40 mm higher than the other: no foot gap and no fall of hard ground is that large."""
    code, record, _ = measured(laid_in(tmp_path, (LEFT_AT, LEFT), (replace(RIGHT_AT, gap_mm=40.0), RIGHT)))
    assert code == 3 or any("two upright sheets" in warning for warning in record["warnings"]), record["warnings"]


def seen(*numbers: int | None) -> View:
    """A view as far as the order of its sheets goes, left to right."""
    sheets = [SimpleNamespace(sheet=SimpleNamespace(role="upright"), number=number) for number in numbers]
    first, *more = sheets
    finding = Finding(sheets=(first,), codes=(), second=more[0] if more else None)  # type: ignore[arg-type]
    names = dict(zip(("number", "second_number"), numbers, strict=False))
    photo = SimpleNamespace(path=Path("a.jpg"))
    return View(photo=photo, finding=finding, camera=None, **names)  # type: ignore[arg-type]


def test_the_same_print_is_the_first_in_all_photographs() -> None:
    for views in ((seen(5, 3), seen(3, 5)), (seen(3, 5), seen(5)), (seen(5, 3), seen(5))):
        found = first_and_second(views)
        assert not isinstance(found, Refusal)
        first = found[0].number
        assert all(view.number == first for view in found)
        for view in found:
            upright = view.finding.of_role("upright")
            assert upright is not None and cast(Any, upright).number == first
            assert view.finding.second is None or cast(Any, view.finding.second).number == view.second_number
    assert [view.number for view in cast(tuple[View, ...], first_and_second((seen(5, 3),)))] == [3]


@pytest.mark.parametrize(
    "views",
    [
        (seen(5, 5),),  # copies of one print
        (seen(5, None),),
        (seen(None, 5),),
        (seen(5, 3), seen(None)),  # which of the two is that one?
        (seen(5, 3), seen(3, 7)),  # three prints
        (seen(5, 3), seen(5), seen(3)),  # no print in all of them
    ],
)
def test_what_numbers_do_not_tell_apart_is_refused(views: tuple[View, ...]) -> None:
    found = first_and_second(views)
    assert isinstance(found, Refusal) and found.code == "two-kits"
