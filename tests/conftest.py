"""What holds for every test: one thread of linear algebra and of OpenCV a process, and English.

The matrices here are small. Threads of OpenBLAS wait for each other by spinning, which costs two to three times the
processor's time of the whole run where every core has a process of its own already (`pytest -n auto`). Records are the same to
their last digit. Set before numpy is loaded; what is set outside stands above it.
"""

from __future__ import annotations

import gc
import os
import sys

gc.disable()  # what is loaded stays: looking through it again and again while it comes is a fifth of what loading costs

for _name in (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "OPENCV_FOR_THREADS_NUM",
):
    os.environ.setdefault(_name, "1")
os.environ.pop("LANGUAGE", None)  # what is compared here is English, whoever's terminal it is
os.environ["LC_ALL"] = "C.UTF-8"
# bytecode is kept for the processes that tests start: each would compile everything anew, half a second of the processor's
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

from collections.abc import Iterator  # noqa: E402
from functools import cache, partial  # noqa: E402
from typing import TYPE_CHECKING  # noqa: E402

import pytest  # noqa: E402
import typer.testing  # noqa: E402

if TYPE_CHECKING:
    from tests.seen_once import Kept

# Tests of looking itself, and of how long it takes
_LOOK_ANEW = ("tests/benchmarks/", "tests/fuzz/", "tests/seen/test_image.py", "tests/seen/test_files_that_harm.py")


@pytest.fixture(scope="module", autouse=True)
def _seen_once(request: pytest.FixtureRequest, pictures_seen: Kept) -> Iterator[None]:
    """The same photograph is decoded once in a process, and the kit found in it once."""
    from tests.seen_once import seen_once

    if request.node.nodeid.startswith(_LOOK_ANEW):
        yield
        return
    with seen_once(pictures_seen):
        yield


@pytest.fixture(scope="session")
def pictures_seen() -> Kept:
    from tests.seen_once import Kept

    return Kept()


@pytest.fixture(scope="session", autouse=True)
def _commands_once() -> Iterator[None]:
    """The tree of commands is worked out once in a process, and not anew for each that is typed: 30 ms, some hundred times."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typer.testing._get_command", cache(typer.testing._get_command))  # type: ignore[attr-defined]
        yield


@pytest.fixture
def in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Batches one rig after the other where the test is, where it is not the worker processes that are tested."""
    from photomeasure.batch import run
    from tests.batch.here import Here

    monkeypatch.setattr(run, "Workers", Here)


@pytest.fixture
def few_lens_models(monkeypatch: pytest.MonkeyPatch) -> None:
    """The two that the cameras of the tests need, where it proves nothing which is taken.

    Each one more is solved and held out anew in every photograph.
    """
    from calib.calibration import calibrate
    from tests.calib.finding.board_views import SHORT

    monkeypatch.setattr(calibrate, "calibrate", partial(calibrate.calibrate, models=SHORT))


@pytest.fixture
def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Monte Carlo in blocks of 1000 draws in place of 10 000, where it is not the draws that are tested."""
    from photomeasure.interval.montecarlo import monte_carlo

    monkeypatch.setattr("photomeasure.interval.montecarlo.monte_carlo", partial(monte_carlo, block=1000))


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Benchmarks run where times are asked for, and with the slow tests; what they measure is tested in its own room."""
    if not config.getoption("benchmark_enable", default=False):
        for item in items:
            if item.nodeid.startswith("tests/benchmarks/"):
                item.add_marker(pytest.mark.slow)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """From here on there is garbage to be looked for; what was loaded is none."""
    gc.freeze()
    gc.enable()
