"""A process that decodes photographs for the one that started it, so that a decoder that crashes costs one picture, and that
what a hostile file makes it ask for is bounded: HEIC, AVIF and TIFF; PNG where it is large, for its colours.

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
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from photomeasure.seen.decoder.answers import answer
from photomeasure.seen.decoder.framing import read_exactly, read_json, write_json

MOST_DATA_BYTES = 700_000_000  # that it may hold; 200 million pixels of HEIC took 320, 64 million as a whole (`image.MAX_WHOLE_PIXELS`) 350
_MOST_ADDRESSES = 6_000_000_000  # of all kinds: programs, files, the stacks of threads


def bound() -> None:
    """Set the limits of this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to handle
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (MOST_DATA_BYTES, MOST_DATA_BYTES))
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_ADDRESSES, _MOST_ADDRESSES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ImportError, ValueError, OSError):  # not on every system
        pass


@contextmanager
def _file(request: dict[str, Any], source: IO[bytes]) -> Iterator[IO[bytes]]:
    """The photograph's file: its bytes as they come with the request, or where it is on disk."""
    if request["path"] is None:
        yield io.BytesIO(bytes(read_exactly(source, request["length"])))
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
        except OSError:  # moved meanwhile; every other fault is told by `answer`
            write_json(sink, {"error": "changed"})


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
