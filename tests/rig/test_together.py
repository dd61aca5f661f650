"""Figures of records that go together: heights of a pair and its sinking, records of one print, a height and a pitch of one picture."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.outcome.errors import InputError
from photomeasure.rig.model import RigModel, best_values, drawn_values, quantities_of, structure_of
from photomeasure.rig.plan import make_plan
from photomeasure.rig.setup import Correlation, Setup
from photomeasure.rig.setup_file import parse_setup
from photomeasure.rig.together import correlations
from tests.rig.scenario import band, plain

U_BEFORE, U_NOW, U_SINKING = 1.0, 1.3, 0.5  # mm: as a pair with the sheet untouched has them


def row(
    quantity: str, effect: float, *, value: float = 180.0, source: str = "read", evaluation: str = "B"
) -> dict[str, Any]:
    return {
        "quantity": quantity, "value": value, "u": 0.2, "unit": "mm", "distribution": "normal", "evaluation": evaluation,
        "source": source, "height_u_mm": effect,
    }  # fmt: skip


def pair_record(**more: Any) -> dict[str, Any]:
    photos = [{"sha256": "now", "before": False}, {"sha256": "then", "before": True}]
    return {
        "height_mm": 450.0, "u_mm": U_NOW, "sink": {"mm": 36.0, "u_mm": U_SINKING}, "photos": photos,
        "before": {"record": None, "height_mm": 486.0, "u_mm": U_BEFORE, "sheet_untouched": True}, **more,
    }  # fmt: skip


def before_record() -> dict[str, Any]:
    return {"height_mm": 486.0, "u_mm": U_BEFORE, "photos": [{"sha256": "then"}], "state": {"coupled": False}}


def set_up(folder: Path, vehicle: dict[str, Any], **files: dict[str, Any]) -> Setup:
    for name, record in files.items():
        (folder / f"{name}.json").write_text(json.dumps(record), encoding="utf-8")
    raw = plain()
    del raw["vehicle"]["stand_test"]
    raw["vehicle"].update(vehicle)
    return parse_setup(raw, folder=folder, label="setup.toml")


def test_the_coupled_height_is_the_one_that_was_measured(tmp_path: Path) -> None:
    """From the bare ball's record and the pair's sinking the plan comes to the coupled height of the pair, no less surely."""
    told = set_up(
        tmp_path,
        {"ball_height": {"record": "before.json"}, "coupled": False, "coupling_drop": {"record": "pair.json"}},
        before=before_record(),
        pair=pair_record(),
    )
    now = make_plan(told, band(), np.random.default_rng(3)).outcomes[0].height_mm
    assert now.mean == pytest.approx(450.0, abs=0.05)
    assert now.u == pytest.approx(U_NOW, rel=0.03)
    alone = told.model_copy(update={"correlation": ()})
    apart = make_plan(alone, band(), np.random.default_rng(3)).outcomes[0].height_mm
    assert apart.u == pytest.approx(np.hypot(U_BEFORE, U_SINKING), rel=0.03)


def test_from_the_coupled_height_the_bare_ball_comes_back(tmp_path: Path) -> None:
    told = set_up(
        tmp_path,
        {"ball_height": {"record": "pair.json"}, "coupled": True, "coupling_drop": {"record": "pair.json"}},
        pair=pair_record(),
    )
    drawn = drawn_values(quantities_of(told), np.random.default_rng(5), 40_000, told.correlation)
    free = RigModel(structure_of(told), drawn).free_height_mm()
    assert float(free.mean()) == pytest.approx(486.0, abs=0.05)
    assert float(free.std()) == pytest.approx(U_BEFORE, rel=0.03)
    lower = RigModel(structure_of(told), best_values(quantities_of(told))).respond(-50.0, 0.0).height_mm
    assert lower == pytest.approx(400.0, abs=0.1)


def test_a_stand_test_by_photographs(tmp_path: Path) -> None:
    told = set_up(
        tmp_path,
        {
            "ball_height": {"record": "before.json"},
            "stand_test": {"drop": {"record": "pair.json"}, "mass": {"kg": 90, "u_kg": 1}},
        },
        before=before_record(),
        pair=pair_record(sink={"mm": 12.0, "u_mm": U_SINKING}),
    )
    assert told.vehicle.stand_test is not None and told.vehicle.stand_test.drop.value == 12.0
    (known,) = told.correlation
    assert set(known.between) == {"ball height", "stand-test drop"}
    together = 0.5 * (U_BEFORE**2 + U_NOW**2 - U_SINKING**2)
    assert known.r == pytest.approx((U_BEFORE**2 - together) / (U_BEFORE * U_SINKING))


STANDING = {"mass_kg": 90.0, "drop_mm": 12.0, "u_mm": 0.4, "u_standing_mm": 1.1}  # as the record of a stand test has it


@pytest.mark.parametrize(
    ("vehicle", "pair", "words"),
    [
        ({"coupling_drop": {"record": "pair.json"}}, {"stand_test": STANDING}, "under somebody on the bar, not under the trailer"),
        (
            {"stand_test": {"drop": {"record": "pair.json"}, "mass": {"kg": 90, "u_kg": 1}}},
            {"state": {"coupled": True}},
            "under the trailer, not under somebody on the bar",
        ),
        (
            {"stand_test": {"drop": {"record": "pair.json"}, "mass": {"kg": 75, "u_kg": 1}}},
            {"stand_test": STANDING, "sink": None},
            "with 90 kg on the bar; the setup says 75 kg",
        ),
        ({"coupling_drop": {"record": "pair.json"}}, {"verdict": "refused", "refusal": {"reason": "too dark"}}, "too dark"),
    ],
)  # fmt: skip
def test_a_sinking_of_something_else_is_told(
    tmp_path: Path, vehicle: dict[str, Any], pair: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        set_up(tmp_path, vehicle, pair=pair_record(**pair))


def test_a_stand_test_with_the_mass_that_stood_there(tmp_path: Path) -> None:
    vehicle = {"stand_test": {"drop": {"record": "pair.json"}, "mass": {"kg": 90, "u_kg": 1}}}
    told = set_up(tmp_path, vehicle, pair=pair_record(stand_test=STANDING, sink=None))
    assert told.vehicle.stand_test is not None and told.vehicle.stand_test.drop.value == 12.0


def test_what_is_typed_stands_above_what_records_tell(tmp_path: Path) -> None:
    vehicle = {"ball_height": {"record": "before.json"}, "coupled": False, "coupling_drop": {"record": "pair.json"}}
    raw = plain()
    del raw["vehicle"]["stand_test"]
    raw["vehicle"].update(vehicle)
    raw["correlation"] = [{"between": ["drop when coupled", "ball height"], "r": 0.25}]
    for name, record in {"before": before_record(), "pair": pair_record()}.items():
        (tmp_path / f"{name}.json").write_text(json.dumps(record), encoding="utf-8")
    (known,) = parse_setup(raw, folder=tmp_path, label="setup.toml").correlation
    assert known.r == 0.25


@pytest.mark.parametrize("u_mm", [None, 0.0, float("nan")])
def test_a_pair_that_does_not_tell_how_sure_it_is_tells_no_correlation(u_mm: float | None) -> None:
    told = pair_record(before={"record": None, "height_mm": 486.0, "u_mm": u_mm, "sheet_untouched": True})
    figures = {"ball height": ("height", before_record()), "drop when coupled": ("sinking", told)}
    assert not list(correlations(figures))  # type: ignore[arg-type]


def test_two_marks_of_one_picture_share_no_error_of_pointing() -> None:
    """Alike in what is claimed of each, and made by a hand apart."""
    one, other = (
        {"u_mm": 2.0, "inputs": [row("pick", 1.0), row("depth", 1.0)], "photos": [{"sha256": "a"}]} for _ in range(2)
    )
    assert not list(correlations({"ball height": ("height", one), "level coupling height": ("height", other)}))


def test_correlations_name_two_quantities_that_are_there(tmp_path: Path) -> None:
    raw = plain()
    raw["correlation"] = [{"between": ["ball height", "ball height"], "r": 0.5}]
    with pytest.raises(InputError, match="one quantity twice"):
        parse_setup(raw, folder=tmp_path, label="setup.toml")
    raw["correlation"] = [{"between": ["ball height", "ball hieght"], "r": 0.5}]
    told = parse_setup(raw, folder=tmp_path, label="setup.toml")
    with pytest.raises(InputError, match="'ball hieght', which is no quantity"):
        make_plan(told, band(), np.random.default_rng(1))


def test_a_record_without_a_sinking_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not tell how far the ball sank"):
        set_up(tmp_path, {"coupling_drop": {"record": "before.json"}}, before=before_record())


def test_records_of_one_print_share_what_its_bars_say() -> None:
    one = {
        "u_mm": 2.0,
        "print_number": 7,
        "inputs": [row("check bar x", 1.0), row("depth", 1.0)],
        "photos": [{"sha256": "a"}],
    }
    other = {
        "u_mm": 4.0,
        "print_number": 7,
        "inputs": [row("check bar x", 2.0), row("depth", 3.0)],
        "photos": [{"sha256": "b"}],
    }
    (found,) = correlations({"ball height": ("height", one), "level coupling height": ("height", other)})
    assert found[2] == pytest.approx(1.0 * 2.0 / (2.0 * 4.0))
    another = {**other, "print_number": 8}
    assert not list(correlations({"ball height": ("height", one), "level coupling height": ("height", another)}))


def test_a_height_and_a_pitch_of_one_picture_share_its_stance() -> None:
    height = {"u_mm": 2.0, "inputs": [row("sheet roll", 1.0, value=0.0)], "photos": [{"sha256": "a"}]}
    pitch = {"u_deg": 0.1, "inputs": [row("sheet roll", -8.0, value=0.0)], "photos": [{"sha256": "a"}]}
    (found,) = correlations(
        {"coupling height as it stands": ("height", height), "pitch as it stands": ("pitch", pitch)}
    )
    assert found[2] == pytest.approx(-8.0 / (2.0 * 10.0))


def test_draws_have_the_correlation_and_shares_add_up(tmp_path: Path) -> None:
    raw = plain()
    raw["correlation"] = [{"between": ["ball height", "level coupling height"], "r": 0.6}]
    told = parse_setup(raw, folder=tmp_path, label="setup.toml")
    drawn = drawn_values(quantities_of(told), np.random.default_rng(9), 50_000, told.correlation)
    assert np.corrcoef(drawn["ball height"], drawn["level coupling height"])[0, 1] == pytest.approx(0.6, abs=0.01)
    parts = make_plan(told, band(), np.random.default_rng(1)).sensitivities
    assert sum(part.height_share for part in parts) == pytest.approx(1.0)
    assert sum(part.pitch_share for part in parts) == pytest.approx(1.0)


def test_correlations_that_cannot_be_are_refused(tmp_path: Path) -> None:
    names = ("ball height", "level coupling height", "drawbar length")
    raw = plain()
    raw["correlation"] = [
        {"between": [names[i], names[j]], "r": r} for i, j, r in ((0, 1, 0.95), (1, 2, 0.95), (0, 2, -0.95))
    ]
    told = parse_setup(raw, folder=tmp_path, label="setup.toml")
    assert all(isinstance(one, Correlation) for one in told.correlation)
    with pytest.raises(InputError, match="contradict each other"):
        make_plan(told, band(), np.random.default_rng(1))
