"""Every test on the same photograph looks at it once: what is found in it and read from it is kept in a process.

The sample photographs are measured some hundreds of times in a run. What is kept are functions of a file's bytes, or of a picture
and of what was found in it or where it was taken from, and of nothing else; tests of them call them as they are. What is kept is kept read-only: who
changes a picture that others look at, too, is told.
"""

from __future__ import annotations

import hashlib
import pickle
import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.sheets import Finding, find_sheets
from calib.outcome.refusal import Refusal
from photomeasure.seen import board_photos, image, look
from photomeasure.seen.card import scale
from photomeasure.seen.centre.ball import ball
from photomeasure.seen.centre.ball.ball import Candidate
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.decoding_aside import OnDisk
from photomeasure.seen.image import Photo, Unchecked

MOST_BYTES = 250_000_000  # of pictures, in each process
T = TypeVar("T")


class Kept:
    """The last results by their keys, as long as all of them are not too large; servers of tests ask from threads of theirs."""

    def __init__(self) -> None:
        self._found: OrderedDict[object, tuple[Any, int]] = OrderedDict()
        self._digests: dict[int, tuple[weakref.ref[NDArray[np.uint8]], bytes]] = {}
        self._bytes, self._lock = 0, threading.Lock()

    def of(self, key: object, size: Callable[[T], int], make: Callable[[], T]) -> T:
        """What `make` made under this key, now or before."""
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                found: T = self._found[key][0]
                return found
        made = make()
        with self._lock:
            if key not in self._found:
                self._found[key] = made, size(made)
                self._bytes += size(made)
            while self._bytes > MOST_BYTES and len(self._found) > 1:
                self._bytes -= self._found.popitem(last=False)[1][1]
        return made

    def digest(self, grey: NDArray[np.uint8]) -> bytes:
        """Of a picture's shape and pixels; worked out once for one that nobody can change."""
        known = self._digests.get(id(grey))
        if known is not None and known[0]() is grey:
            return known[1]
        found = hashlib.sha1(repr(grey.shape).encode() + grey.tobytes()).digest()
        if not grey.flags.writeable:
            self._digests[id(grey)] = weakref.ref(grey), found
        return found


@contextmanager
def seen_once(kept: Kept) -> Iterator[None]:
    """Decoding, finding and reading by what is kept, until it ends."""
    decode, check = image._decoded, Unchecked.checked
    colours, find, balls = Photo._stored_colours, find_sheets, ball.find_candidates

    def decoded(path: Path, data: bytes, on_disk: OnDisk | None = None) -> Unchecked | Refusal:
        def make() -> Unchecked | Refusal:
            found = decode(path, data, on_disk)
            if isinstance(found, Unchecked):
                found.photo.grey.setflags(write=False)
                found.stored.setflags(write=False)
            return found

        def size(found: Unchecked | Refusal) -> int:
            return (
                len(found.photo.data) + len(found.photo.small) + found.photo.grey.nbytes
                if isinstance(found, Unchecked)
                else 0
            )

        found = kept.of(("decoded", path.name, hashlib.sha256(data).digest()), size, make)
        return replace(found, photo=replace(found.photo, path=path)) if isinstance(found, Unchecked) else found

    def checked(found: Unchecked) -> Photo:
        breaks = kept.of(("breaks", found.photo.sha256), lambda seen: 0, lambda: check(found).breaks_at)
        return replace(found.photo, breaks_at=breaks)

    def coloured(photo: Photo, long_side_px: int) -> NDArray[np.uint8] | None:
        def make() -> NDArray[np.uint8] | None:
            found = colours(photo, long_side_px)
            if found is not None:
                found.setflags(write=False)
            return found

        key = ("colours", photo.sha256, long_side_px)
        return kept.of(key, lambda found: 0 if found is None else found.nbytes, make)

    def found_in(grey: NDArray[np.uint8]) -> Finding | Refusal:
        return kept.of(("sheets", kept.digest(grey)), lambda found: 0, lambda: find(grey))

    def balls_in(view: SearchedPicture, other_sizes_mm: Sequence[float] = ()) -> tuple[Candidate, ...]:
        rest = pickle.dumps([getattr(view, field.name) for field in fields(view) if field.name != "grey"])
        key = ("balls", kept.digest(view.grey), rest, tuple(other_sizes_mm))
        return kept.of(key, lambda found: 0, lambda: balls(view, other_sizes_mm))

    def once(name: str) -> Callable[..., Any]:
        real = getattr(look, name)

        def seen(grey: NDArray[np.uint8], found: object) -> Any:
            return kept.of((name, kept.digest(grey), pickle.dumps(found)), lambda said: 0, lambda: real(grey, found))

        return seen

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(image, "_decoded", decoded)
        patch.setattr(Unchecked, "checked", checked)
        patch.setattr(Photo, "_stored_colours", coloured)
        patch.setattr(ball, "find_candidates", balls_in)
        for module in (look, board_photos, scale):
            patch.setattr(module, "find_sheets", found_in)
        for name in ("judge_quality", "paper_seen", "read_answers", "read_number"):
            patch.setattr(look, name, once(name))
        yield
