"""Numbers and matrices out of OpenCV's FileStorage text, YAML or XML, as its calibration samples write them.

A reader of our own for the few forms that camera files hold: OpenCV's crashes on some damaged files and asks for gigabytes
on others.
"""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said

MOST_VALUES = 200  # the covariance of nine numbers has 81
_SEPARATORS = re.compile(r"[,\s]+")
_COMMENT_LINE = re.compile(r"(?m)^[ \t]*#.*$")
_COMMENT_OF_XML = re.compile(r"<!--.*?-->", re.DOTALL)


class OpenCVText:
    """The text of one file. Unknown nodes are passed over; of a name that stands twice the first counts."""

    def __init__(self, text: str) -> None:
        self._is_xml = text.lstrip("\ufeff \t\r\n").startswith("<")
        self._text = (_COMMENT_OF_XML if self._is_xml else _COMMENT_LINE).sub("", text)

    def number(self, name: str) -> float | None:
        """A finite number; None where there is none of that name."""
        node = self._node(name)
        return None if node is None else _number(node.strip().strip('"'))

    def matrix(self, *names: str) -> NDArray[np.float64] | None:
        """(rows, cols), of the first of these names that is there; ValueError where it is no matrix of finite numbers."""
        for name in names:
            node = self._node(name)
            if node is not None:
                return self._matrix_in(node, name)
        return None

    def _node(self, name: str) -> str | None:
        key = re.escape(name)
        if self._is_xml:
            found = re.search(rf"<{key}(?:\s[^>]*)?>(.*?)</{key}\s*>", self._text, re.DOTALL)
        else:
            # a value, and the indented lines that belong to it
            found = re.search(rf'(?m)^"?{key}"?[ \t]*:(.*(?:\n(?:[ \t].*)?)*)', self._text)
        return None if found is None else found.group(1)

    def _matrix_in(self, node: str, name: str) -> NDArray[np.float64]:
        form = r"<{0}>(.*?)</{0}>" if self._is_xml else r"\b{0}[ \t]*:[ \t]*(\[.*?\]|[^\n]*)"
        parts = {part: re.search(form.format(part), node, re.DOTALL) for part in ("rows", "cols", "sizes", "data")}
        texts = {part: found.group(1).strip() for part, found in parts.items() if found is not None}
        if "sizes" in texts:  # OpenCV 5 writes a plain vector so
            sizes = [part for part in _SEPARATORS.split(texts["sizes"].strip("[] \t\r\n")) if part]
            texts |= dict(zip(("rows", "cols"), [*sizes, "1"][:2] if len(sizes) < 3 else (), strict=False))
        if not {"rows", "cols", "data"} <= texts.keys():
            raise ValueError(said("{name} is no matrix with rows, cols and data", name=name))
        rows, cols = (_number(texts[part]) or 0.0 for part in ("rows", "cols"))
        values = [_number(value) for value in _SEPARATORS.split(texts["data"].strip("[] \t\r\n")) if value]
        if rows * cols > MOST_VALUES or rows * cols != len(values) or rows != int(rows) or cols != int(cols):
            raise ValueError(
                said(
                    "{name} has {values} numbers for {rows:g} x {cols:g}",
                    name=name,
                    values=len(values),
                    rows=rows,
                    cols=cols,
                )
            )
        if any(value is None for value in values):
            raise ValueError(said("{name} holds what is no finite number", name=name))
        return np.array(values, dtype=np.float64).reshape(int(rows), int(cols))


def _number(text: str) -> float | None:
    if len(text) > 60:
        return None
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
