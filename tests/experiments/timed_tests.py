"""What each test costs in the processor's seconds, of its own and of processes that it waited for. A plugin, by hand.

    TESTS_TIMED=/tmp/times python -m pytest -p tests.experiments.timed_tests [-n auto] tests
    python -m tests.experiments.timed_tests /tmp/times [--depth 2] [--count 40]

Wall time tells little on a machine that does other things. A browser or a server counts where it is ended; what a fixture
costs that several tests share counts at the first, as "setup". The second line adds up by folder and names the dearest.
"""

from __future__ import annotations

import argparse
import os
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

_BEGAN = [0.0]


def _spent() -> float:
    own = os.times()
    return own.user + own.system + own.children_user + own.children_system


def _note(what: str, phase: str, processor_s: float, wall_s: float) -> None:
    folder = Path(os.environ["TESTS_TIMED"])
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"{os.getpid()}.tsv").open("a", encoding="utf-8") as file:
        file.write(f"{what}\t{phase}\t{processor_s:.3f}\t{wall_s:.3f}\n")


def pytest_collection_finish(session: pytest.Session) -> None:
    _note("(loading and collecting)", "session", _spent(), time.process_time())
    _BEGAN[0] = _spent()


def pytest_sessionfinish(session: pytest.Session) -> None:
    _note("(everything after)", "session", _spent() - _BEGAN[0], 0.0)


def _phase(item: pytest.Item, phase: str) -> Iterator[None]:
    before, at = _spent(), time.perf_counter()
    yield
    _note(item.nodeid, phase, _spent() - before, time.perf_counter() - at)


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_setup(item: pytest.Item) -> Iterator[None]:
    yield from _phase(item, "setup")


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    yield from _phase(item, "call")


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_teardown(item: pytest.Item) -> Iterator[None]:
    yield from _phase(item, "teardown")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--depth", type=int, default=2)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--only", default="")
    said = parser.parse_args()
    rooms: dict[str, list[float]] = defaultdict(list)
    files: dict[str, list[float]] = defaultdict(list)
    each: dict[str, float] = defaultdict(float)
    wall: dict[str, float] = defaultdict(float)
    for path in sorted(said.folder.glob("*.tsv")):
        for line in path.read_text(encoding="utf-8").splitlines():
            what, phase, spent, took = line.split("\t")
            if said.only not in what:
                continue
            each[f"{what} [{phase}]"] += float(spent)
            wall[f"{what} [{phase}]"] += float(took)
            name = what.split("::")[0]
            files[name].append(float(spent))
            rooms["/".join(name.split("/")[: said.depth])].append(float(spent))
    for title, found in (("folders", rooms), ("files", files)):
        print(f"{title}: processor seconds")
        for name, spent in sorted(found.items(), key=lambda one: -sum(one[1]))[: said.count]:
            print(f"{sum(spent):9.1f}  {name}")
    print("tests: processor seconds, wall seconds")
    for name, seconds in sorted(each.items(), key=lambda one: -one[1])[: said.count]:
        print(f"{seconds:9.2f} {wall[name]:7.2f}  {name}")


if __name__ == "__main__":
    main()
