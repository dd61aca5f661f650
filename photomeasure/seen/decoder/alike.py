"""What this process and the decoding one work out alike. The decoders are not loaded for it: most photographs are JPEG."""

from __future__ import annotations

import os
from typing import IO


def signature(file: IO[bytes]) -> list[int]:
    """What tells whether a file is the same and has not been changed meanwhile."""
    seen = os.fstat(file.fileno())
    return [seen.st_dev, seen.st_ino, seen.st_size, seen.st_mtime_ns]


def part_of(pixels: int, most: int) -> int:
    """1, 2, 4, 8: by how much a picture's sides are divided so that it has no more than so many pixels."""
    part = 1
    while pixels > most * part * part:
        part *= 2
    return part
