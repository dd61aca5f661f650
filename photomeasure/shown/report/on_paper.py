"""A record's sentences for paper: records that earlier versions made name options, and whoever reads a report has no command line."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from photomeasure.record.schema import Record

_SAID: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"If its centre is there, say so with --centre ([\d.]+),([\d.]+), else mark it with --centre X,Y",
     r"If its centre is at pixel (\1, \2), confirm that mark, else mark it by hand"),
    (r" with --centre(?: X,Y)?(?: \(pixels of the upright picture[^)]*\))?", " by hand in the picture"),
    (r"(?: and)? (?:pass|give) --bar-x and --bar-y(?: what a rule(?:r)? reads)?", " and state what it reads"),
    (r"Say --level-ground or --unknown-ground\.", "State whether it is."),
    (r"(?: and)? pass --ball-diameter", " and state its diameter"),
    (r"(?: and)? pass --camera", " and use its profile"),
    (r"or measure without --camera", "or measure without the profile"),
    (r" \((?:photomeasure [a-z]+|--[a-z-]+(?: [A-Z,]+)?(?:,? (?:and|or)? ?--[a-z-]+)*)\)", ""),
    (r"photomeasure ([a-z]+)\b(?! \d)", r"the program's \1"),
    (r"--([a-z]+(?:-[a-z]+)*)", lambda found: f'"{found.group(1).replace("-", " ")}"'),
)  # fmt: skip
_UNTOUCHED = frozenset({"asked", "software", "schema", "version", "photos", "rig", "computed", "photographed"})


def on_paper(record: Record) -> Record:
    """The record with sentences that name no option; figures, names and what was typed are untouched."""
    written = record.model_dump(by_alias=True, mode="json")
    told = {name: value if name in _UNTOUCHED else _told(value) for name, value in written.items()}
    return Record.model_validate(told)


def _told(value: Any) -> Any:
    if isinstance(value, str):
        for option, words in _SAID:
            value = re.sub(option, words, value)
        return value
    if isinstance(value, list):
        return [_told(item) for item in value]
    return {name: _told(item) for name, item in value.items()} if isinstance(value, dict) else value
