"""Names of rigs: each names a file, on every system."""

from __future__ import annotations

import hashlib

from calib.outcome.plain_text import steers
from calib.words.said import said

MOST_BYTES = 200  # of the 255 that a file's name may have, with room for "-height-12.jpg"
EXPECTED = said(
    'a name that can name a file on every system: no / \\ : * ? " < > |, no dot in front, no dot or space at the end'
)
_FORBIDDEN = '/\\:*?"<>|'
# device names of Windows, with whatever ending (Microsoft, "Naming Files, Paths, and Namespaces")
_RESERVED = frozenset({"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in "123456789")})


def names_a_file(text: str) -> bool:
    """Whether a rig may be called so."""
    return (
        bool(text.strip())
        and not text.startswith(".")
        and not text.endswith((".", " "))
        and not any(sign in text for sign in _FORBIDDEN)
        and not steers(text)
        and text.partition(".")[0].strip().upper() not in _RESERVED
        and len(text.encode()) <= MOST_BYTES
    )


def as_file_name(text: str) -> str:
    """The name of a folder or photograph as one that a rig may have; the same wherever it may already."""
    if names_a_file(text):
        return text
    name = "".join("_" if sign in _FORBIDDEN or steers(sign) else sign for sign in text).strip().strip(".").rstrip(" .")
    if not name or name.partition(".")[0].strip().upper() in _RESERVED:
        name = f"_{name}"
    if len(name.encode()) <= MOST_BYTES:
        return name
    mark = hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:8]
    return f"{name.encode()[: MOST_BYTES - 9].decode('utf-8', 'ignore')}-{mark}"
