"""Photographs that came along with a job from another machine: their bytes are taken in place of the files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

_given: ContextVar[Mapping[Path, bytes] | None] = ContextVar("given", default=None)


@contextmanager
def given(files: Mapping[Path, bytes]) -> Iterator[None]:
    """While the block runs, in this thread, these paths stand for these bytes."""
    token = _given.set(files)
    try:
        yield
    finally:
        _given.reset(token)


def given_bytes(path: Path) -> bytes | None:
    """The bytes that stand for a path; None where the file itself is meant."""
    files = _given.get()
    return None if files is None else files.get(path)
