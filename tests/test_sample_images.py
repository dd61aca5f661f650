"""The sample pictures hold what their truth files say. They are demo data: nothing is tuned on them."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused

SAMPLES = Path(__file__).resolve().parents[1] / "sample_images"


def truths() -> list[str]:
    """Names of the truth files of pictures (the setups of `plan` have no height)."""
    return sorted(p.stem for p in SAMPLES.glob("*.toml") if "height_mm" in tomllib.loads(p.read_text()))


def load(name: str) -> dict[str, Any]:
    return tomllib.loads((SAMPLES / f"{name}.toml").read_text())


def request(truth: dict[str, Any], *, pick: bool) -> Request:
    return Request(
        photos=tuple(SAMPLES / file for file in truth["files"]),
        rule=default_rule("ball-50"),
        centres_px=tuple((float(x), float(y)) for x, y in truth["centre_px"]) if pick else (),
        bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
        state=State(coupled=truth["coupled"], laden=truth["laden"], level_ground=truth["level_ground"]),
    )


def test_every_kind_of_sample_is_there() -> None:
    assert {"within", "above", "close-call", "coupled", "set", "chat", "refuse"} <= set(truths())


@pytest.mark.parametrize("name", truths())
def test_sample_is_measured_or_refused_as_it_should_be(name: str) -> None:
    truth = load(name)
    if name == "pair-after":  # its centre is carried over: tests/interval/test_carried.py
        return
    outcome = measure(request(truth, pick=not truth["coupled"]))
    if name == "refuse":
        assert isinstance(outcome, Refused)
        return
    assert isinstance(outcome, Result)
    assert abs(outcome.estimate.height_mm - truth["height_mm"]) <= 3.0 * outcome.estimate.u_mm


@pytest.mark.parametrize("name", ["within", "above", "set"])
def test_ball_is_found_or_asked_for(name: str) -> None:
    """A wrong ball taken as sure would be the worst: what is found by itself has to be right."""
    truth = load(name)
    outcome = measure(request(truth, pick=False))
    if isinstance(outcome, Result):
        assert abs(outcome.estimate.height_mm - truth["height_mm"]) <= 3.0 * outcome.estimate.u_mm
    else:
        assert outcome.refusal.code in ("ball-not-found", "ball-ambiguous")
