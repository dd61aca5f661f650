"""Files are written beside and then renamed: a picture is whole or not there."""

from __future__ import annotations

from pathlib import Path


def write(path: Path, data: bytes) -> None:
    """Write in one step; the folder is made if it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.part")
    beside.write_bytes(data)
    beside.replace(path)
