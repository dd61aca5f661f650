"""A card on the sheet, photographed close up, tells the print's scale with its uncertainty, and is remembered for that print.

The close-ups are those of `tests/experiments/card_study.py`, which judges the figures over many.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.stats import chi2
from typer.testing import CliRunner

from calib.kit.kit import kit
from calib.outcome.errors import InputError
from photomeasure.asked.bars import Bars
from photomeasure.asked.prints import remembered_print
from photomeasure.cli import app
from photomeasure.scene.print_scale import CARD_ERROR, USUAL_CARD_CORRELATION, print_priors
from photomeasure.solution.estimate import Estimate, estimate
from tests.experiments import card_study
from tests.experiments.card_study import NUMBER, CloseUp
from tests.points.simulate import Shot, simulate

SEED = 100_000


@cache
def shown(card: bool) -> CloseUp:
    """At 0.75 of the size that the study draws them in, and one sample a pixel: a ninth of the work."""
    with pytest.MonkeyPatch.context() as drawn:
        drawn.setattr(card_study, "SIZE_PX", (2400, 1800))
        drawn.setattr(card_study, "FINE", 1)
        return card_study.close_up("a4", np.random.default_rng([SEED, 5]), card=card)


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
            assert (kept.bars.correlation is None) == (None in (kept.bars.x_mm, kept.bars.y_mm))
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


@pytest.mark.parametrize("correlation", [0.0, 0.4, None])
def test_what_both_bars_owe_to_one_card_is_one_row(correlation: float | None) -> None:
    """Each bar is as sure as the card said, and both go together as it said: the rows' own covariance, by hand."""
    bars = Bars(x_mm=179.12, y_mm=249.5, x_u_mm=0.2, y_u_mm=0.3, correlation=correlation)
    priors = {prior.quantity: prior for prior in print_priors(bars, (180.0, 250.0))}
    x, y = (priors[f"check bar {axis}"] for axis in "xy")
    card_u = priors["card"].u if "card" in priors else 0.0
    by_card = np.array([prior.coefficients.get(CARD_ERROR, 0.0) * card_u for prior in (x, y)])
    covariance = np.diag([x.u**2, y.u**2]) + np.outer(by_card, by_card)
    r = USUAL_CARD_CORRELATION if correlation is None else correlation
    assert covariance == pytest.approx(np.array([[0.04, r * 0.06], [r * 0.06, 0.09]]))
    assert "card" not in {prior.quantity for prior in print_priors(replace(bars, y_u_mm=None), (180.0, 250.0))}


def test_a_card_that_errs_in_both_bars_makes_the_height_less_sure() -> None:
    """Scenes drawn from those rows: the interval holds (99.9 % limits of chi-square), and is wider than of two rulers' worth."""
    bars = Bars(x_mm=179.12, y_mm=249.5, x_u_mm=0.3, y_u_mm=0.4, correlation=0.7)
    errors, u_mm = [], {}
    for seed in range(40):
        made = simulate(Shot(bars=bars), np.random.default_rng([91, seed]))
        solved = estimate(made.scene)
        assert isinstance(solved, Estimate)
        errors.append((solved.height_mm - made.height_mm) / solved.u_mm)
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], len(errors)) / len(errors))
    assert low < float(np.sqrt(np.mean(np.square(errors)))) < high
    scene = simulate(Shot(bars=bars), np.random.default_rng(92)).scene
    of_bars = {"check bar x", "check bar y", "card"}
    for r in (0.0, 0.7):
        priors = [prior for prior in scene.priors if prior.quantity not in of_bars]
        priors += [
            prior for prior in print_priors(replace(bars, correlation=r), (180.0, 250.0)) if prior.quantity in of_bars
        ]
        one = estimate(replace(scene, priors=tuple(priors)))
        assert isinstance(one, Estimate)
        u_mm[r] = one.u_mm
    assert (
        u_mm[0.7] > 1.02 * u_mm[0.0]
    )  # in one and the same scene; a pixel that is square to 0.3 % lets the ratio of the bars tell less
