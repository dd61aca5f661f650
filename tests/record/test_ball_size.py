"""The ball's diameter in a record of a path-traced photograph of a 50 mm ball, and what a wrong statement of it brings."""

from __future__ import annotations

from pathlib import Path

import pytest

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import Record, read_record
from photomeasure.repeat.search import PhotoFolder
from photomeasure.repeat.verify import verify
from photomeasure.rules.load import default_rule

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images" / "within.jpg"


def record_of(*, ball_diameter_mm: float) -> Record:
    request = Request(
        photos=(SAMPLE,),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=150.0, y_mm=150.0),
        state=State(coupled=False, laden=True, level_ground=True),
        ball_diameter_mm=ball_diameter_mm,
    )
    return recorded(request)[1]


@pytest.mark.parametrize("stated_mm", [50.0, 52.5])
def test_the_ball_measures_what_it_is_whatever_was_stated(stated_mm: float, tmp_path: Path) -> None:
    record = record_of(ball_diameter_mm=stated_mm)
    assert record.ball is not None
    assert record.ball.diameter_mm == pytest.approx(50.0, abs=2.0 * record.ball.u_mm)
    assert record.ball.u_mm < 0.9
    warned = [sentence for sentence in record.warnings if "The ball looks" in sentence]
    assert len(warned) == (stated_mm != 50.0)
    assert ("ball-diameter" in [need.code for need in record.needs]) == bool(warned)
    assert any("does not look of the size" in why for why in record.indicative_why) == bool(warned)
    kept = tmp_path / "record.json"
    kept.write_text(record.to_json(), encoding="utf-8")
    assert read_record(kept).ball == record.ball
    assert verify(kept, PhotoFolder(SAMPLE.parent)).outcome == "same"
