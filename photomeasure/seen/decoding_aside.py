"""Decoding in a child process, kept and used again: HEIC, AVIF and TIFF, whose decoders have been seen to crash; colours of large PNG.

An invalid HEIC of 567 bytes ends the process that decodes it with signal 11; here it costs that photograph and nothing else. Rows
come as they are decoded, so that neither process holds more of a picture than it has to (`decoder`).
"""

from __future__ import annotations

import atexit
import contextlib
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.decoder.framing import read_exactly, read_into, read_json, read_length, write_json

LONGEST_S = 180.0  # for one picture; 48 million pixels of HEIC take about 2 s
_MOST_SMALL_BYTES = 100_000_000
# the program's own folder is searched for the decoder only, and -P: a file in the folder in which the program runs is no module of its
_START = (
    "import sys; root = sys.argv[1]; sys.path.insert(0, root); from photomeasure.seen.decoder.serve import main; "
    "sys.path.remove(root); main()"
)
What = Literal["grey", "colour", "small"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnDisk:
    """A file that the decoder reads by itself. signature: of the file as it was read by this process (`alike.signature`)."""

    path: Path
    signature: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """most_pixels: of any picture; most_whole_pixels: of one that can only be decoded as a whole; small_pixels: of the small picture."""

    most_pixels: int
    most_whole_pixels: int
    small_pixels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """pixels: (h, w) grey, or (h, w, 3) red, green, blue; None where only the head could be read.

    base, inner: EXIF tags of the two directories by number, numbers and texts only. turns: how the pixels are still to
    be turned, one after the other, as EXIF's orientations; None: as EXIF says.
    small: JPEG of the picture in colour as it is stored, where it was asked for.
    error: None, or "too-large", "too-large-whole", "raw", "changed", "crashed", or the decoder's words.
    """

    pixels: NDArray[np.uint8] | None
    error: str | None
    format: str = "?"
    size_px: tuple[int, int] = (0, 0)
    original_orientation: int | None = None
    turns: tuple[int, ...] | None = None
    base: dict[int, Any] = field(default_factory=dict)
    inner: dict[int, Any] = field(default_factory=dict)
    small: bytes = field(default=b"", repr=False)


class _Child:
    """One decoder process; a crash or a picture that takes too long ends it."""

    def __init__(self) -> None:
        command = [sys.executable, "-P", "-c", _START, str(Path(__file__).resolve().parents[2])]
        self.owner = os.getpid()
        one_thread = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}  # each takes 40 MB of what the decoder may hold
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=one_thread
        )

    def ask(self, request: dict[str, Any], data: bytes) -> tuple[dict[str, Any], NDArray[np.uint8] | None, bytes]:
        """The answer's JSON, pixels and small picture; EOFError or OSError where the child has died."""
        assert self.process.stdin is not None and self.process.stdout is not None
        watch = threading.Timer(LONGEST_S, self.process.kill)
        watch.daemon = True
        watch.start()
        try:
            write_json(self.process.stdin, request)
            self.process.stdin.write(data)
            self.process.stdin.flush()
            head = read_json(self.process.stdout)
            if "rows" not in head:
                return head, None, b""
            pixels = _pixels(self.process.stdout, head, request)
            tail = read_json(self.process.stdout)
            if "error" in tail or pixels is None:
                return {**head, "error": tail.get("error", "rows are missing")}, None, b""
            if tail["small"] > _MOST_SMALL_BYTES:
                raise EOFError
            return head, pixels, bytes(read_exactly(self.process.stdout, tail["small"]))
        finally:
            watch.cancel()

    def end(self) -> None:
        if self.owner != os.getpid():  # a copy of the parent: the child is not ours
            return
        for stream in (self.process.stdin, self.process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):  # what was not yet sent to a dead child
                    stream.close()
        self.process.kill()
        self.process.wait()


def _pixels(stream: IO[bytes], head: dict[str, Any], request: dict[str, Any]) -> NDArray[np.uint8] | None:
    """What the blocks hold, where they fill the picture."""
    rows, columns, each = int(head["rows"]), int(head["columns"]), 3 if request["what"] == "colour" else 1
    if rows * columns > request["most_pixels"]:
        raise EOFError
    found = np.empty((rows, columns) if each == 1 else (rows, columns, each), dtype=np.uint8)
    view, at = found.reshape(-1).data, 0
    while length := read_length(stream):
        if at + length > len(view):
            raise EOFError
        read_into(stream, view[at : at + length])
        at += length
    return found if at == len(view) else None


_lock = threading.Lock()
_child: _Child | None = None


@atexit.register
def _end() -> None:
    if _child is not None:
        _child.end()


def decode_aside(
    file: bytes | OnDisk,
    *,
    limits: Limits,
    what: What = "grey",
    long_side_px: int = 1,
    small: Literal["never", "large", "always"] = "never",
) -> Decoded:
    """Decode; grey, or in colour with the long side no shorter than `long_side_px` (and less than twice that), or no pixels.

    small: whether a small picture in colour is made as well, never, or where the picture has more than `small_pixels`, or always.
    One picture at a time; safe from several threads.
    """
    global _child
    request = {
        "what": what,
        "long_side": max(1, long_side_px),
        "small": small,
        "small_pixels": limits.small_pixels,
        "most_pixels": limits.most_pixels,
        "most_whole_pixels": limits.most_whole_pixels,
        "path": str(file.path.resolve()) if isinstance(file, OnDisk) else None,
        "signature": list(file.signature) if isinstance(file, OnDisk) else None,
        "length": 0 if isinstance(file, OnDisk) else len(file),
    }
    with _lock:
        if _child is None or _child.owner != os.getpid() or _child.process.poll() is not None:
            _child = _Child()
        try:
            said, pixels, made = _child.ask(request, b"" if isinstance(file, OnDisk) else file)
        except (OSError, EOFError, ValueError, KeyError, TypeError):
            _child.end()
            _child = None
            return Decoded(pixels=None, error="crashed")
        except BaseException:  # its answer is still on the way, and would be taken for the next picture's
            _child.end()
            _child = None
            raise
    return Decoded(
        pixels=pixels,
        small=made,
        error=said.get("error"),
        format=said.get("format") or "?",
        size_px=(said.get("width", 0), said.get("height", 0)),
        original_orientation=said.get("original_orientation"),
        turns=None if said.get("turns") is None else tuple(said["turns"]),
        base={int(tag): value for tag, value in said.get("base", {}).items()},
        inner={int(tag): value for tag, value in said.get("inner", {}).items()},
    )
