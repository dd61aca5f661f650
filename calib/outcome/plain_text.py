"""Text of others (file names, cells, fields) made fit to be shown: no signs that steer a terminal, and not without end."""

from __future__ import annotations

import unicodedata
from pathlib import PurePath
from typing import Any

from calib.words.said import Said, in_one_line

MOST_SIGNS = 1500
# control signs and halves of signs (a file name that is no UTF-8), and those that turn the direction of reading
_STEERING = frozenset({"Cc", "Cs"})
_TURNING = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def steers(text: str) -> bool:
    """Whether a sign in it would steer a terminal, or hide what the text says."""
    if text.isascii() and text.isprintable():
        return False
    return any(sign in _TURNING or unicodedata.category(sign) in _STEERING for sign in text)


def plain(text: str, most: int = MOST_SIGNS) -> str:
    """The text with such signs written as \\x1b (line ends stay), cut in the middle where it is longer than `most`."""
    if len(text) > most:
        text = f"{text[: most * 2 // 3]} ... ({len(text) - most} signs left out) ... {text[-most // 3 :]}"
    if not steers(text):
        return text
    return "".join(sign if sign == "\n" or not steers(sign) else _escaped(sign) for sign in text)


def plain_sentence(text: str, most: int = MOST_SIGNS) -> str:
    """The same for a text that may know its template and values: its values are made plain, and it can still be told in
    another language unless it is too long."""
    if not isinstance(text, Said) or len(text) > most:
        return plain(text, most)
    return (
        text.with_values(**{name: _plain_value(value) for name, value in text.values.items()}) if steers(text) else text
    )


def _plain_value(value: Any) -> Any:
    if isinstance(value, tuple):
        return tuple(_plain_value(part) for part in value)
    return plain_sentence(value) if isinstance(value, str) else value


def _escaped(sign: str) -> str:
    code = ord(sign)
    return f"\\x{code - 0xDC00 if 0xDC80 <= code <= 0xDCFF else code:02x}"  # halves stand for single bytes of a name


def plain_path(path: PurePath | str) -> str:
    """A path as text that can be kept and shown, in one line."""
    return in_one_line(plain(str(path)))
