"""A warm measurement of a 12 MP JPEG against decoding that JPEG to grey: `pytest --benchmark-enable -s tests/benchmarks`.

Compare the two rows' minimum; the ratio is what counts (goal 2), and it is no test. `test_stages` prints it in the processor's
time, which other work on the machine hardly moves, and where it goes, each part as a share of the decoding: all of it in one
thread, as in a worker of a batch, for with more the parts lie over each other. `test_wall` prints it as a person waits for it, with
as many threads as there are cores: it means something on a machine that does nothing else (`-n0 --dist=no`: benchmarks need a process of their own).
"""

from __future__ import annotations

import importlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
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


REQUEST = Request(
    photos=(PHOTO,),
    rule=default_rule("ball-50"),
    bars=Bars(x_mm=150.0, y_mm=150.0),
    state=State(coupled=False, laden=False, level_ground=True),
)


def job() -> str:
    result = measure(REQUEST)
    assert isinstance(result, Result)
    return record_of(result, advice=advice_of(result)).to_json()


def test_jpeg_to_record(benchmark: BenchmarkFixture) -> None:
    assert '"verdict": "within"' in benchmark(job)


STAGES = {
    "decoding it": "photomeasure.seen.image:jpeg_grey",
    "breaks": "photomeasure.seen.image:seam",
    "the sheet": "photomeasure.seen.look:find_sheets",
    "of it: codes": "calib.finding.sheets:find_codes",
    "of it: saddles": "calib.finding.sheets:fit_saddles",
    "the ground sheet once more": "photomeasure.pipeline:ground_sheet_seen",
    "tags": "photomeasure.seen.centre.find:find_tags",
    "the ball": "photomeasure.seen.centre.ball.ball:find_candidates",
    "solution": "photomeasure.pipeline:settle_sides",
    "what photographs cannot show": "photomeasure.record.made_from_result:rests_on",
    "advice": "photomeasure.record.made_from_result:coach",
}


@pytest.fixture
def one_thread() -> Iterator[None]:
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(threads)


@pytest.mark.usefixtures("one_thread")
def test_stages(benchmark: BenchmarkFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    data, spent = np.frombuffer(PHOTO.read_bytes(), np.uint8), dict.fromkeys(["record", "grey", *STAGES], float("inf"))
    now: dict[str, float] = {}

    def timed(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any, **named: Any) -> Any:
            begun = time.process_time()
            try:
                return work(*given, **named)
            finally:
                now[name] = now.get(name, 0.0) + time.process_time() - begun

        return run

    for name, place in STAGES.items():
        module, _, what = place.partition(":")
        found = importlib.import_module(module)
        monkeypatch.setattr(found, what, timed(name, getattr(found, what)))
    whole, grey = timed("record", job), timed("grey", lambda: cv2.imdecode(data, cv2.IMREAD_GRAYSCALE))
    for _ in range(9 if benchmark.enabled else 1):
        now.clear()
        grey()
        whole()
        spent = {name: min(least, now.get(name, 0.0)) for name, least in spent.items()}
    benchmark.pedantic(grey, rounds=1)  # type: ignore[no-untyped-call]
    print(f"\nrecord / grey decode = {spent['record'] / spent['grey']:.2f} (processor)")
    for name in STAGES:
        print(f"  {name}: {spent[name] / spent['grey']:.2f}")


def test_wall(benchmark: BenchmarkFixture) -> None:
    data = np.frombuffer(PHOTO.read_bytes(), np.uint8)
    works: tuple[Callable[[], Any], ...] = (lambda: cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), job)
    least = [float("inf")] * len(works)
    for _ in range(15 if benchmark.enabled else 1):
        for number, work in enumerate(works):
            begun = time.perf_counter()
            work()
            least[number] = min(least[number], time.perf_counter() - begun)
    benchmark.pedantic(works[0], rounds=1)  # type: ignore[no-untyped-call]
    print(f"\nrecord / grey decode = {least[1] / least[0]:.2f} (wall)")
