"""A warm measurement of a 12 MP JPEG against decoding that JPEG to grey: `pytest --benchmark-enable tests/benchmarks`.

Compare the two rows' minimum; the ratio is what counts, and it is no test.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import Result, measure
from photomeasure.record.made_from_result import advice_of, record_of
from photomeasure.rules.load import default_rule

PHOTO = Path(__file__).resolve().parents[2] / "sample_images" / "within.jpg"


def test_decode_to_grey(benchmark: BenchmarkFixture) -> None:
    data = np.frombuffer(PHOTO.read_bytes(), np.uint8)
    assert benchmark(lambda: cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)).shape == (3000, 4000)


def test_jpeg_to_record(benchmark: BenchmarkFixture) -> None:
    request = Request(
        photos=(PHOTO,),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=150.0, y_mm=150.0),
        state=State(coupled=False, laden=False, level_ground=True),
    )

    def job() -> str:
        result = measure(request)
        assert isinstance(result, Result)
        return record_of(result, advice=advice_of(result)).to_json()

    assert '"verdict": "within"' in benchmark(job)
