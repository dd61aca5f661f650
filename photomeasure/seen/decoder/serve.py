"""A process that decodes photographs for the one that started it, so that a decoder that crashes costs one picture, and that
what a hostile file makes it ask for is bounded where the system can do that: HEIC, AVIF and TIFF; PNG where it is large, for its colours.

Over standard input it gets requests, one after the other (`answers`), and answers each over standard output. It ends when its input does.
"""

from __future__ import annotations

import ctypes
import gc
import io
import signal
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from photomeasure.seen.decoder.answers import answer
from photomeasure.seen.decoder.framing import read_exactly, read_json, write_json

MOST_DATA_BYTES = 700_000_000  # that it may hold; 200 million pixels of HEIC took 320, 64 million as a whole (`image.MAX_WHOLE_PIXELS`) 350
_PART_BYTES = 1 << 20
_MOST_ADDRESSES = 6_000_000_000  # of all kinds: programs, files, the stacks of threads


def bound() -> None:
    """Set the limits of this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to handle
    try:
        import resource
    except ImportError:  # not on every system
        return
    limits = {resource.RLIMIT_DATA: MOST_DATA_BYTES, resource.RLIMIT_AS: _MOST_ADDRESSES, resource.RLIMIT_CORE: 0}
    for kind, most in limits.items():
        allowed = resource.getrlimit(kind)[1]
        least = most if allowed == resource.RLIM_INFINITY else min(most, allowed)
        with suppress(ValueError, OSError):  # each by itself
            resource.setrlimit(kind, (least, least))


@contextmanager
def _file(request: dict[str, Any], source: IO[bytes]) -> Iterator[IO[bytes]]:
    """The photograph's file: its bytes as they come with the request, or where it is on disk."""
    if request["path"] is None:
        held, left = io.BytesIO(), int(request["length"])
        while left:  # a file is held once
            left -= held.write(read_exactly(source, min(left, _PART_BYTES)))
        held.seek(0)
        yield held
        return
    with Path(request["path"]).open("rb") as file:
        yield file


def serve() -> None:
    """Answer until there are no more requests."""
    source, sink = sys.stdin.buffer, sys.stdout.buffer
    while True:
        try:
            request = read_json(source)
        except EOFError:
            return
        try:
            with _file(request, source) as file:
                answer(request, file, sink)
            give_back()
        except (EOFError, BrokenPipeError):
            return
        except FileNotFoundError:  # moved meanwhile
            write_json(sink, {"error": "changed"})
        except OSError as error:  # it may not be opened; every other fault is told by `answer`
            write_json(sink, {"error": f"{type(error).__name__}: {error}"[:300]})


def give_back() -> None:
    """What was freed but is still held, tens of MB after a large picture, goes back to the system, where the C library can do that."""
    gc.collect()
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(0)


def main() -> None:
    """Run as a process of its own."""
    bound()
    warnings.simplefilter("ignore")
    serve()
