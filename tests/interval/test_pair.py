"""Before and after solved as one: statistics by sampling, tags that moved, a sheet that was moved after all, and the command."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.asked.carried import Carried
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.cli import app
from photomeasure.interval.carried import bar_of
from photomeasure.interval.pair import Before, _from_before, before_of, stand_test
from photomeasure.scene.bar_tag import MOVED, carried_names, carried_priors, moved_rad
from photomeasure.scene.priors import TAG_PLACEMENT_MM
from photomeasure.scene.scene import MarkerView
from photomeasure.solution.bars_agree import Stayed, stayed
from photomeasure.solution.contradicted import contradicted
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import layout
from photomeasure.solution.model_of_many import residuals
from photomeasure.solution.rows import rows
from photomeasure.verdict.conformity import measured_height
from photomeasure.verdict.settled import settled_height
from photomeasure.verdict.state_of_band import Difference
from tests.draws import draws
from tests.points.pair_as_one import AsOne, as_one

PAIRS = draws(8, 20)
SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"


def solved(one: AsOne) -> tuple[Estimate, Before]:
    found = estimate(one.scene)
    assert isinstance(found, Estimate)
    before = before_of(found)
    assert before is not None
    return found, before


@pytest.mark.parametrize("count", PAIRS)
@pytest.mark.parametrize(
    ("sheet_untouched", "tags", "photos"),
    [(True, (26,), 1), pytest.param(False, (26, 30), 1, marks=pytest.mark.slow), (False, (26,), 2)],
)
def test_heights_and_sinkings_are_as_sure_as_they_say(
    sheet_untouched: bool, tags: tuple[int, ...], photos: int, count: int
) -> None:
    """Normalised errors: their Birge ratio is within the 99.9 % limits of chi-square over its freedom. Half as many where a pair
    costs most: an uncertainty too small by 2.2 is told by four, by 1.9 by eight."""
    count = count // photos
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], count) / count)
    height, sinking = [], []
    for seed in range(count):
        one = as_one(np.random.default_rng([83, seed]), sheet_untouched=sheet_untouched, tags=tags, photos=photos)
        found, before = solved(one)
        height.append((found.height_mm - one.height_mm) / found.u_mm)
        sinking.append((before.sank_mm - one.sank_mm) / before.u_sank_mm)
        assert 0.0 < before.carried_u_mm < found.u_mm
        if sheet_untouched:
            assert before.u_sank_mm < 0.75 * np.hypot(before.u_mm, found.u_mm)
    for errors in (np.array(height), np.array(sinking)):
        assert low < float(np.sqrt((errors**2).mean())) < high
        assert float((np.abs(errors) <= 2.0).mean()) >= 0.85


@pytest.mark.parametrize("count", PAIRS)
def test_a_stand_test_by_photographs_is_as_sure_as_it_says(count: int) -> None:
    """The ball in sight on both sides, no tag, the sheet untouched: the drop, and how it goes together with the height."""
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], count) / count)
    errors = []
    for seed in range(count):
        one = as_one(np.random.default_rng([84, seed]), sheet_untouched=True, tags=(), bare_now=True)
        found, before = solved(one)
        down_mm, u_mm, together = stand_test(found)
        assert down_mm == -before.sank_mm and u_mm == before.u_sank_mm
        assert together == pytest.approx(0.5 * (found.u_mm**2 + u_mm**2 - before.u_mm**2), rel=1e-6, abs=1e-9)
        errors.append((down_mm + one.sank_mm) / u_mm)
    assert low < float(np.sqrt((np.array(errors) ** 2).mean())) < high


@pytest.mark.parametrize("count", PAIRS)
def test_a_tag_that_stays_on_is_placed_once(count: int) -> None:
    """Both sides show one centre tag: how exactly it was placed moves both heights alike, and no drop (JCGM 100:2008 5.2.2)."""
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], count) / count)
    drops, heights = [], []
    for seed in range(count):
        rng = np.random.default_rng([85, seed])
        one = as_one(rng, sheet_untouched=True, tags=(), bare_now=True, source="tag")
        found, before = solved(one)
        assert before.u_sank_mm < 0.5 * TAG_PLACEMENT_MM < before.u_mm
        drops.append((before.sank_mm - one.sank_mm) / before.u_sank_mm)
        heights.append((found.height_mm - one.height_mm) / found.u_mm)
    for errors in (np.array(drops), np.array(heights)):
        assert low < float(np.sqrt((errors**2).mean())) < high


@pytest.mark.parametrize(("untouched", "tags"), [(True, (0, 1)), (False, (0, 0))])
def test_another_tag_or_a_rig_that_was_touched_is_placed_twice(untouched: bool, tags: tuple[int, int]) -> None:
    rng = np.random.default_rng(86)
    one = as_one(rng, sheet_untouched=untouched, tags=(), bare_now=True, source="tag", centre_tags=tags)
    assert solved(one)[1].u_sank_mm > np.sqrt(2.0) * TAG_PLACEMENT_MM


def test_nobody_on_the_bar_is_no_stand_test(tmp_path: Path) -> None:
    """Photographs of one rig standing still, given as one with somebody on the bar: nothing went down, and that is told."""
    truth = tomllib.loads((SAMPLES / "set.toml").read_text())
    told = [str(SAMPLES / "set-1.jpg"), "--standing", str(SAMPLES / "set-2.jpg"), "--uncoupled", "--unladen"]
    bars = [f"--bar-{axis}={truth[f'bar_{axis}_mm']}" for axis in "xy"]
    record = measured(tmp_path, "stand", *told, *bars, "--level-ground", "--stand-mass", "85", "--ball-load", "120")
    assert record["stand_test"]["mass_kg"] == 85.0
    assert abs(record["stand_test"]["drop_mm"]) <= 3.0 * record["stand_test"]["u_mm"] < 6.0
    assert abs(record["height_mm"] - truth["height_mm"]) <= record["U_mm"]
    assert any("no vehicle does" in why for why in record["warnings"])
    verified = CliRunner().invoke(app, ["verify", str(tmp_path / "stand.json"), "--photos", str(SAMPLES)])
    assert verified.exit_code == 0, verified.output
    for wrong in (["--coupled"], ["--before", str(SAMPLES / "set-3.jpg")]):
        said = CliRunner().invoke(app, ["measure", *told[:3], *wrong, "--stand-mass", "85"])
        assert isinstance(said.exception, InputError)


def test_the_advice_takes_the_drop_as_surely_as_it_was_photographed() -> None:
    """h - k d with the drop's own u and its covariance with h: 100 kg on a ball that went 8 mm down under 80 kg."""
    told = Sag(ball_load_kg=100.0, stand_mass_kg=80.0, stand_drop_mm=8.0, stand_u_mm=0.5, stand_with_height_mm2=0.3)
    rows = [Difference(why="", remedy="", about="coupled")]
    now = settled_height(measured_height(450.0, 1.2), told, State(coupled=False), rows)
    typed = settled_height(
        measured_height(450.0, 1.2),
        replace(told, stand_u_mm=None, stand_with_height_mm2=0.0),
        State(coupled=False),
        rows,
    )
    assert now is not None and typed is not None
    assert now.height_mm == typed.height_mm == pytest.approx(440.0)
    k, load_mm, mass_mm = 100.0 / 80.0, 10.0 * 0.10 / np.sqrt(3.0), 10.0 * (2.0 / 80.0) / np.sqrt(3.0)
    expected = 1.2**2 + (k * 0.5) ** 2 + load_mm**2 + mass_mm**2 - 2.0 * k * 0.3
    assert now.u_mm == pytest.approx(np.sqrt(expected), rel=1e-3)
    assert now.u_mm < typed.u_mm


