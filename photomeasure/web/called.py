"""Photographs under the names that people gave them: in all that is said of them, and never as a path that is opened."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.seen.given import given


@contextmanager
def called(photos: Iterable[tuple[Path, str]]) -> Iterator[None]:
    """While the block runs, in this thread, paths of these names stand for the photographs' bytes.

    photos: where each is stored, under a name of ours, and the person's own name for it, no two alike. What is made of a
    request with `Path(name)` then names the photographs as the person does, in sentences, records and pictures. A file that
    is gone raises InputError when its bytes are wanted.
    """
    with given(_Stored({Path(name): path for path, name in photos})):
        yield


class _Stored(Mapping[Path, bytes]):
    """Read when they are asked for, so that of many photographs no more are held than are looked at."""

    def __init__(self, stored: Mapping[Path, Path]) -> None:
        self._stored = stored

    def __getitem__(self, name: Path) -> bytes:
        path = self._stored[name]
        try:
            return path.read_bytes()
        except OSError as error:
            raise InputError(
                said("{name} is no longer here.", name=name),
                expected=said("the photographs that were sent"),
                remedy=said("send them again"),
            ) from error

    def __contains__(self, name: object) -> bool:
        return name in self._stored

    def __iter__(self) -> Iterator[Path]:
        return iter(self._stored)

    def __len__(self) -> int:
        return len(self._stored)
