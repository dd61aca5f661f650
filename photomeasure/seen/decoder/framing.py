"""Blocks over a pipe: a length and so many bytes."""

from __future__ import annotations

import json
import struct
from typing import IO, Any

_LENGTH = struct.Struct("<I")
_MOST_JSON = 1_000_000


def write_block(sink: IO[bytes], data: bytes | bytearray | memoryview) -> None:
    """One block; not flushed."""
    sink.write(_LENGTH.pack(len(data)))
    sink.write(data)


def write_json(sink: IO[bytes], said: dict[str, Any]) -> None:
    """One block of JSON, flushed."""
    write_block(sink, json.dumps(said).encode("ascii"))
    sink.flush()


def read_length(source: IO[bytes]) -> int:
    """How long the next block is; EOFError where there is none."""
    return int(_LENGTH.unpack(read_exactly(source, _LENGTH.size))[0])


def read_json(source: IO[bytes]) -> dict[str, Any]:
    """A block of JSON; EOFError where there is none, or one that is too long to be one."""
    length = read_length(source)
    if length > _MOST_JSON:
        raise EOFError
    said: dict[str, Any] = json.loads(read_exactly(source, length))
    return said


def read_exactly(source: IO[bytes], count: int) -> bytearray:
    """So many bytes; EOFError where there are fewer."""
    found = bytearray(count)
    read_into(source, memoryview(found))
    return found


def read_into(source: IO[bytes], view: memoryview) -> None:
    """Fill it; EOFError where there is less."""
    at = 0
    while at < len(view):
        got = source.readinto(view[at:])  # type: ignore[attr-defined]
        if not got:
            raise EOFError
        at += got
