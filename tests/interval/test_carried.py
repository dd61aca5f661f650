"""A centre that a bar tag carries over: statistics by sampling (everything drawn from what the priors claim), and its doors."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import chi2
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.asked.carried import Bar, Carried
from photomeasure.cli import app
from photomeasure.interval.budget import sensitivities
from photomeasure.interval.carried import carried_u_mm, sink_mm
from photomeasure.record.carried import carried_from
from photomeasure.scene.bar_tag import CARRIED, carried_priors, moved_rad
from photomeasure.scene.priors import TAG_PLACEMENT_MM
from photomeasure.scene.scene import BAR_TURNS, OFFSET
from photomeasure.scene.shared import KnownRow, shared_rows
from photomeasure.solution.model import bar_turn
from photomeasure.solution.shared import rows_of
from tests.draws import draws
from tests.points.pair import Pair, pair
from tests.points.simulate import Shot

BEFORE = Shot(source="ball", aside_mm=(-200.0, 200.0))
BEFORE_BY_TAG = Shot(source="tag", aside_mm=(-200.0, 200.0))
AFTER = Shot(lenses_mm=((250.0, -2100.0, 500.0),), aside_mm=(-200.0, 200.0))


@cache
def pairs(sheet_untouched: bool, count: int) -> tuple[Pair, ...]:
    rngs = [np.random.default_rng([71, seed]) for seed in range(count)]
    done = [pair(rng, before=BEFORE, after=AFTER, sheet_untouched=sheet_untouched) for rng in rngs]
    return tuple(one for one in done if one is not None)


def test_the_tags_turn_is_scipys() -> None:
    turn, lean, roll = 0.4, 0.1, -0.2
    assert np.allclose(bar_turn(turn, lean, roll), Rotation.from_euler("ZXY", [turn, -lean, roll]).as_matrix())


@pytest.mark.parametrize("count", draws(10, 40))
@pytest.mark.parametrize("sheet_untouched", [True, False])
def test_heights_and_sinks_are_as_sure_as_they_say(sheet_untouched: bool, count: int) -> None:
    """Normalised errors: their Birge ratio is within the 99.9 % limits of chi-square over its freedom.

    By 10 an uncertainty that is too small by a factor of 1.8 is told, by 40 one of 1.35.
    """
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], count) / count)
    found = pairs(sheet_untouched, count)
    assert len(found) == count
    height = [(one.after.height_mm - one.height_after_mm) / one.after.u_mm for one in found]
    sinks = [sink_mm(one.after, one.carried) for one in found]
    sink = [(mm - one.sink_mm) / u for (mm, u), one in zip(sinks, found, strict=True)]
    for errors in (np.array(height), np.array(sink)):
        assert low < float(np.sqrt((errors**2).mean())) < high
        assert float((np.abs(errors) <= 2.0).mean()) >= 0.85
    if sheet_untouched:  # print, phone, stance and ground cancel: surer than the two heights
        for (_, u), one in zip(sinks, found, strict=True):
            assert u < 0.75 * np.hypot(one.before.u_mm, one.after.u_mm)


def test_an_untouched_sheet_tells_the_sink_more_surely() -> None:
    one = pairs(True, 1)[0]
    told = sink_mm(one.after, one.carried)[1]
    silent = sink_mm(one.after, one.carried.model_copy(update={"sheet_untouched": None}))[1]
    assert told < silent


@cache
def tag_pair() -> Pair:
    """Before, a centre tag that was stuck on by eye showed the height; its place is carried over, not the centre's own."""
    one = pair(np.random.default_rng(72), before=BEFORE_BY_TAG, after=AFTER, sheet_untouched=True)
    assert one is not None and one.carried.placement_mm == TAG_PLACEMENT_MM
    return one