def test_many_vectors_at_once_are_the_model() -> None:
    one = as_one(np.random.default_rng(5), sheet_untouched=False, tags=(26, 27))
    found, _ = solved(one)
    where = layout(found.scene)
    alone = rows(found.scene, where, found.x).residual
    assert np.allclose(residuals(found.scene, where, found.x[None])[0], alone, rtol=1e-9, atol=1e-7)


def test_what_photographs_from_before_tell_is_counted_row_by_row() -> None:
    """Sheets, a bay's markers and outlines one after the other: the outlines of before are those of before."""
    scene = as_one(np.random.default_rng(5), sheet_untouched=False, tags=(26,)).scene
    marks = MarkerView(
        photo=0, names=("1.0", "1.1", "1.2"), world_mm=np.eye(3), px=np.ones((3, 2)), sigma_px=np.ones(3), u_mm=1.0
    )
    scene = replace(scene, markers=(marks,))
    where = layout(scene)
    solved = SimpleNamespace(scene=scene, rows=rows(scene, where, np.full(len(where.names), 0.1)))
    told = np.array(solved.rows.quantities)[_from_before(solved)]  # type: ignore[arg-type]
    for kind, views in (
        ("ball outline", scene.outlines),
        ("corner noise", scene.planes),
        ("bar tag corners", scene.planes),
    ):
        each = 1 if kind == "ball outline" else 2
        expected = sum(each * len(view.px) for view in views if view.before and view.quantity == kind)
        assert (told == kind).sum() == expected > 0, kind
    assert "marker corner noise" not in told
    assert (told == "ball edge").sum() == sum(view.before for view in scene.outlines)
    assert not {"check bar x", "check bar y", "rule"} & set(told.tolist())  # one print, of both


