"""Work in a thread beside other work: its outcome is what it would be without, and no thread outlives its block."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextvars import ContextVar

import cv2
import pytest

from photomeasure.seen.beside import beside, core_to_spare


@pytest.fixture(params=["two cores", "one core", "one thread"])
def cores(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    threads = cv2.getNumThreads()
    monkeypatch.setattr(
        os, "sched_getaffinity", lambda _: {0} if request.param == "one core" else {0, 1}, raising=False
    )
    cv2.setNumThreads(1 if request.param == "one thread" else 2)
    yield request.param
    cv2.setNumThreads(threads)


def test_what_was_made_is_handed_over(cores: str) -> None:
    where = []

    def work() -> int:
        where.append(threading.current_thread())
        return 41

    with beside(work) as made:
        assert made() + 1 == 42
        assert made() + 1 == 42 or cores != "two cores"
    assert core_to_spare() == (cores == "two cores")
    assert (where[0] is threading.current_thread()) == (cores != "two cores")


def test_what_was_raised_is_raised_where_the_result_is_asked_for(cores: str) -> None:
    def work() -> None:
        raise ValueError("damaged")

    with pytest.raises(ValueError, match="damaged"), beside(work) as made:
        made()


def test_a_result_that_nobody_asks_for_raises_nothing(cores: str) -> None:
    ran = []

    def work() -> None:
        ran.append(threading.current_thread())
        raise ValueError("damaged")

    with beside(work):
        pass
    assert [thread.is_alive() for thread in ran] == ([False] if cores == "two cores" else [])


def test_the_thread_has_ended_when_the_block_is_left_by_an_error(cores: str) -> None:
    go, running = threading.Event(), threading.active_count()
    with pytest.raises(KeyError), beside(lambda: go.wait(10.0)):
        go.set()
        raise KeyError
    assert threading.active_count() == running


def test_the_work_sees_the_context_of_who_began_it(cores: str) -> None:
    language: ContextVar[str] = ContextVar("language", default="en")
    language.set("nl")
    with beside(language.get) as made:
        assert made() == "nl"
