"""A warm measurement of a 12 MP JPEG against decoding that JPEG to grey: `pytest --benchmark-enable -s tests/benchmarks`.

Compare the two rows' minimum; the ratio is what counts (goal 2), and it is no test. `test_stages` prints it in the processor's
time, which other work on the machine hardly moves, and where it goes, each part as a share of the decoding, of one photograph
and of three: all of it in one thread, as in a worker of a batch, for with more the parts lie over each other. `test_wall` prints
it as a person waits for it, with as many threads as there are cores: it means something on a machine that does nothing else
(`-n0 --dist=no`: benchmarks need a process of their own).
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
from photomeasure.record.schema import Record
from photomeasure.rules.load import default_rule

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
PHOTO = SAMPLES / "within.jpg"
RIGS = {"one": (PHOTO,), "three": tuple(SAMPLES / f"set-{number}.jpg" for number in (1, 2, 3))}


def test_decode_to_grey(benchmark: BenchmarkFixture) -> None:
    data = np.frombuffer(PHOTO.read_bytes(), np.uint8)
    assert benchmark(lambda: cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)).shape == (3000, 4000)


def job(rig: str = "one") -> str:
    request = Request(
        photos=RIGS[rig],
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=150.0, y_mm=150.0),
        state=State(coupled=False, laden=False, level_ground=True),
    )
    result = measure(request)
    assert isinstance(result, Result)
    return text_of(record_of(result, advice=advice_of(result)))


def text_of(record: Record) -> str:
    return record.to_json()


def test_jpeg_to_record(benchmark: BenchmarkFixture) -> None:
    assert '"verdict": "within"' in benchmark(job)


PART = "of it: "  # a row that is in the one before it, and counts for nothing in the sum
STAGES = {
    "the file: read, digest, EXIF": "photomeasure.seen.look:load_unchecked",
    "decoding it": "photomeasure.seen.image:jpeg_grey",
    "breaks": "photomeasure.seen.image:seam",
    "the sheet": "photomeasure.seen.look:find_sheets",
    f"{PART}codes": "calib.finding.sheets:find_codes",
    f"{PART}saddles": "calib.finding.sheets:fit_saddles",
    "the paper's edges": "photomeasure.seen.look:paper_seen",
    "the rest of the look": "photomeasure.pipeline:look",
    "pictures that are one": "photomeasure.pipeline:counted_once",
    "where it was taken from": "photomeasure.pipeline:estimate",
    "the ground sheet once more": "photomeasure.pipeline:ground_sheet_seen",
    "tags": "photomeasure.seen.centre.find:find_tags",
    "the ball": "photomeasure.seen.centre.ball.ball:find_candidates",
    "solution": "photomeasure.pipeline:settle_sides",
    "interval, verdict, notices": "photomeasure.pipeline:measure_from",
    "what photographs cannot show": "photomeasure.record.made_from_result:rests_on",
    "advice": "photomeasure.record.made_from_result:coach",
    "the record": f"{__name__}:record_of",
    "its text": f"{__name__}:text_of",
}


@pytest.fixture
def one_thread() -> Iterator[None]:
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(threads)


@pytest.mark.usefixtures("one_thread")
@pytest.mark.parametrize("rig", RIGS)
def test_stages(rig: str, benchmark: BenchmarkFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each row without the rows that are within it (but for the parts), so that they add up to the whole."""
    spent, now = dict.fromkeys(["grey", *STAGES, "all else"], float("inf")), dict[str, float]()
    within = [0.0]  # of each stage that is going on: what the stages in it took

    def timed(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any, **named: Any) -> Any:
            within.append(0.0)
            begun = time.process_time()
            try:
                return work(*given, **named)
            finally:
                took, inner = time.process_time() - begun, within.pop()
                now[name] = now.get(name, 0.0) + took - (0.0 if name.startswith(PART) else inner)
                within[-1] += inner if name.startswith(PART) else took

        return run

    for name, place in STAGES.items():
        module, _, what = place.partition(":")
        found = importlib.import_module(module)
        monkeypatch.setattr(found, what, timed(name, getattr(found, what)))
    pictures = [np.frombuffer(photo.read_bytes(), np.uint8) for photo in RIGS[rig]]
    decoded = timed("grey", lambda: [cv2.imdecode(data, cv2.IMREAD_GRAYSCALE) for data in pictures])
    whole = timed("all else", lambda: job(rig))
    for _ in range(9 if benchmark.enabled else 1):
        now.clear()
        decoded()
        whole()
        spent = {name: min(least, now.get(name, 0.0)) for name, least in spent.items()}
    benchmark.pedantic(decoded, rounds=1)  # type: ignore[no-untyped-call]
    grey = spent.pop("grey")
    together = sum(took for name, took in spent.items() if not name.startswith(PART))
    print(f"\n{rig}: record / grey decode = {together / grey:.2f} (processor)")
    for name, took in spent.items():
        print(f"  {name}: {took / grey:.3f}")


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
