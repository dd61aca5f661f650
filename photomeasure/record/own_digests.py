"""Digests that a record holds of itself: what was typed of the case, when it was changed afterwards, shows.

Photographs tell what was measured, and nothing tells what was only typed (case, person, place, note) or written by the program
about itself (version, software). So a record is written with the SHA-256 of what it says, in two parts. They are no signature:
whoever writes new ones, or has the program do so, leaves no trace; that is what a seal is for. In neither are the moment
(`computed`: two records of the same photographs differ in nothing else) and the photographs' file names, for photographs are
moved and renamed, and each is told by its own digest.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

KEY = "digests"
_MADE_WITH = ("version", "software")
_OF_THE_MOMENT = ("computed", KEY)
_FIGURES = ".12g"  # other programs that rewrite a JSON file keep so many


def with_digests(written: Mapping[str, Any]) -> dict[str, Any]:
    """A record as JSON will have it, with its digests as they are for what it says now."""
    return {**written, KEY: digests_of(written)}


def digests_of(written: Mapping[str, Any]) -> dict[str, str]:
    """content: of all that a record says but when, where and with what it was made; made_with: of version and software."""
    photos = written.get("photos") or []
    content = {key: value for key, value in written.items() if key not in (*_MADE_WITH, *_OF_THE_MOMENT)}
    content["photos"] = [{key: value for key, value in photo.items() if key != "file"} for photo in photos]
    made_with = {key: written.get(key) for key in _MADE_WITH}
    return {"content": _digest(content), "made_with": _digest(made_with)}


def changed_parts(written: Mapping[str, Any]) -> tuple[str, ...] | None:
    """Which of both digests do not fit what stands in a record's file; None where it holds none."""
    held = written.get(KEY)
    if not isinstance(held, Mapping):
        return None
    return tuple(part for part, digest in digests_of(written).items() if held.get(part) != digest)


def _digest(value: Any) -> str:
    canonical = json.dumps(_plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode("utf-8", "surrogatepass")).hexdigest()


def _plain(value: Any) -> Any:
    """Numbers as text that does not hang on who wrote the file: 1 and 1.0 are one."""
    if isinstance(value, str | bool) or value is None:
        return value
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, int | float):
        return format(float(value), _FIGURES)
    return _plain(dict(value)) if isinstance(value, Mapping) else value
