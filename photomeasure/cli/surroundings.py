"""What a process may start without and needs all the same: the three standard streams, and a home folder."""

from __future__ import annotations

import os
import sys
from pathlib import Path

_STREAMS = (
    ("stdin", "r", os.O_RDONLY),
    ("stdout", "w", os.O_RDONLY),  # writing into it fails, so that an answer that nobody can get is told and no success
    ("stderr", "w", os.O_WRONLY),
)


def open_closed_streams() -> None:
    """Streams that the caller closed (`<&-`, `>&-`) are there again, as empty ones; a file opened later would get their number.

    Then whatever a decoder says on number 2 would stand in that file.
    """
    for number, (name, mode, flags) in enumerate(_STREAMS):
        if getattr(sys, name) is None:
            stream = open(_opened(number, flags), mode, encoding="utf-8", closefd=False)  # noqa: SIM115  as long as the process
            setattr(sys, name, stream)


def _opened(number: int, flags: int) -> int:
    """The null device under that number, or under another where the number has been taken since the start."""
    handle = os.open(os.devnull, flags)
    if handle == number:
        return handle
    try:
        os.fstat(number)
    except OSError:
        os.dup2(handle, number)
        os.close(handle)
        return number
    return handle


def have_a_home() -> None:
    """A user without a home folder (a number that the system does not know, HOME not set) lives at the top, as in containers.

    What is looked for in it is not there then, and what is written into it is told as any folder that may not be written.
    """
    try:
        Path.home()
    except RuntimeError:
        os.environ["HOME"] = os.sep
