"""Photographs whose bytes are at hand already, come along with a job or fetched from elsewhere: taken in place of the files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

_given: ContextVar[Mapping[Path, bytes | None] | None] = ContextVar("given", default=None)


@contextmanager
def given(files: Mapping[Path, bytes | None]) -> Iterator[None]:
    """While the block runs, in this thread, these paths stand for these bytes; None: for more than any photograph has."""
    token = _given.set(files)
    try:
        yield
    finally:
        _given.reset(token)


def is_given(path: Path) -> bool:
    """Whether a path stands for bytes, and no file is meant."""
    return path in (_given.get() or {})


def given_bytes(path: Path) -> bytes | None:
    """The bytes that stand for a path; None where the file itself is meant, or it is more than any photograph has."""
    return (_given.get() or {}).get(path)
