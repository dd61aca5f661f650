"""What is signed: bytes that are the same wherever the same thing is written down.

Canonical form of JSON: keys in the order of their code points, no white space, numbers as Python's shortest form that
reads back the same, text as UTF-8 (in the manner of RFC 8785, but for its form of numbers).
"""

from __future__ import annotations

import hashlib
import json
from typing import Any


def canonical(value: Any) -> bytes:
    """The canonical bytes of a JSON value. Raises ValueError for numbers that JSON does not have."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def sha256(data: bytes) -> str:
    """SHA-256 in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


class _DoubledKeyError(ValueError):
    """A key that stands twice in an object."""


def has_doubled_key(data: bytes) -> bool:
    """Whether a key stands twice in an object of a JSON file; False for what is no JSON."""
    try:
        json.loads(data, object_pairs_hook=_each_once)
    except _DoubledKeyError:
        return True
    except (ValueError, RecursionError):
        pass
    return False


def content_digest(data: bytes) -> str | None:
    """SHA-256 of what a JSON file says, however it is laid out; None where it is no JSON or a key stands twice in it."""
    try:
        return sha256(canonical(json.loads(data, object_pairs_hook=_each_once)))
    except (ValueError, RecursionError):
        return None


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object; a key that stands twice would be read one way here and another way elsewhere."""
    found = dict(pairs)
    if len(found) < len(pairs):
        raise _DoubledKeyError("a key stands twice")
    return found
