"""A card on the sheet, photographed close up, tells the print's scale with its uncertainty, and is remembered for that print.

The close-ups are those of `tests/experiments/card_study.py`, which judges the figures over many.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from calib.kit.kit import kit
from calib.outcome.errors import InputError
from photomeasure.asked.bars import Bars
from photomeasure.asked.prints import remembered_print
from photomeasure.cli import app
from photomeasure.scene.priors import print_priors
from tests.experiments.card_study import NUMBER, CloseUp, close_up

SEED = 100_000


@cache
def shown(card: bool) -> CloseUp:
    return close_up("a4", np.random.default_rng([SEED, 5]), card=card)


@pytest.fixture(autouse=True)
def remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "remembered"
    monkeypatch.setattr("photomeasure.seen.camera_for.profile_folder", lambda: folder)
    return folder


def photograph(folder: Path, card: bool) -> Path:
    path = folder / "close-up.jpg"
    cv2.imwrite(str(path), shown(card).grey)
    return path


def test_the_scale_is_read_and_remembered_with_its_uncertainty(tmp_path: Path, remembered: Path) -> None:
    before = sorted(tmp_path.iterdir())
    photo = photograph(tmp_path, card=True)
    result = CliRunner().invoke(app, ["kit", "card", str(photo)])
    assert result.exit_code == 0, result.output
    assert f"{NUMBER:06d}" in result.output and "payment card" in result.output
    kept = remembered_print(remembered, NUMBER)
    assert kept is not None
    drawn = kit("a4").upright.bars_mm
    read = 0
    for length, u, axis in ((kept.bars.x_mm, kept.bars.x_u_mm, 0), (kept.bars.y_mm, kept.bars.y_u_mm, 1)):
        if length is not None:
            assert u is not None and 0.1 < u < 0.5
            assert abs(length - drawn[axis] * shown(True).scale[axis]) < 3.0 * u
            read += 1
    assert read >= 1
    assert sorted(tmp_path.iterdir()) == sorted([*before, photo, remembered])  # the picture is not kept anywhere
    none = CliRunner().invoke(app, ["kit", "card", str(photo), "--number", "0"])
    assert isinstance(none.exception, InputError) and "--number is 0" in str(none.exception)
    other = CliRunner().invoke(app, ["kit", "card", str(photo), "--number", "7"])
    assert other.exit_code != 0 and remembered_print(remembered, 7) is None


def test_without_a_card_nothing_is_remembered(tmp_path: Path, remembered: Path) -> None:
    result = CliRunner().invoke(app, ["kit", "card", str(photograph(tmp_path, card=False))])
    assert result.exit_code == 3 and "no-card" in result.output
    assert not remembered.exists()


def test_a_ruler_read_later_stands_in_the_cards_place(tmp_path: Path, remembered: Path) -> None:
    folder = remembered / "prints"
    folder.mkdir(parents=True)
    kept = {"schema": "photomeasure/print/1", "number": NUMBER, "bar_x_mm": 179.1, "bar_x_u_mm": 0.2, "bar_y_mm": 249.0}
    (folder / f"print-{NUMBER:06d}.json").write_text(json.dumps({**kept, "bar_y_u_mm": 0.3}))
    result = CliRunner().invoke(app, ["kit", "remember", "--number", str(NUMBER), "--bar-x", "179.5"])
    assert result.exit_code == 0, result.output
    after = remembered_print(remembered, NUMBER)
    assert after is not None
    assert after.bars == Bars(x_mm=179.5, y_mm=249.0, x_u_mm=None, y_u_mm=0.3)


def test_a_cards_bar_weighs_by_its_own_uncertainty() -> None:
    priors = {
        prior.quantity: prior for prior in print_priors(Bars(x_mm=179.12, y_mm=249.5, x_u_mm=0.2), (180.0, 250.0))
    }
    assert priors["check bar x"].u == 0.2 and "rule.error" not in priors["check bar x"].coefficients
    assert "rule.error" in priors["check bar y"].coefficients and "rule" in priors
    only = {
        prior.quantity for prior in print_priors(Bars(x_mm=179.1, y_mm=249.0, x_u_mm=0.2, y_u_mm=0.3), (180.0, 250.0))
    }
    assert "rule" not in only and "paper humidity" in only
