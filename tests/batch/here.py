"""Batches in the process of the tests, where it is not the processes that are tested."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any


class Here:
    """In place of worker processes: one task after the other, where the test is. Each new process would load everything anew."""

    def __init__(self, jobs: int, work: Callable[[Any], Any]) -> None:
        self._work = work

    def __enter__(self) -> Here:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def results(self, tasks: Sequence[Any]) -> Iterator[tuple[int, Any]]:
        return enumerate(map(self._work, tasks))