@pytest.mark.parametrize("moved", [pytest.param(tag, marks=pytest.mark.slow) for tag in (26, 27, 30)])
# that one moved is found by two tags too: test_of_two_tags_nobody_can_tell_which_slid
def test_a_tag_that_moved_on_the_bar_is_left_out(moved: int) -> None:
    one = as_one(np.random.default_rng(11), sheet_untouched=True, tags=(26, 27, 30), moved=(moved, 3.0))
    kept = stayed(one.scene)
    assert isinstance(kept, Stayed)
    assert kept.moved == (None if moved == 26 else moved,)
    found = estimate(kept.scene)
    assert isinstance(found, Estimate)
    assert abs(found.height_mm - one.height_mm) <= 3.0 * found.u_mm
    # against the same rig, drawn alike, whose tags all stayed: a tag that is trusted moves the height or does not fit
    stood = estimate(as_one(np.random.default_rng(11), sheet_untouched=True, tags=(26, 27, 30)).scene)
    trusting = estimate(one.scene)
    assert isinstance(trusting, Estimate) and isinstance(stood, Estimate)
    by_trust, left = (abs(each.height_mm - stood.height_mm) for each in (trusting, found))
    assert by_trust > 3.0 * left or trusting.noise_scale > 1.2 * stood.noise_scale
    assert found.noise_scale < 1.1 * stood.noise_scale and left < 0.2 * found.u_mm


@pytest.mark.parametrize("count", draws(1, 6))
def test_tags_that_stayed_stay_in(count: int) -> None:
    for seed in range(count):
        kept = stayed(as_one(np.random.default_rng([12, seed]), sheet_untouched=False, tags=(26, 27)).scene)
        assert isinstance(kept, Stayed) and kept.moved == ()


def test_of_two_tags_nobody_can_tell_which_slid() -> None:
    one = as_one(np.random.default_rng(13), sheet_untouched=False, tags=(26, 27), moved=(27, 4.0))
    refused = stayed(one.scene)
    assert isinstance(refused, Refusal) and refused.code == "bar-tags-apart"


def test_a_rig_that_was_driven_on_though_nobody_said_so_is_noticed() -> None:
    one = as_one(np.random.default_rng(14), sheet_untouched=True, driven_mm=60.0)
    found, _ = solved(one)
    assert MOVED in dict(contradicted(found))
    still, _ = solved(as_one(np.random.default_rng(14), sheet_untouched=True))
    assert MOVED not in dict(contradicted(still))


def measured(folder: Path, name: str, *told: str, code: int = 0) -> dict[str, Any]:
    path = folder / f"{name}.json"
    result = CliRunner().invoke(app, ["measure", *told, "--json", str(path), "--no-ask"])
    assert result.exit_code == code, result.output
    record: dict[str, Any] = json.loads(path.read_text())
    return record


