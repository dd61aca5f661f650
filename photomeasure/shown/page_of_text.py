"""Headings, labelled facts and lists for a person: wrapped and indented on a terminal, one item a line elsewhere.

What the output's encoding cannot hold is replaced, never an error.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from calib.outcome.plain_text import plain
from calib.words.said import shown

WIDTH = 88


class PageOfText:
    """Prints as it is told; console: where to, by default the standard output."""

    def __init__(self, console: Console | None = None) -> None:
        self._console = console or Console(highlight=False)
        self._wraps = self._console.is_terminal
        if self._wraps:
            self._console.width = min(self._console.width, WIDTH)

    def heading(self, text: str) -> None:
        self._plain(text, bold=True)

    def lines(self, lines: Iterable[str], *, indent: int = 2) -> None:
        """One sentence after another, wrapped under its own indent; leading spaces indent it further."""
        for line in map(shown, lines):
            if self._wraps:
                deep = indent + len(line) - len(line.lstrip())
                self._console.print(Padding(Text(self._safe(line.lstrip())), (0, 0, 0, deep)))
            else:
                self._plain(" " * indent + line)

    def facts(self, rows: Sequence[tuple[str, str]]) -> None:
        """Labels with their sentences."""
        self._plain("")
        if not self._wraps:
            self.lines(f"{shown(label)}: {shown(text)}" for label, text in rows)
            return
        self._console.print(Padding(self._grid(rows, gap=2, style="bold"), (0, 0, 0, 2)))

    def section(self, title: str, items: Sequence[str]) -> None:
        """A titled list; nothing where it is empty."""
        if not items:
            return
        self._plain("")
        self._plain(f"  {shown(title)}:", bold=True)
        if self._wraps:
            self._console.print(Padding(self._grid([("-", item) for item in items], gap=1), (0, 0, 0, 4)))
        else:
            self.lines((f"- {shown(item)}" for item in items), indent=4)

    def block(self, title: str, lines: Sequence[str]) -> None:
        """A titled block whose lines are kept as they are (a table of fixed width)."""
        self._plain("")
        self._plain(f"  {shown(title)}:", bold=True)
        for line in lines:
            self._plain(f"  {line}")

    def _plain(self, text: str, *, bold: bool = False) -> None:
        self._console.print(Text(self._safe(shown(text)), style="bold" if bold else ""), soft_wrap=True)

    def _grid(self, rows: Sequence[tuple[str, str]], *, gap: int, style: str = "") -> Table:
        table = Table.grid(padding=(0, gap, 0, 0))
        table.add_column(no_wrap=True)
        table.add_column(overflow="fold")
        for label, content in rows:
            table.add_row(Text(shown(label), style=style), Text(self._safe(shown(content))))
        return table

    def _safe(self, text: str) -> str:
        text = plain(text, 20_000)
        encoding = self._console.encoding
        try:
            return text.encode(encoding, "replace").decode(encoding)
        except LookupError:
            return text.encode("ascii", "replace").decode("ascii")
