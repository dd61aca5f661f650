"""Where in a TOML text a field stands, so that an error can name its line (tomllib keeps no positions)."""

from __future__ import annotations

import re

from calib.words.said import said

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_NAME = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_KEY = re.compile(rf"^\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*=")
_TRIPLE = re.compile(r'"""|' + "'''")


def _names(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]


def _resolve(names: list[str], counts: dict[Path, int]) -> Path:
    """Names of a header as a path, with the newest element of each array of tables on the way."""
    path: Path = ()
    for name in names:
        path = (*path, name)
        if path in counts:
            path = (*path, counts[path])
    return path


def field_lines(text: str) -> dict[Path, int]:
    """1-based line of every key and table header; paths as pydantic writes them, `("bands", 1, "low_mm")`."""
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    in_string = False
    for number, line in enumerate(text.splitlines(), start=1):
        was_in_string = in_string
        if len(_TRIPLE.findall(line)) % 2:
            in_string = not in_string
        if was_in_string:
            continue
        if header := _HEADER.match(line):
            names = _names(header[2])
            if header[1] == "[[":
                array = (*_resolve(names[:-1], counts), names[-1])
                counts[array] = counts.get(array, -1) + 1
                lines.setdefault(array, number)
            table = _resolve(names, counts)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, *_names(key[1])), number)
    return lines


def line_of(text: str, path: Path) -> int | None:
    """Line of the field at `path`, or of the nearest table around it; None for a field missing at the top."""
    lines = field_lines(text)
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def line_said(text: str, path: Path) -> str:
    """ "line 12" of the field at `path`; nothing where no line is known."""
    line = line_of(text, path) if text else None
    return "" if line is None else said("line {line}", line=line)


def field_text(path: Path) -> str:
    """A path for people: `bands[2].state.laden`, counted from 1."""
    words = ""
    for part in path:
        words += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if words else part
    return words or said("the file as a whole")