@pytest.mark.parametrize("source", ["ball", "tag"])
@pytest.mark.parametrize("sheet_untouched", [True, False])
def test_a_sink_is_what_every_error_does_to_both_heights(source: str, sheet_untouched: bool) -> None:
    """JCGM 100:2008 5.1 and 5.2.2 row by row: an error of before moves that height, and this one through the tag; one that is
    shared moves both; how a tag was placed moves both alike, and no sink."""
    one = tag_pair() if source == "tag" else pairs(sheet_untouched, 1)[0]
    carried = one.carried.model_copy(update={"sheet_untouched": sheet_untouched})
    now, then = sensitivities(one.after), sensitivities(one.before)
    priors = one.after.scene.priors
    of_carried = [prior.quantity == CARRIED for prior in priors]
    last = now[len(now) - len(priors) :][of_carried]
    through = sum(
        effect * np.array([prior.coefficients[name] / prior.u for name in (*OFFSET, *BAR_TURNS)])
        for effect, prior in zip(last, np.array(priors, dtype=object)[of_carried], strict=True)
    )  # what a change of what was carried does to the height now
    offsets = -(one.before.covariance @ one.before.rows.jacobian.T)[one.before.where.at(*OFFSET, *BAR_TURNS)]  # (6, R)
    rows_now = dict((row.name, number) for number, row in rows_of(one.after.scene, one.after.rows.places))
    rows_then = dict((row.name, number) for number, row in rows_of(one.before.scene, one.before.rows.places))
    both = list(
        shared_rows(
            [row for _, row in rows_of(one.after.scene, one.after.rows.places)],
            carried.effects,
            sheet_untouched=sheet_untouched,
        )
    )
    difference = then - through @ offsets
    left = now.copy()
    left[len(now) - len(priors) :][of_carried] = 0.0
    for row in both:
        difference[rows_then[row.name]] = then[rows_then[row.name]] - now[rows_now[row.name]]
        left[rows_now[row.name]] = 0.0
    if source == "tag":
        placed = next(number for name, number in rows_then.items() if name.startswith("tag placement"))
        again = next(number for name, number in rows_now.items() if name.startswith("placement before"))
        assert then[placed] == pytest.approx(now[again]) == pytest.approx(TAG_PLACEMENT_MM)
        difference[placed], left[again] = 0.0, 0.0
    moved = through[3:] * np.array(moved_rad(sheet_untouched=one.carried.sheet_untouched is True))
    expected = np.sqrt(difference @ difference + left @ left + moved @ moved)
    told = sink_mm(one.after, carried)[1]
    assert told > 1.01 * carried_u_mm(one.after) or not sheet_untouched
    assert told == pytest.approx(float(expected), rel=1e-4)


def test_priors_give_back_what_was_carried() -> None:
    """Where nothing is shared, six independent combinations hold the record's covariance and what may have turned since."""
    carried = pairs(True, 1)[0].carried
    names = (*OFFSET, *BAR_TURNS)
    priors = carried_priors(carried, ())
    rows = np.array([[prior.coefficients[name] / prior.u for name in names] for prior in priors])
    expected = carried.matrix + np.diag([0.0, 0.0, 0.0, *(u**2 for u in moved_rad(sheet_untouched=True))])
    assert np.allclose(np.linalg.inv(rows.T @ rows), expected, rtol=1e-6, atol=1e-9)
    means = np.array([prior.mean / prior.u for prior in priors])
    assert np.allclose(np.linalg.solve(rows, means), carried.mean)


def test_an_error_that_both_share_moves_both() -> None:
    """A shared row is taken out of what was carried and put in as itself: together they are the record's covariance."""
    carried = pairs(True, 1)[0].carried
    name = next(name for name in carried.effects if name.startswith("check bar x"))
    parameters = name[name.index("[") + 1 : -1].split()
    row = KnownRow(name=name, coefficients=dict.fromkeys(parameters, 1.0 / len(parameters)), mean=0.0)
    names = (*OFFSET, *BAR_TURNS)
    priors = carried_priors(carried, (row,))
    axes = np.array([[prior.coefficients[one] for one in names] for prior in priors])
    own = axes.T @ np.diag([prior.u**2 for prior in priors]) @ axes
    by = np.array([-prior.coefficients[parameters[0]] * len(parameters) for prior in priors])
    moved = axes.T @ by
    assert np.allclose(moved, carried.effects[name][:6])
    expected = carried.matrix + np.diag([0.0, 0.0, 0.0, *(u**2 for u in moved_rad(sheet_untouched=True))])
    assert np.allclose(own + np.outer(moved, moved), expected, rtol=1e-6, atol=1e-9)


