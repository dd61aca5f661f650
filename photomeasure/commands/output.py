"""Where a command's JSON goes: a file, or the standard output, where then nothing else goes."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

STANDARD_OUTPUT = Path("-")


def to_standard_output(path: Path | None) -> bool:
    """Whether `--json -` was typed: the JSON is all that the standard output gets."""
    return path == STANDARD_OUTPUT


def check_json(path: Path | None, kind: str, inputs: Iterable[Path] = ()) -> None:
    """Before the work: raise InputError where a document of this kind must not be written there."""
    from calib.outcome.files import check_output

    if path is not None and not to_standard_output(path):
        check_output(path, kind, inputs)


def write_json(path: Path, text: str, inputs: Iterable[Path] = ()) -> None:
    """Write a document to a file in one step, or to the standard output. Raises InputError where it cannot be written."""
    from calib.outcome.files import write_output

    if to_standard_output(path):
        sys.stdout.write(text)
        return
    write_output(path, text, inputs)
