"""Decoding in a child process, kept and used again: HEIC, AVIF and TIFF, whose decoders have been seen to crash.

An invalid HEIC of 567 bytes ends the process that decodes it with signal 11; here it costs that photograph and nothing else.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.decoding_child import LENGTH, REQUEST

LONGEST_S = 180.0  # for one picture; 48 million pixels of HEIC take about 2 s
_MOST_JSON = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """pixels: (h, w) grey, or (h, w, 3) red, green, blue; None where only the head could be read.

    base, inner: EXIF tags of the two directories by number, numbers and texts only.
    error: None, or "too-large", "raw", "crashed", or the decoder's words.
    """

    pixels: NDArray[np.uint8] | None
    error: str | None
    format: str = "?"
    size_px: tuple[int, int] = (0, 0)
    original_orientation: int | None = None
    base: dict[int, Any] = field(default_factory=dict)
    inner: dict[int, Any] = field(default_factory=dict)


class _Child:
    """One decoder process; a crash or a picture that takes too long ends it."""

    def __init__(self) -> None:
        # -P: a file in the folder in which the program runs is no module of the decoder's
        command = [sys.executable, "-P", str(Path(__file__).with_name("decoding_child.py"))]
        self.owner = os.getpid()
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )

    def ask(self, kind: bytes, data: bytes, most_pixels: int, long_side_px: int) -> tuple[dict[str, Any], bytearray]:
        """The answer's JSON and pixels; EOFError or OSError where the child has died."""
        assert self.process.stdin is not None and self.process.stdout is not None
        watch = threading.Timer(LONGEST_S, self.process.kill)
        watch.daemon = True
        watch.start()
        try:
            self.process.stdin.write(REQUEST.pack(kind, most_pixels, long_side_px, len(data)))
            self.process.stdin.write(data)
            self.process.stdin.flush()
            (length,) = LENGTH.unpack(_read(self.process.stdout, LENGTH.size))
            if length > _MOST_JSON:
                raise EOFError
            said: dict[str, Any] = json.loads(_read(self.process.stdout, length))
            return said, _read(self.process.stdout, said.get("bytes", 0))
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


def _read(stream: IO[bytes], count: int) -> bytearray:
    """Exactly so many bytes; EOFError where there are fewer."""
    found = bytearray(count)
    view, at = memoryview(found), 0
    while at < count:
        got = stream.readinto(view[at:])  # type: ignore[attr-defined]
        if not got:
            raise EOFError
        at += got
    return found


_lock = threading.Lock()
_child: _Child | None = None


@atexit.register
def _end() -> None:
    if _child is not None:
        _child.end()


def decode_aside(data: bytes, *, most_pixels: int, long_side_px: int | None = None) -> Decoded:
    """Decode; grey, or in colour with the long side no shorter than `long_side_px` (and less than twice that).

    One picture at a time; safe from several threads.
    """
    global _child
    kind = b"G" if long_side_px is None else b"C"
    with _lock:
        if _child is None or _child.owner != os.getpid() or _child.process.poll() is not None:
            _child = _Child()
        try:
            said, raw = _child.ask(kind, data, most_pixels, max(1, long_side_px or 1))
        except (OSError, EOFError, ValueError):
            _child.end()
            _child = None
            return Decoded(pixels=None, error="crashed")
    pixels = None
    if "rows" in said:
        shape = (said["rows"], said["columns"]) if kind == b"G" else (said["rows"], said["columns"], 3)
        pixels = np.frombuffer(raw, dtype=np.uint8).reshape(shape)
    return Decoded(
        pixels=pixels,
        error=said.get("error"),
        format=said.get("format") or "?",
        size_px=(said.get("width", 0), said.get("height", 0)),
        original_orientation=said.get("original_orientation"),
        base={int(tag): value for tag, value in said.get("base", {}).items()},
        inner={int(tag): value for tag, value in said.get("inner", {}).items()},
    )