def test_what_is_no_covariance_is_refused() -> None:
    carried = json.loads(pairs(True, 1)[0].carried.model_dump_json())
    carried["covariance"][0][1] += 1.0
    with pytest.raises(ValueError, match="not symmetric"):
        Carried.model_validate(carried)
    bar = {name: value for name, value in carried.items() if name not in ("record", "sheet_untouched")}
    bar["covariance"] = (-np.eye(6)).tolist()
    with pytest.raises(ValueError, match="negative variance"):
        Bar.model_validate(bar)


def test_a_record_without_a_bar_tag_says_so(tmp_path: Path) -> None:
    from photomeasure.record.measure_and_record import recorded
    from tests.sample_requests import sample_request

    path = tmp_path / "before.json"
    path.write_text(recorded(sample_request())[1].to_json(), encoding="utf-8")
    with pytest.raises(InputError, match="no bar tag was found"):
        carried_from(path)


def test_through_the_command_line(tmp_path: Path) -> None:
    """Path-traced pictures of the bare ball and, 10-80 mm lower, of the coupled head, with truth beside them."""
    samples = Path(__file__).resolve().parents[2] / "sample_images"
    truth = {name: tomllib.loads((samples / f"pair-{name}.toml").read_text()) for name in ("before", "after")}

    def measured(name: str, *more: str) -> dict[str, Any]:
        bars = [f"--bar-{axis}={truth[name][f'bar_{axis}_mm']}" for axis in "xy"]
        path = tmp_path / f"{name}.json"
        photo = str(samples / f"pair-{name}.jpg")
        told = ["measure", photo, *bars, "--level-ground", "--json", str(path), *more]
        result = CliRunner().invoke(app, told)
        assert result.exit_code == 0, result.output
        record: dict[str, Any] = json.loads(path.read_text())
        return record

    before = measured("before", "--uncoupled", "--unladen")
    assert before["centre"]["source"] == "ball" and before["sink"] is None and before["bar"]["tag"] == 26
    after = measured("after", "--coupled", "--laden", "--from", str(tmp_path / "before.json"), "--sheet-untouched")
    assert after["centre"]["source"] == "carried"
    assert after["carried"]["record"] == "before.json" and 0.0 < after["carried"]["u_mm"] < after["u_mm"]
    assert abs(after["height_mm"] - truth["after"]["height_mm"]) <= after["U_mm"]
    sank = truth["before"]["height_mm"] - truth["after"]["height_mm"]
    assert abs(after["sink"]["mm"] - sank) <= 2.0 * after["sink"]["u_mm"] < 4.0
    verified = CliRunner().invoke(app, ["verify", str(tmp_path / "after.json"), "--photos", str(samples)])
    assert verified.exit_code == 0, verified.output
    _listed(samples, tmp_path, after)


def _listed(samples: Path, place: Path, alone: dict[str, Any]) -> None:
    """A row of a list that names the record from before gives the same to the last digit."""
    asked = alone["asked"]
    row = f"r1,{samples / 'pair-after.jpg'},before.json,yes,yes,yes,yes,{asked['bar_x_mm']},{asked['bar_y_mm']}"
    head = "rig,photo,from_record,sheet_untouched,coupled,laden,level_ground,bar_x_mm,bar_y_mm"
    (place / "rigs.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
    told = ["batch", str(place / "rigs.csv"), "--out", str(place / "out"), "--jobs", "1"]
    result = CliRunner().invoke(app, told)
    assert result.exit_code == 0, result.output
    listed = json.loads((place / "out" / "r1.json").read_text())
    assert listed["height_mm"] == alone["height_mm"] and listed["sink"] == alone["sink"]


def test_a_record_that_is_carried_from_must_be_of_the_same_tag(tmp_path: Path) -> None:
    samples = Path(__file__).resolve().parents[2] / "sample_images"
    path = tmp_path / "after.json"
    CliRunner().invoke(
        app, ["measure", str(samples / "pair-before.jpg"), "--uncoupled", "--json", str(tmp_path / "b.json")]
    )
    other = json.loads((tmp_path / "b.json").read_text())
    other["bar"]["tag"] = 30
    (tmp_path / "b.json").write_text(json.dumps(other))
    result = CliRunner().invoke(
        app, ["measure", str(samples / "pair-after.jpg"), "--from", str(tmp_path / "b.json"), "--json", str(path)]
    )
    assert result.exit_code == 3
    refusal = json.loads(path.read_text())["refusal"]
    assert refusal["code"] == "bar-tag-not-found" and "bar tag 26 is in the picture" in refusal["reason"]
