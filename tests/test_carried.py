"""A centre that a bar tag carries over: statistics by sampling (everything drawn from what the priors claim), and its doors."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import chi2

from calib.outcome.errors import InputError
from photomeasure.asked.carried import Bar, Carried
from photomeasure.interval.carried import sink_mm
from photomeasure.record.carried import carried_from
from photomeasure.scene.priors import BAR_MOVED_RAD, carried_priors
from photomeasure.scene.scene import BAR_TURNS, OFFSET
from photomeasure.solution.model import bar_turn
from tests.points.pair import Pair, pair
from tests.points.simulate import Shot

BEFORE = Shot(source="ball", aside_mm=(-200.0, 200.0))
AFTER = Shot(lenses_mm=((250.0, -2100.0, 500.0),), aside_mm=(-200.0, 200.0))
PAIRS = 40


def pairs(sheet_untouched: bool) -> list[Pair]:
    rngs = [np.random.default_rng([71, seed]) for seed in range(PAIRS)]
    done = [pair(rng, before=BEFORE, after=AFTER, sheet_untouched=sheet_untouched) for rng in rngs]
    return [one for one in done if one is not None]


def test_the_tags_turn_is_scipys() -> None:
    turn, lean, roll = 0.4, 0.1, -0.2
    assert np.allclose(bar_turn(turn, lean, roll), Rotation.from_euler("ZXY", [turn, -lean, roll]).as_matrix())


@pytest.mark.parametrize("sheet_untouched", [True, False])
def test_heights_and_sinks_are_as_sure_as_they_say(sheet_untouched: bool) -> None:
    """Normalised errors of 40 pairs: their Birge ratio is within the 99.9 % limits of chi-square over its freedom."""
    low, high = np.sqrt(chi2.ppf([0.0005, 0.9995], PAIRS) / PAIRS)
    found = pairs(sheet_untouched)
    assert len(found) == PAIRS
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
    one = pairs(True)[0]
    told = sink_mm(one.after, one.carried)[1]
    silent = sink_mm(one.after, one.carried.model_copy(update={"sheet_untouched": None}))[1]
    assert told < silent


def test_priors_give_back_what_was_carried() -> None:
    """Six independent combinations hold the covariance of the record, with what may have turned since added."""
    carried = pairs(True)[0].carried
    names = (*OFFSET, *BAR_TURNS)
    rows = np.array([[prior.coefficients[name] / prior.u for name in names] for prior in carried_priors(carried)])
    expected = carried.matrix + np.diag([0.0, 0.0, 0.0, *(u**2 for u in BAR_MOVED_RAD)])
    assert np.allclose(np.linalg.inv(rows.T @ rows), expected, rtol=1e-6, atol=1e-9)
    means = np.array([prior.mean / prior.u for prior in carried_priors(carried)])
    assert np.allclose(np.linalg.solve(rows, means), carried.mean)


def test_what_is_no_covariance_is_refused() -> None:
    carried = json.loads(pairs(True)[0].carried.model_dump_json())
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