def test_through_the_command_line(tmp_path: Path) -> None:
    """Path-traced pictures of the bare ball and, 10-80 mm lower, of the coupled head, with truth beside them."""
    truth = {name: tomllib.loads((SAMPLES / f"pair-{name}.toml").read_text()) for name in ("before", "after")}
    bars = [f"--bar-{axis}={truth['after'][f'bar_{axis}_mm']}" for axis in "xy"]
    told = [str(SAMPLES / "pair-after.jpg"), "--before", str(SAMPLES / "pair-before.jpg"), *bars, "--level-ground"]
    record = measured(tmp_path, "pair", *told, "--coupled", "--laden", "--sheet-untouched")
    assert record["centre"]["source"] == "carried" and record["carried"]["record"] == "pair-before.jpg"
    assert record["carried"]["tag"] == 26 and 0.0 < record["carried"]["u_mm"] < record["u_mm"]
    assert [photo["before"] for photo in record["photos"]] == [False, True]
    assert abs(record["height_mm"] - truth["after"]["height_mm"]) <= record["U_mm"]
    sank = truth["before"]["height_mm"] - truth["after"]["height_mm"]
    assert abs(record["sink"]["mm"] - sank) <= 2.0 * record["sink"]["u_mm"] < 2.0
    assert "they agree" in record["centre"]["checks"][0]  # with the centre tag in the same picture
    verified = CliRunner().invoke(app, ["verify", str(tmp_path / "pair.json"), "--photos", str(SAMPLES)])
    assert verified.exit_code == 0, verified.output


def test_what_contradicts_the_carried_centre_is_told(tmp_path: Path) -> None:
    """A mark in the picture of now, 60 pixels too high, is compared with where the solution has the centre."""
    told = [str(SAMPLES / "pair-after.jpg"), "--before", str(SAMPLES / "pair-before.jpg"), "--coupled"]
    marks = ["--centre", "1172.9,1457.3", "--centre", "1622,985"]
    record = measured(tmp_path, "told", *told, "--bar-x", "179.5", "--bar-y", "249.5", *marks)
    against = [why for why in record["warnings"] if "marked centre is" in why]
    assert len(against) == 1 and "contradict each other" in against[0] and record["indicative"]


def test_both_sides_have_to_be_there(tmp_path: Path) -> None:
    after, before = (str(SAMPLES / f"pair-{name}.jpg") for name in ("after", "before"))
    said = CliRunner().invoke(app, ["measure", after, "--before", before, "--from", "a.json"])
    assert isinstance(said.exception, InputError) and "one of the two" in str(said.exception.expected)
    said = CliRunner().invoke(app, ["measure", after, "--sheet-untouched"])
    assert isinstance(said.exception, InputError)
    record = measured(tmp_path, "no", after, "--before", str(SAMPLES / "within.jpg"), "--coupled", code=3)
    assert record["refusal"]["code"] == "two-kits"  # a print of another edition: nothing is shared


def test_a_record_carries_every_tag_that_it_shows() -> None:
    """Twelve numbers of two tags go into a record and come back as priors with their covariance and what may have turned since."""
    found, _ = solved(as_one(np.random.default_rng(21), sheet_untouched=False, tags=(26, 27)))
    carried = Carried(**bar_of(found, 26, (27,)).model_dump(), record="before.json")
    assert carried.tags == (26, 27) and len(carried.mean) == 12
    names = carried_names(carried.more)
    priors = carried_priors(Carried.model_validate_json(carried.model_dump_json()), ())
    rows = np.array([[prior.coefficients[name] / prior.u for name in names] for prior in priors])
    expected = carried.matrix
    expected[range(3, 6), range(3, 6)] += np.square(moved_rad(sheet_untouched=carried.sheet_untouched is True))
    assert np.allclose(np.linalg.inv(rows.T @ rows), expected, rtol=1e-5, atol=1e-8)
    short = json.loads(carried.model_dump_json()) | {"more": []}
    with pytest.raises(ValueError, match="six for each bar tag"):
        Carried.model_validate(short)
