"""Texts as cells of a table that spreadsheets open."""

from __future__ import annotations

import re

from calib.outcome.plain_text import plain

MOST_SIGNS_OF_A_CELL = 32_000  # spreadsheets hold 32,767 in a cell
_FORMULA = frozenset("=+-@\t\r")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?")


def cell_text(cell: str) -> str:
    """The cell as text of a spreadsheet: one that would be taken for a formula gets an apostrophe, a number stays one."""
    cell = plain(cell, MOST_SIGNS_OF_A_CELL)
    return f"'{cell}" if cell[:1] in _FORMULA and not _NUMBER.fullmatch(cell) else cell
